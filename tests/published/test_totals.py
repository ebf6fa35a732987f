"""Document totals against published invoices and the rounding laws of several places.

E cases: official example invoices of the European standard EN 16931: the UBL examples and test files that come with its
Schematron (European Commission) and with Peppol BIS Billing 3.0 (OpenPeppol), and the XRechnung test suite (KoSIT); the
file's name stands beside each.
W cases: our own, found valid by the UBL 2.1 schema and the EN 16931 Schematron.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from quotes.totals import Adjustment, DocumentLine, Totals, advance, cash_due, left_after, totals
from shop.countries.tax import profile

D = Decimal


def line(
    amount: str, category: str, percent: str, quantity: str = "1", adjustments: tuple[Adjustment, ...] = ()
) -> DocumentLine:
    return DocumentLine("line", D(quantity), D(amount), category, D(percent), adjustments=adjustments)


def invoice(lines: list[DocumentLine], adjustments: tuple[Adjustment, ...] = (), **options) -> Totals:
    return totals(lines, adjustments, currency="EUR", prices_include_tax=False, **options)


def rows(result: Totals) -> list[tuple[Decimal, Decimal]]:
    return [(row.net, row.tax) for row in result.tax_rows]


def test_e1_discount_charge_three_rates_and_a_deposit():
    """ubl-tc434-example2.xml. Its lines 1 and 3 print a net that is not price × quantity: their nets are taken."""
    fit = (Adjustment(D("12.00")), Adjustment(D("12.00"), charge=True))
    result = invoice(
        [
            line("1273.00", "S", "25", adjustments=fit),
            line("3.96", "S", "15", "-1"),
            line("4.96", "S", "15"),
            line("25.00", "E", "0", "-1"),
            line("0.75", "S", "25", "250"),
        ],
        (Adjustment(D("100.00"), False, "", "S", D(25)), Adjustment(D("100.00"), True, "Freight", "S", D(25))),
        prepaid=D("1000.00"),
    )
    assert (result.lines_total, result.allowances, result.charges) == (D("1436.50"), D("100.00"), D("100.00"))
    assert rows(result) == [(D("1460.50"), D("365.13")), (D("1.00"), D("0.15")), (D("-25.00"), D("0"))]
    assert (result.net, result.tax, result.gross) == (D("1436.50"), D("365.28"), D("1801.78"))
    assert result.payable == D("801.78")


def test_e2_percentages_on_line_and_document_and_half_prepaid():
    """ubl-tc434-example5.xml."""
    ten = Adjustment(D("100.00")), Adjustment(D("100.00"), charge=True)
    whole = {"tax_category": "S", "tax_percent": D(25)}
    result = invoice(
        [
            line("1.00", "S", "25", "1000", adjustments=ten),
            line("5.00", "S", "25", "100"),
            line("5.00", "S", "12", "500"),
        ],
        (Adjustment(D("150.00"), **whole), Adjustment(D("150.00"), charge=True, **whole)),
        prepaid=D("2337.50"),
    )
    assert (result.lines_total, result.allowances, result.charges) == (D("4000.00"), D("150.00"), D("150.00"))
    assert rows(result) == [(D("1500.00"), D("375.00")), (D("2500.00"), D("300.00"))]
    assert (result.gross, result.payable) == (D("4675.00"), D("2337.50"))


def test_e3_advance_without_tax_then_the_final_settlement():
    """BIS_Billing_30-Forskott_(ej moms).xml and its slutreglering: the advance comes off after tax on the whole job."""
    paid = invoice([line("400000", "O", "0")])
    assert (paid.tax, paid.payable) == (0, 400000)
    final = invoice([line("200000", "S", "25"), line("1000", "S", "25", "180")], prepaid=paid.payable)
    assert (final.net, final.tax, final.gross, final.payable) == (380000, 95000, 475000, 75000)


def test_e7_fully_prepaid_leaves_nothing():
    """02.03a-INVOICE_ubl.xml of the XRechnung test suite: tax 2048.4375."""
    result = invoice([line("143.75", "S", "19", "33"), line("143.75", "S", "19", "42")], prepaid=D("12829.69"))
    assert result.line_amounts == (D("4743.75"), D("6037.50"))
    assert (result.tax, result.gross, result.payable) == (D("2048.44"), D("12829.69"), 0)


def test_e8_prices_with_four_decimals_a_discount_and_an_exempt_charge():
    """02.05a-INVOICE_ubl.xml of the XRechnung test suite: lines such as 6 × 41.5645 = 249.387; tax 264.4686."""
    prices = (
        "29.95 19.95×7 16.00 32.95×10 22.95 12.95 69.95 42.95×3 41.5645×6 15 10 9.6774 3.75 7 0 0 4.564 20.0542 3.45 "
        "417.6011 1.9496"
    )
    lines = [
        line(price, "S", "19", quantity or "1") for price, _, quantity in (p.partition("×") for p in prices.split())
    ]
    result = invoice(
        lines, (Adjustment(D("920.00"), True, "", "E", D(0)), Adjustment(D("100.29"), False, "", "S", D(19)))
    )
    assert result.lines_total == D("1492.23")
    assert rows(result) == [(D("1391.94"), D("264.47")), (D("920.00"), D("0"))]
    assert (result.net, result.gross) == (D("2311.94"), D("2576.41"))


@pytest.mark.parametrize(
    ("taxed", "percent", "exempt", "tax", "gross", "rounding", "payable"),
    [
        ("593.99", "25", "50.00", "148.50", "792.49", "-0.49", "792"),
        ("463.00", "25", "0", "115.75", "578.75", "0.25", "579"),
        ("831.02", "25", "0", "207.76", "1038.78", "0.22", "1039"),
        ("707.30", "6", "0", "42.44", "749.74", "0.26", "750"),
    ],
)
def test_e9_a_total_brought_to_whole_krona(taxed, percent, exempt, tax, gross, rounding, payable):
    """Peppol BIS Billing 3 test files for Elhandel, Hyrbil, Telefoni and Taxi."""
    due = invoice([line(taxed, "S", percent), line(exempt, "E", "0")]).payable
    result = invoice([line(taxed, "S", percent), line(exempt, "E", "0")], rounding=cash_due(due, D(1)) - due)
    assert (result.tax, result.gross) == (D(tax), D(gross))
    assert (result.rounding, result.payable) == (D(rounding), D(payable))


def test_e10_a_rounding_of_one_cent():
    """01.17a of the XRechnung test suite."""
    result = invoice([line("288.79", "S", "7"), line("26.07", "S", "7")], rounding=D("0.01"))
    assert (result.net, result.tax, result.gross, result.payable) == (
        D("314.86"),
        D("22.04"),
        D("336.90"),
        D("336.91"),
    )


def test_e11_twenty_small_lines_two_rates_and_a_return():
    """ubl-tc434-example1.xml; its return line prints a positive quantity, its net is taken."""
    low = ["19.90", "9.85", "8.29", "14.46", "35.00", "35.00", "10.65", "1.55", "14.37", "8.29", "16.58", "9.95"]
    low += ["3.30", "3.90", "102.12"]
    lines = [line(amount, "S", "6") for amount in low] + [line("109.98", "S", "6", "-1")]
    lines += [line(amount, "S", "21") for amount in ("10.80", "7.60", "9.34", "18.63")]
    result = invoice(lines)
    assert rows(result) == [(D("46.37"), D("9.74")), (D("183.23"), D("10.99"))]
    assert (result.net, result.tax, result.gross) == (D("229.60"), D("20.73"), D("250.33"))


def test_e12_a_price_of_four_decimals():
    """sample-discount-price.xml: 0.1234 − 0.0022 = 0.1212 a piece."""
    result = invoice([line("0.1212", "S", "25", "100")])
    assert (result.net, result.tax, result.gross) == (D("12.12"), D("3.03"), D("15.15"))


def test_e14_hours_and_a_charge_under_reverse_charge():
    """01.21a of the XRechnung test suite: 4 hours at 62 − 10."""
    result = invoice([line("52.00", "AE", "0", "4")], (Adjustment(D("25.00"), True, "", "AE", D(0)),))
    assert (result.net, result.tax, result.payable) == (D("233.00"), 0, D("233.00"))


def workshop_invoice() -> Totals:
    return invoice(
        [
            line("48.00", "S", "23", "2.75"),
            line("31.90", "S", "23", "0.385"),
            line("7.45", "S", "23", "1.62"),
            line("24.99", "S", "23", adjustments=(Adjustment(D("2.50")),)),
            line("12.00", "Z", "0"),
        ],
        (Adjustment(D("8.96"), False, "", "S", D(23)), Adjustment(D("3.00"), True, "", "S", D(23))),
        prepaid=D("60.00"),
    )


def test_w1_a_repair_with_hours_resin_cloth_and_a_book():
    result = workshop_invoice()
    assert result.line_amounts == (D("132.00"), D("12.28"), D("12.07"), D("22.49"), D("12.00"))
    assert (result.lines_total, result.allowances, result.charges) == (D("190.84"), D("8.96"), D("3.00"))
    assert rows(result) == [(D("172.88"), D("39.76")), (D("12.00"), D("0"))]
    assert (result.net, result.gross, result.payable) == (D("184.88"), D("224.64"), D("164.64"))


def test_w2_a_taxed_deposit_and_the_remainder_by_difference():
    """60.00 × 23 / 123 = 11.2195; left 39.76 − 11.22 = 28.54, which is also 152.64 × 23 / 123 = 28.5424."""
    deposit = invoice([line("48.78", "S", "23")])
    assert (deposit.tax, deposit.payable) == (D("11.22"), D("60.00"))
    standard, zero = left_after(workshop_invoice(), [deposit])
    assert (standard.net, standard.tax, standard.gross) == (D("124.10"), D("28.54"), D("152.64"))
    assert zero.gross == D("12.00")
    repair_only = invoice([line("172.88", "S", "23")])
    assert advance(repair_only, D("60.00")).tax_rows == deposit.tax_rows


A1 = [line(amount, "S", "10") for amount in ("10.45", "7.05", "3.33", "19.99")]


def test_a1_australian_tax_is_rounded_on_the_total_or_on_every_supply():
    """A New Tax System (Goods and Services Tax) Act 1999 (Australia), section 9-90.

    Once on 4.082, or 1.05 + 0.71 + 0.33 + 2.00.
    """
    assert invoice(A1).tax == D("4.08")
    assert invoice(A1, tax_per="line").tax == D("4.09")


@pytest.mark.parametrize(("gross", "gst"), [("82.50", "7.50"), ("1000.00", "90.91"), ("1100.00", "100.00")])
def test_australian_tax_in_a_price_is_one_eleventh(gross, gst):
    """The same Act, sections 9-70 and 9-75: ten per cent of the value, so an eleventh of the price."""
    result = totals([line(gross, "S", "10")], currency="AUD", prices_include_tax=True)
    assert result.tax == D(gst)
    assert result.net == D(gross) - D(gst)


@pytest.mark.parametrize(("net", "gst"), [("2.30", "0.34"), ("3.10", "0.46"), ("0.70", "0.10"), ("10.10", "1.51")])
def test_n1_new_zealand_drops_an_exact_half_cent(net, gst):
    """Goods and Services Tax Act 1985 (New Zealand), section 19O: a fraction up to half a cent may be left out."""
    assert invoice([line(net, "S", "15")], tie=profile("nz-gst").tie).tax == D(gst)
    assert invoice([line(net, "S", "15")], tie=profile("ie-vat").tie).tax == D(gst) + D("0.01")


@pytest.mark.parametrize(("gross", "gst"), [("115.00", "15.00"), ("99.95", "13.04")])
def test_n2_new_zealand_tax_in_a_price_is_three_twenty_thirds(gross, gst):
    """The same Act, tax fraction 3/23 at fifteen per cent: 99.95 × 3 / 23 = 13.0370."""
    result = totals([line(gross, "S", "15")], currency="NZD", prices_include_tax=True, tie=profile("nz-gst").tie)
    assert result.tax == D(gst)


@pytest.mark.parametrize(
    ("gross", "percent", "vat"), [("120.00", "20", "20.00"), ("105.00", "5", "5.00"), ("60.00", "20", "10.00")]
)
def test_british_tax_in_a_price_is_a_sixth_or_a_twenty_first(gross, percent, vat):
    """HM Revenue & Customs, Calculating VAT: fractions 1/6 at 20 per cent and 1/21 at 5 per cent."""
    assert totals([line(gross, "S", percent)], currency="GBP", prices_include_tax=True).tax == D(vat)


def test_a_british_deposit_is_taxed_when_received_and_the_balance_when_paid():
    """HM Revenue & Customs, VAT Time of Supply manual, VATTOS5120, our figures: 120.00 of 600.00 with 20 per cent."""
    whole = totals([line("600.00", "S", "20")], currency="GBP", prices_include_tax=True)
    deposit = advance(whole, D("120.00"))
    assert deposit.tax == D("20.00")
    assert [row.tax for row in left_after(whole, [deposit])] == [D("80.00")]


@pytest.mark.parametrize(
    ("price", "percent", "tax"),
    [
        ("12.90", "5", "0.65"),
        ("1.30", "5", "0.07"),
        ("33.33", "8.25", "2.75"),
        ("19.99", "6", "1.20"),
        ("1.12", "4.01", "0.04"),
    ],
)
def test_r1_american_tax_is_carried_to_the_third_decimal_and_rounded_up_above_four(price, percent, tax):
    """Streamlined Sales and Use Tax Agreement, section 324, as in Rhode Island General Laws 44-18.1-25.

    0.645, 0.065, 2.749 725 and 1.1994 by hand; 1.12 × 4.01 % = 0.0449 has a four in the third place and stays 0.04.
    """
    assert invoice([line(price, "S", percent)]).tax == D(tax)


def test_r2_american_tax_by_item_or_by_invoice():
    """The same section: the seller may elect either. Three items of 0.75 at 7 %: 3 × 0.05, or 0.1575."""
    items = [line("0.75", "S", "7")] * 3
    assert invoice(items, tax_per="line").tax == D("0.15")
    assert invoice(items).tax == D("0.16")


def test_canadian_quebec_rate_with_three_decimals():
    """Our figures at the Quebec sales tax of 9.975 % (rate from memory): 49.90 × 9.975 % = 4.977525."""
    assert invoice([line("49.90", "S", "9.975")]).tax == D("4.98")
