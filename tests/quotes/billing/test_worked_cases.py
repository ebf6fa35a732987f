"""Worked cases from outside through the shop's own acts and papers: deposit, invoice, what is printed and to pay.

E cases: official example invoices of EN 16931 that come with its Schematron (European Commission) and with the
XRechnung test suite (KoSIT), by file; W case: our own, found valid by the UBL 2.1 schema and the EN 16931 Schematron.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from quotes.billing import books
from quotes.models import TaxPoint
from quotes.papers import invoice as invoice_paper
from shop.models import Customer, Profile, TaxRate
from tests.quotes.billing.test_billing import deposit, finished, issue, priced
from tests.quotes.conftest import open_shop, refusal

D = Decimal
BEGINS = {"versions": open_shop}
pytestmark = pytest.mark.usefixtures("standing")


def shop(profile: str, percent: str, *, included: bool) -> None:
    Profile.objects.update(tax_profile=profile, prices_include_tax=included)
    TaxRate.objects.filter(for_repairs=True).update(percent=D(percent))


CASES = {
    # profile, per cent, with tax in prices, price, further lines, deposit: tax with it, then net, tax, gross, to pay
    # E7, 02.03a-INVOICE_ubl.xml: 33 × 143.75 and 42 × 143.75 at 19 %, tax 2048.4375, all of it paid before.
    "E7": ("eu-vat", "19", False, "10781.25", (("Hours", "6037.50", "19"),), "12829.69", "2048.44",
           "10781.25", "2048.44", "12829.69", "0.00"),
    # E10, 01.17a of the XRechnung test suite, without its rounding of a cent: 314.86 at 7 %.
    "E10": ("eu-vat", "7", False, "314.86", (("Second", "26.07", "7"),), "", "0", "314.86", "22.04", "336.90", "336.90"),
    # W2: a deposit of 60.00 on repair work of 172.88 without tax at 23 %.
    "W2": ("ie-vat", "23", False, "172.88", (), "60.00", "11.22", "172.88", "39.76", "212.64", "152.64"),
    # HM Revenue & Customs, VAT Time of Supply manual, VATTOS5120, our figures: 120.00 of 600.00 with 20 %.
    "UK deposit": ("uk-vat", "20", True, "600.00", (), "120.00", "20.00", "500.00", "100.00", "600.00", "480.00"),
    # A New Tax System (Goods and Services Tax) Act 1999 (Australia), section 9-90, the total invoice rule: 4.082.
    "A1": ("au-gst", "10", False, "40.82", (("b", "7.05", "10"), ("c", "3.33", "10"), ("d", "19.99", "10")), "", "0",
           "40.82", "4.08", "44.90", "44.90"),
    # The same Act, sections 9-70, 9-75: an eleventh of 1,100.00; of the 110.00 taken before, 10.00.
    "AU deposit": ("au-gst", "10", True, "660.00", (), "110.00", "10.00", "600.00", "60.00", "660.00", "550.00"),
    # Goods and Services Tax Act 1985 (New Zealand), section 19O: 0.465 loses its half cent; and 99.95 × 3 / 23.
    "N1": ("nz-gst", "15", False, "3.10", (), "", "0", "3.10", "0.46", "3.56", "3.56"),
    "N2": ("nz-gst", "15", True, "99.95", (), "", "0", "86.91", "13.04", "99.95", "99.95"),
    # Streamlined Sales and Use Tax Agreement, section 324: 2.749 725, and no tax on a deposit.
    "R1": ("us-sales", "8.25", False, "33.33", (), "10.00", "0", "33.33", "2.75", "36.08", "26.08"),
}  # fmt: skip


@pytest.mark.parametrize("case", CASES)
def test_a_worked_case_through_acts_and_papers(case, versions, counter, bench):
    place, percent, included, price, lines, taken, first, net, tax, gross, payable = CASES[case]
    shop(place, percent, included=included)
    job = priced(counter, versions, price, lines=lines)
    if taken:
        receipt = deposit(job, taken, counter)
        assert sum(D(row["tax"]) for row in receipt.frozen["tax_rows"]) == D(first)
    invoice = issue(finished(job, bench), by=counter)
    assert (invoice.net, invoice.tax, invoice.gross) == (D(net), D(tax), D(gross))
    assert invoice.payable == D(payable)
    assert sum(point.tax for point in TaxPoint.objects.all()) == D(tax), "with the deposit, and not twice"
    printed = invoice_paper.context(invoice.frozen)["rows"]
    assert [str(D(row["amount"])) for row in printed[:2]] == [net, tax]
    assert (printed[-1]["words"], printed[-1]["amount"]) == ("To pay", D(payable))
    assert books.problems() == []


@pytest.mark.parametrize(
    ("place", "price", "address", "title", "no"),
    [
        # Value Added Tax Regulations 1995 (United Kingdom), regulations 14 (1) (e) and 16A: simplified up to 250.00.
        ("uk-vat", "250.00", "", "Simplified invoice", ""),
        ("uk-vat", "250.01", "1 Quay Street", "Invoice", ""),
        ("uk-vat", "250.01", "", "", "must carry its address"),
        # Directive 2006/112/EC, articles 220a and 226 (5).
        ("ie-vat", "100.01", "", "", "must carry its address"),
        # A New Tax System (Goods and Services Tax) Act 1999 (Australia), section 29-70: who buys, from 1,000 dollars.
        ("au-gst", "1000.00", "", "Tax invoice", ""),
    ],
)
def test_an_invoice_to_a_business_is_full_above_the_limit(place, price, address, title, no, versions, counter, bench):
    shop(place, "20", included=True)
    school = Customer.objects.create(name="Old Harbour Surf School", kind="trade", address=address)
    job = finished(priced(counter, versions, price, customer=school), bench)
    if no:
        assert no in refusal(lambda: issue(job, by=counter))["customer"][0]
    else:
        assert issue(job, by=counter).frozen["title"] == title


def test_a_large_invoice_in_new_zealand_says_how_the_buyer_is_reached(versions, counter, bench):
    """Goods and Services Tax Act 1985 (New Zealand), section 19E: above 1,000 dollars the name and one way to reach."""
    shop("nz-gst", "15", included=True)
    nobody = Customer.objects.create(name="Wirihana Pohatu")
    job = finished(priced(counter, versions, "1150.05", customer=nobody), bench)
    assert "how the buyer is reached" in refusal(lambda: issue(job, by=counter))["customer"][0]
    nobody.phone = "021 555 0101"
    nobody.save()
    invoice = issue(job, by=counter)
    assert invoice_paper.context(invoice.frozen)["buyer"]["contact"] == "021 555 0101"
    assert (invoice.net, invoice.tax) == (D("1000.04"), D("150.01"))
