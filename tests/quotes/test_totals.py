"""What a quote or an invoice of this shop comes to. Numbers computed by hand."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quotes.totals import Adjustment, DocumentLine, TaxRow, advance, cash_due, left_after, totals
from shop.countries import tax

D = Decimal


def line(amount: str, percent: str = "23", quantity: str = "1", **options) -> DocumentLine:
    category = "S" if D(percent) else "Z"
    return DocumentLine("work", D(quantity), D(amount), category, D(percent), **options)


def test_where_prices_include_tax_the_customer_pays_exactly_what_was_quoted():
    """485.00 at 13.5 %: 485 × 13.5 / 113.5 = 57.687 → 57.69; 485 − 57.69 = 427.31."""
    result = totals([line("485.00", "13.5")], currency="EUR", prices_include_tax=True)
    assert (result.net, result.tax, result.gross, result.payable) == (D("427.31"), D("57.69"), D("485.00"), D("485.00"))


def test_where_prices_exclude_tax_it_comes_on_top():
    """427.31 × 13.5 % = 57.68685 → 57.69."""
    result = totals([line("427.31", "13.5")], currency="EUR", prices_include_tax=False)
    assert (result.net, result.tax, result.gross) == (D("427.31"), D("57.69"), D("485.00"))


def test_each_rate_has_one_row_and_the_highest_comes_first():
    """40 + 20 at 13.5 %: 60 × 13.5 / 113.5 = 7.137; 24.60 at 23 %: 24.60 × 23 / 123 = 4.60; 5.00 at zero."""
    lines = [line("40.00", "13.5"), line("24.60"), line("5.00", "0"), line("20.00", "13.5")]
    result = totals(lines, currency="EUR", prices_include_tax=True)
    assert result.tax_rows == (
        TaxRow("S", D("23"), D("20.00"), D("4.60"), D("24.60")),
        TaxRow("S", D("13.5"), D("52.86"), D("7.14"), D("60.00")),
        TaxRow("Z", D("0"), D("5.00"), D("0.00"), D("5.00")),
    )
    assert result.gross == D("89.60")


def test_a_shop_that_is_not_registered_charges_no_tax():
    result = totals([DocumentLine("ding", D(1), D("60.00"), "O", D(0))], currency="EUR", prices_include_tax=True)
    assert (result.net, result.tax, result.gross) == (D("60.00"), D("0"), D("60.00"))
    assert not tax.profile("none").registered


def test_the_deposit_comes_off_after_tax_and_too_much_is_owed_back():
    result = totals([line("100.00")], currency="EUR", prices_include_tax=True, prepaid=D("30.00"))
    assert result.payable == D("70.00")
    assert result.tax == D("18.70")
    assert result.with_prepaid(D("120.00")).payable == D("-20.00")


def test_a_cash_total_is_brought_to_the_smallest_coin():
    assert (cash_due(D("10.02"), D("0.05")), cash_due(D("10.03"), D("0.05"))) == (D("10.00"), D("10.05"))
    up = totals([line("10.03", "10")], currency="AUD", prices_include_tax=True, rounding=D("0.02"))
    assert (up.payable, up.rounding, up.gross) == (D("10.05"), D("0.02"), D("10.03"))


def test_a_line_is_rounded_once_and_each_of_its_adjustments_by_itself():
    """3 × 0.335 = 1.005 → 1.01; less 0.005 → 0.01; plus 0.005 → 0.01."""
    adjusted = line("0.335", quantity="3", adjustments=(Adjustment(D("0.005")), Adjustment(D("0.005"), charge=True)))
    assert adjusted.amount("EUR") == D("1.01")
    assert line("12.50", quantity="300", base_quantity=D(100)).amount("EUR") == D("37.50")


def test_a_percentage_off_the_document_is_rounded_and_taxed_like_what_it_reduces():
    """5 % of 184.90 = 9.245 → 9.25; (184.90 − 9.25) × 23 / 123 = 32.845 → 32.85 (32.8451…)."""
    off = Adjustment(D("184.90") * 5 / 100, reason="Club", tax_category="S", tax_percent=D(23))
    result = totals([line("184.90")], [off], currency="EUR", prices_include_tax=True)
    assert (result.allowances, result.gross, result.tax) == (D("9.25"), D("175.65"), D("32.85"))


def turned(lines):
    """The lines of a credit note: what was charged, returned."""
    return [replace(line, quantity=-line.quantity, adjustments=tuple(map(less, line.adjustments))) for line in lines]


def less(adjustment: Adjustment) -> Adjustment:
    return replace(adjustment, amount=-adjustment.amount)


def test_a_credit_note_is_exactly_what_was_invoiced_with_the_sign_turned():
    """A return line, an allowance and an exact half cent of tax (0.345) all come back as they went out."""
    lines = (line("2.30", "15"), line("9.99", "15", "-1"), line("7.77", "0", adjustments=(Adjustment(D("0.50")),)))
    charges = (Adjustment(D("1.05"), True, "Freight", "S", D(15)),)
    for inclusive in (True, False):
        for tie in ("half_up", "half_down"):
            there = totals(lines, charges, currency="NZD", prices_include_tax=inclusive, tie=tie)
            back = totals(turned(lines), map(less, charges), currency="NZD", prices_include_tax=inclusive, tie=tie)
            assert (back.net, back.tax, back.gross) == (-there.net, -there.tax, -there.gross)
            assert back.charges == -there.charges


def test_an_advance_is_taxed_and_the_rest_is_taken_by_difference():
    """60.00 of 485.00 at 13.5 %: 60 × 13.5 / 113.5 = 7.137 → 7.14; left 57.69 − 7.14 = 50.55 of 425.00."""
    whole = totals([line("485.00", "13.5")], currency="EUR", prices_include_tax=True)
    first = advance(whole, D("60.00"))
    assert (first.net, first.tax, first.gross) == (D("52.86"), D("7.14"), D("60.00"))
    assert left_after(whole, [first]) == (TaxRow("S", D("13.5"), D("374.45"), D("50.55"), D("425.00")),)
    last = advance(whole, D("425.00"), [first])
    assert last.tax == D("50.55")
    assert all(row.gross == row.tax == row.net == 0 for row in left_after(whole, [first, last]))


def test_an_advance_is_spread_over_the_rates_by_what_is_left_at_each():
    """100.00 of 300 at 13.5 % and 100 at 23 %: 75.00 and 25.00."""
    whole = totals([line("300.00", "13.5"), line("100.00")], currency="EUR", prices_include_tax=True)
    assert [row.gross for row in advance(whole, D("100.00")).tax_rows] == [D("25.00"), D("75.00")]
    with pytest.raises(ValueError, match=r"at most 400\.00; 400\.01 is not"):
        advance(whole, D("400.01"))
    with pytest.raises(ValueError, match="above zero"):
        advance(whole, D(0))


def test_a_snapshot_holds_text_and_no_float():
    result = totals([line("485.00", "13.5")], currency="EUR", prices_include_tax=True, prepaid=D("60"))
    assert result.as_dict() == {
        "currency": "EUR",
        "prices_include_tax": True,
        "line_amounts": ["485.00"],
        "tax_rows": [{"category": "S", "percent": "13.5", "net": "427.31", "tax": "57.69", "gross": "485.00"}],
        "lines_total": "485.00",
        "allowances": "0.00",
        "charges": "0.00",
        "net": "427.31",
        "tax": "57.69",
        "gross": "485.00",
        "prepaid": "60.00",
        "rounding": "0.00",
        "payable": "425.00",
        "tie": "half_up",
        "tax_per": "document",
    }
    empty = totals([], currency="JPY", prices_include_tax=True)
    assert empty.as_dict()["payable"] == "0"


def test_slips_are_refused():
    with pytest.raises(TypeError, match="unit_price must be a Decimal"):
        DocumentLine("work", D(1), 48.0, "S", D(23))  # type: ignore[arg-type]
    with pytest.raises(TypeError, match="Decimal"):
        totals([], currency="EUR", prices_include_tax=True, prepaid=1.5)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match="must not be below zero"):
        line("-1.00")
    for category, percent in (("S", "0"), ("Z", "23"), ("X", "0"), ("", "0")):
        with pytest.raises(ValueError, match="Tax category"):
            DocumentLine("work", D(1), D(1), category, D(percent))
    with pytest.raises(ValueError, match="“Club” needs a tax category"):
        totals([line("1")], [Adjustment(D(1), reason="Club")], currency="EUR", prices_include_tax=True)


rates = st.sampled_from(["0", "5", "6", "9.975", "13.5", "15", "23"])
prices = st.decimals(0, 5000, places=4)
quantities = st.decimals(-20, 20, places=3)
some_lines = st.lists(st.builds(lambda p, r, q: line(str(p), r, str(q)), prices, rates, quantities), max_size=12)


@given(some_lines, st.booleans(), st.sampled_from(["document", "line"]), st.sampled_from(["half_up", "half_down"]))
def test_net_and_tax_always_make_the_gross_and_a_credit_is_always_the_negative(lines, inclusive, tax_per, tie):
    settings = {"currency": "EUR", "prices_include_tax": inclusive, "tie": tie, "tax_per": tax_per}
    there, back = totals(lines, **settings), totals(turned(lines), **settings)
    assert there.net + there.tax == there.gross
    assert sum(there.line_amounts) == (there.gross if inclusive else there.net)
    assert back.gross == -there.gross
    assert back.tax == -there.tax


@given(st.lists(st.decimals("0.01", 900, places=2), min_size=1, max_size=5), st.data())
def test_taxed_advances_and_the_rest_always_add_up_to_the_whole(amounts, data):
    lines = [line(str(a), data.draw(rates)) for a in amounts]
    whole = totals(lines, currency="EUR", prices_include_tax=True)
    first = advance(whole, data.draw(st.decimals("0.01", whole.gross, places=2)))
    rest = left_after(whole, [first])
    assert first.tax + sum(row.tax for row in rest) == whole.tax
    assert first.gross + sum(row.gross for row in rest) == whole.gross
    assert all(row.gross >= 0 for row in rest)


def test_a_small_invoice_may_be_simplified_and_a_large_one_names_its_buyer():
    uk, au, nothing = tax.profile("uk-vat"), tax.profile("au-gst"), tax.profile("none")
    assert uk.may_be_simplified(D("250.00"))
    assert not uk.may_be_simplified(D("250.01"))
    assert uk.needs_buyer(D("250.01"))
    assert not au.needs_buyer(D("999.99"))
    assert au.needs_buyer(D("1000.00"))
    assert not nothing.needs_buyer(D("100000"))


def test_a_full_invoice_to_a_business_has_its_address_and_a_large_one_in_new_zealand_a_way_to_reach_the_buyer():
    # Value Added Tax Regulations 1995 (United Kingdom), regulations 14 (1) (e) and 16A; Goods and Services Tax Act 1985
    # (New Zealand), section 19E.
    uk, nz, us = tax.profile("uk-vat"), tax.profile("nz-gst"), tax.profile("us-sales")

    def lacks(profile, gross: str, *, trade: bool = False, address: str = "", contact: str = "") -> str:
        return profile.lacks_of(D(gross), trade=trade, address=address, contact=contact)

    assert lacks(uk, "250.01", trade=True) == "address"
    assert lacks(uk, "250.00", trade=True) == lacks(uk, "250.01") == lacks(uk, "250.01", trade=True, address="1") == ""
    assert lacks(nz, "1000.01") == "contact"
    assert lacks(nz, "1000.01", contact="021") == lacks(nz, "1000.00") == lacks(us, "5000", trade=True) == ""
    assert not nz.may_be_simplified(D("1.00"))


def test_every_tax_profile_can_be_chosen_and_offers_rates_that_totals_take():
    assert [key for key, _ in tax.CHOICES] == ["none", "ie-vat", "eu-vat", "uk-vat", "au-gst", "nz-gst", "us-sales"]
    for key, name in tax.CHOICES:
        profile = tax.profile(key)
        assert profile.name == name
        assert profile.source
        assert profile.registered is (key != "none")
        for rate in profile.rates:
            totals(
                [DocumentLine(rate.name, D(1), D(1), rate.category, rate.percent)],
                currency="EUR",
                prices_include_tax=True,
            )
    with pytest.raises(ValueError, match="xx is not a tax profile"):
        tax.profile("xx")
