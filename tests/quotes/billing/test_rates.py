"""A rate that changes between the yes and the end of the work: asked at issue; what a deposit was taxed at stays."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from inventory.models import Material
from quotes import billing
from quotes.billing import books
from quotes.billing.rates import rate_changes
from quotes.billing.two_thirds import goods_rate_of, of_way
from quotes.models import Invoice, Job, StepUse
from shop.models import Profile, TaxRate
from shop.platform.acts import Signed
from tests.conftest import TODAY
from tests.quotes.bench.test_bench_pages import post, summary
from tests.quotes.billing.test_billing import LATER, deposit, finished, priced
from tests.quotes.billing.test_tax_points import tax_of, taxes
from tests.quotes.conftest import open_shop, refusal
from tests.reading import says

D = Decimal
CHANGES = TODAY + timedelta(days=7)  # two days before the work is done

BEGINS = {"versions": open_shop}
pytestmark = pytest.mark.usefixtures("standing")


@pytest.fixture
def lower(versions):
    """Repairs are taxed at 13.5 % until the work is nearly done, then at 9 %."""
    old = TaxRate.objects.get(for_repairs=True)
    old.to_day = CHANGES - timedelta(days=1)
    old.save()
    return TaxRate.objects.create(name=old.name, percent=D(9), from_day=CHANGES, for_repairs=True)


def issued(job: Job, by, rates: str = "") -> Invoice:
    return billing.issue_invoice(jobs=[job], rates=rates, signed=Signed(by, LATER))


def test_it_is_asked_and_the_invoice_takes_what_was_said(lower, versions, counter, bench):
    # Directive 2006/112/EC, article 93: the rate is that of the day the tax falls due. 300.00 at 9 % holds 24.77
    # (24.771), at 13.5 % 35.68 (35.683).
    jobs = [finished(priced(counter, versions, "300.00"), bench) for _ in range(2)]
    said = refusal(lambda: issued(jobs[0], counter))["rates"][0]
    assert said.startswith("13.5 % is 9 % since ")
    assert "Say which" in said
    assert Invoice.objects.count() == 0
    new, old = issued(jobs[0], counter, "in_force"), issued(jobs[1], counter, "agreed")
    assert (new.gross, new.tax, old.gross, old.tax) == (300, D("24.77"), 300, D("35.68"))
    assert books.problems() == []


def test_a_deposit_keeps_the_rate_of_its_day(lower, versions, counter, bench):
    # Article 65: 100.00 were taxed when they came, 11.89 at 13.5 %; the other 200.00 hold 16.51 (16.514) at 9 %.
    job = priced(counter, versions, "300.00")
    deposit(job, "100.00", counter)
    invoice = issued(finished(job, bench), counter, "in_force")
    assert [(line.amount, line.tax_percent) for line in invoice.lines.all()] == [(100, D("13.5")), (200, D(9))]
    assert taxes(invoice) == [("sale", D(0)), ("sale", D("16.51"))]
    assert (invoice.gross, invoice.payable, tax_of(), books.problems()) == (300, 200, D("28.40"), [])


def test_where_prices_go_without_tax_the_new_tax_comes_on_top(lower, versions, counter, bench):
    Profile.objects.update(prices_include_tax=False)
    job = priced(counter, versions, "300.00", lines=(("Fin set", "60.00", "23"),))
    invoice = issued(finished(job, bench), counter, "in_force")
    assert [(row["percent"], row["tax"]) for row in invoice.frozen["totals"]["tax_rows"]] == [
        ("23", "13.80"),
        ("9", "21.60"),
    ]
    assert books.problems() == []


def test_nothing_is_asked_where_no_rate_ended_before_the_work_did(lower, versions, counter, bench):
    lower.from_day += timedelta(days=30)
    lower.save()
    TaxRate.objects.filter(percent=D("13.5")).update(to_day=lower.from_day - timedelta(days=1))
    job = finished(priced(counter, versions, "300.00"), bench)
    assert rate_changes([job], Profile.objects.get()) == []
    assert issued(job, counter).tax == D("35.68")


def test_the_page_asks_and_keeps_what_was_picked(lower, versions, counter, bench, counter_client, form_key):
    job = finished(priced(counter, versions, "300.00"), bench)
    for page in (f"/job/{job.pk}/pick-up/", f"/job/{job.pk}/invoice/"):
        assert "13.5 % is 9 % since" in says(counter_client.get(page))
    answer = post(counter_client, form_key, f"/job/{job.pk}/invoice/")
    assert "Rates of tax" in summary(answer)[0]
    assert Invoice.objects.count() == 0
    answer = post(counter_client, form_key, f"/job/{job.pk}/invoice/", rates="in_force")
    assert answer["Location"] == f"/job/{job.pk}/pick-up/"
    assert Invoice.objects.get().tax == D("24.77")


# Value-Added Tax Consolidation Act 2010 (Ireland), section 41, as told by Chartered Accountants Ireland: for 300.00
# without tax of which goods cost the shop 220.00, more than 200.00, all is taxed at their rate: 69.00 at 23 %.


@pytest.fixture
def costly(versions, counter, bench) -> Job:
    """A finished job of 300.00 without tax, on which one material of 200.00 was used."""
    Profile.objects.update(prices_include_tax=False)
    job = finished(priced(counter, versions, "300.00"), bench)
    step, material = job.steps.order_by("pk").first(), Material.objects.order_by("pk").first()
    StepUse.objects.update(cost=D(0))
    StepUse.objects.create(step=step, material=material, used=D(1), cost=D(200), at=LATER, by=counter)
    return job


def wrong() -> list[str]:
    """What the books say, but of the use above, which took nothing off the shelf."""
    return [said for said in books.problems() if "its movements make" not in said]


def test_at_two_thirds_exactly_nothing_is_asked(costly, counter):
    assert issued(costly, counter).tax == D("40.50")


def test_above_two_thirds_it_is_asked_with_both_figures(costly, counter, counter_client):
    StepUse.objects.filter(cost__gt=0).update(cost=D(220))
    said = refusal(lambda: issued(costly, counter))["rates"][0]
    assert "materials cost €220.00, more than two thirds of €300.00 without tax: 23 % is for all of it" in said
    assert "materials cost €220.00" in says(counter_client.get(f"/job/{costly.pk}/pick-up/"))
    invoice = issued(costly, counter, "in_force")
    assert (invoice.net, invoice.tax, wrong()) == (300, D("69.00"), [])


def test_then_a_deposits_tax_is_put_right_too(versions, costly, counter, bench):
    StepUse.objects.filter(cost__gt=0).update(cost=D(220))
    deposit(costly, "113.50", counter, at=LATER)
    invoice = issued(costly, counter, "in_force")
    assert taxes(invoice) == [("sale", D("69.00")), ("sale", D("-13.50"))]
    assert (tax_of(), wrong()) == (D("69.00"), [])


def test_elsewhere_nobody_asks_and_a_way_of_mostly_goods_says_so_here(costly, counter):
    StepUse.objects.filter(cost__gt=0).update(cost=D(220))
    profile = Profile.objects.get()
    rate = goods_rate_of(profile, TaxRate.objects.on(TODAY))
    assert rate == ("S", D(23))
    way = costly.way
    assert of_way(way, rate) is None
    for row in way.totals["document"]["tax_rows"]:
        row["net"] = "0.10"
    assert "more than two thirds of €0.10 without tax: 23 % is for all of it" in of_way(way, rate).words(profile)
    profile.tax_profile = "uk-vat"
    profile.save()
    assert goods_rate_of(profile, TaxRate.objects.on(TODAY)) is None
    assert issued(costly, counter).tax == D("40.50")
