"""A deposit that is kept: a paper, a number, its tax as the place has it, and the rest goes back."""

from __future__ import annotations

from decimal import Decimal

import pytest

from quotes import bench as b
from quotes import billing
from quotes.billing import books
from quotes.models import Invoice, Job, Payment
from shop.models import Profile
from shop.platform.acts import Signed
from tests.quotes.bench.test_bench_pages import post, summary
from tests.quotes.billing.auditor import audited
from tests.quotes.billing.test_billing import LATER, deposit, finished, priced
from tests.quotes.billing.test_paying_back import back, credit
from tests.quotes.billing.test_tax_points import tax_of, taxes
from tests.quotes.conftest import open_shop, refusal
from tests.reading import says

D = Decimal


def with_called_off() -> dict:
    """360.00 at two rates, 120.00 taken with 3.74 and 11.89 of tax, and stopped before anything was done."""
    made = open_shop()
    job = priced(made["counter"], made["versions"], "360.00", lines=(("Fin set", "60.00", "23"),))
    deposit(job, "120.00", made["counter"])
    b.stop_job(job=job, amount=D(0), how="by phone", signed=Signed(made["counter"], LATER))
    return {**made, "called_off": Job.objects.get(pk=job.pk)}


@pytest.fixture
def called_off(begun) -> Job:
    return begun("called_off")


BEGINS = {"called_off": with_called_off, "versions": open_shop}
pytestmark = pytest.mark.usefixtures("standing")


def keep(job: Job, amount: str, by, reason: str = "called off the day before") -> Invoice:
    return billing.keep_deposit(job=job, amount=D(amount), reason=reason, signed=Signed(by, LATER))


def test_a_kept_deposit_keeps_its_tax_in_ireland(called_off, counter):
    # Since 2022 tax stays due on a deposit that is kept: Chartered Accountants Ireland, news of November 2021.
    invoice = keep(called_off, "120.00", counter)
    assert [(line.words, line.amount, line.tax_percent) for line in invoice.lines.all()] == [
        ("Deposit kept: called off the day before", D(20), D(23)),
        ("Deposit kept: called off the day before", D(100), D("13.5")),
    ]
    assert (invoice.tax, invoice.payable, taxes(invoice)) == (D("15.63"), 0, [("kept", D(0)), ("kept", D(0))])
    assert (tax_of(), books.problems()) == (D("15.63"), [])
    assert invoice.frozen["supplied_on"] is None, "no work was done"
    b.pick_up(job=called_off, signed=Signed(counter, LATER))
    assert audited().accounts["customer"] == audited().accounts["clearing"] == 0


def test_half_is_kept_and_the_rest_goes_back(called_off, counter):
    # 60.00 are kept: 10.00 at 23 % holding 1.87 and 50.00 at 13.5 % holding 5.95 (5.947).
    invoice = keep(called_off, "60.00", counter)
    assert [point.tax for point in invoice.tax_points.all()] == [D("1.87") - D("3.74"), D("5.95") - D("11.89")]
    assert billing.balance(invoice) == -60
    back(counter, "60.00", invoice=invoice)
    assert (tax_of(), books.problems()) == (D("7.82"), [])
    credit(invoice, counter)
    assert (tax_of(), billing.on_account(called_off), books.problems()) == (D("7.81"), 60, [])


def test_where_it_is_compensation_the_deposits_tax_goes_back(called_off, counter):
    # Court of Justice, C-277/05, from memory: outside the scope of the tax.
    Profile.objects.update(tax_profile="eu-vat")
    invoice = keep(called_off, "120.00", counter)
    assert (invoice.lines.get().tax_category, invoice.tax, tax_of()) == ("O", 0, 0)
    assert sorted(point.tax for point in invoice.tax_points.all()) == [D("-11.89"), D("-3.74"), 0]
    assert books.problems() == []


def test_a_deposit_is_kept_only_where_nothing_is_charged(called_off, versions, counter, bench):
    def no(job: Job, amount: str = "50.00", reason: str = "called off") -> dict[str, list[str]]:
        return refusal(lambda: keep(job, amount, counter, reason))

    assert "Why is empty" in no(called_off, reason=" ")["reason"][0]
    assert "above zero" in no(called_off, "0")["amount"][0]
    assert "above zero" in no(called_off, "1.005")["amount"][0]
    assert "Only 120.00 is held" in no(called_off, "120.01")["amount"][0]
    job = priced(counter, versions, "90.00")
    assert "not finished" in no(job)["__all__"][0]
    assert "This job is charged" in no(finished(job, bench))["__all__"][0]
    invoice = keep(called_off, "120.00", counter)
    assert f"on invoice {invoice.number}" in no(called_off)["__all__"][0]
    assert Invoice.objects.count() == 1


def test_the_deposit_is_kept_from_the_page_once(called_off, counter_client, form_key):
    page = f"/job/{called_off.pk}/keep-deposit/"
    assert page in says(counter_client.get(f"/job/{called_off.pk}/pick-up/"))
    answer = post(counter_client, form_key, page, amount="500", reason="called off")
    assert "Only 120.00 is held" in summary(answer)[0]
    assert 'value="500"' in says(answer)
    tapped = {"submission_key": form_key(), "amount": "70", "reason": "called off"}
    for _ in range(2):
        answer = counter_client.post(page, tapped)
        assert answer["Location"] == f"/job/{called_off.pk}/pick-up/"
    assert "€50.00 is to be paid back" in says(counter_client.get(answer["Location"]))
    assert (Invoice.objects.count(), Payment.objects.count()) == (1, 1)
