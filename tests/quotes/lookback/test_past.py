"""Looking back: what jobs took against what was quoted, by operation and material, by recipe, and over all."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from math import fsum

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.models import Material, PackPrice
from quotes import bench as b
from quotes import billing, experience, quoting
from quotes import lookback as book
from quotes.costing.learning.coverage import coverage
from quotes.estimating import construction, estimate
from quotes.lookback.past import CARRIED
from quotes.models import Experience, Job, StepTime, TakeIn
from shop.models import Profile
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.benches import all_ticked, step_of, work_through
from tests.quotes.billing.test_billing import quick
from tests.quotes.conftest import take_in
from tests.quotes.experience.test_experience import redone_once
from tests.quotes.past import DING, ODD, finished_jobs
from tests.reading import says

D = Decimal


def made(counter, versions, key="fin-box", measures=None) -> Job:
    takein = take_in(counter)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    measures = measures or {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}
    way = quoting.add_way(
        board=quote.boards.get(), version=versions[key], measures=measures, signed=Signed(counter, NOW)
    )
    quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    return b.accept_way(way=way, signed=Signed(counter, NOW), how="at the counter")


def ended(job: Job, by, at) -> Job:
    return b.finish_job(job=job, checks=all_ticked(job), signed=Signed(by, at + timedelta(hours=1)))


def looked(*jobs: Job) -> list[book.Past]:
    return book.looked_back(list(book.ended().filter(pk__in=[job.pk for job in jobs])))


@pytest.fixture
def box(versions, stocked, counter, bench):
    """A fin box put in as planned, but for two minutes more on every step."""
    job = made(counter, versions)
    at = work_through(job, bench)
    for time in StepTime.objects.filter(step__job=job):
        b.correct_minutes(time=time, minutes=time.minutes + 2, signed=Signed(bench, at))
    return ended(job, bench, at)


def test_rows_add_up_to_the_jobs_own_truth(box):
    [past] = looked(box)
    truth = billing.job_truth(box)
    rows = book.compared(past)
    assert past.truth == truth
    assert fsum(row.quoted_cost for row in rows) == pytest.approx(float(truth.quoted_cost), abs=0.006)
    assert fsum(row.real_cost for row in rows) == pytest.approx(float(truth.real_cost), abs=0.006)
    by_name = {(row.operation, row.name): row for row in rows}
    assert by_name["", "Overheads"].real_qty == pytest.approx(float(truth.real.minutes))
    assert all(row.quoted_qty or row.real_qty for row in rows)


def test_variances_add_up_to_what_it_cost_more(box, bench):
    step = step_of(box, "pour-foam") if box.steps.filter(operation="pour-foam").exists() else box.steps.first()
    cloth = Material.objects.filter(unit="m2").first()
    b.record_use(step=step, material=cloth, quantity=D("0.25"), signed=Signed(bench, NOW))
    [past] = looked(box)
    rows = book.compared(past)
    total = fsum(row.variance.total for row in rows)
    assert total == pytest.approx(float(past.truth.all_real.cost) - fsum(row.quoted_cost for row in rows))
    more = next(row for row in rows if row.name == cloth.name and not row.quoted_qty)
    assert more.quoted_price is None
    assert more.variance.price == 0
    assert more.variance.quantity == pytest.approx(more.real_cost)
    assert more.real_cost > 0


def test_minutes_vary_by_time_and_by_rate(versions, stocked, counter, bench):
    # 22.00 an hour was quoted; half as long again on one step is time alone, at the quoted rate.
    job = made(counter, versions)
    step = job.steps.order_by("position").first()
    planned = b.planned_minutes(step)
    b.finish_step(step=step, minutes=planned + 30, signed=Signed(bench, NOW))
    ended(job, bench, work_through(job, bench, start=NOW))
    [past] = looked(job)
    row = next(row for row in book.compared(past) if row.name == "Hands" and row.real_qty > row.quoted_qty + 20)
    assert row.variance.price == pytest.approx(0.0, abs=1e-9)
    assert row.variance.quantity == pytest.approx((row.real_qty - row.quoted_qty) * 22 / 60)


def test_what_is_done_again_stands_apart_and_is_left_out_of_the_range(box, bench):
    [before] = looked(box)
    step = box.steps.exclude(operation="release").order_by("position").last()
    again = b.redo_step(
        step=step, cause="ours", billed=False, reason="fish eyes", signed=Signed(bench, NOW + timedelta(days=9))
    )
    b.finish_step(step=again, minutes=D(90), signed=Signed(bench, NOW + timedelta(days=10)))
    ended(Job.objects.get(pk=box.pk), bench, NOW + timedelta(days=11))
    [past] = looked(box)
    rows = [row for row in book.compared(past) if row.again]
    assert rows
    assert all(row.quoted_qty == 0 for row in rows)
    assert past.real_first == pytest.approx(before.real_first)
    assert book.overall([past]).again == pytest.approx(fsum(row.real_cost for row in rows))


def test_a_comeback_counts_against_its_first_job_and_does_not_stand_for_itself(box, versions, counter, bench):
    TakeIn.objects.update(gone_at=NOW + timedelta(days=8))
    takein = take_in(counter, board=box.takein.board, brought_by=box.takein.brought_by)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], signed=Signed(counter, NOW), measures={"length": "50 mm", "around": "40 mm", "depth": "10 mm"},
    )  # fmt: skip
    back = b.accept_way(
        way=way,
        signed=Signed(counter, NOW),
        how="at the counter",
        spoken=True,
        comeback_of=box,
        cause="ours",
        billed=False,
    )
    ended(back, bench, work_through(back, bench))
    assert [job.pk for job in book.ended()] == [box.pk]
    [past] = looked(box)
    row = next(row for row in book.compared(past) if row.name == "Comebacks")
    assert row.real_cost == pytest.approx(float(billing.job_truth(back).real.cost), abs=0.01)
    assert book.overall([past]).minutes > float(past.truth.real.minutes)


def test_the_range_is_that_of_the_stored_quote(box):
    [past] = looked(box)
    low, middle, high = past.said
    assert low < middle < high
    assert past.held is True
    assert low < past.real_first < high


def test_minutes_left_as_planned_say_nothing_about_the_range(versions, stocked, counter, bench):
    job = made(counter, versions)
    ended(job, bench, work_through(job, bench))
    [past] = looked(job)
    assert (past.said, past.held) == (None, None)
    assert book.overall([past]).ranges.jobs == 0


def test_a_job_that_nobody_timed_does_not_make_quotes_look_closer(box, versions, counter, bench, keeper_client):
    alone = book.overall(looked(box))
    job = made(counter, versions)
    ended(job, bench, work_through(job, bench))
    both = book.overall(looked(box, job))
    assert (both.jobs, both.judged) == (2, 1)
    assert both.off == alone.off > 0
    assert looked(job)[0].off_percent is None
    assert "not timed" in says(keeper_client.get(reverse("learned")))


# --- expected today ---------------------------------------------------------------------------------------------------


@pytest.fixture
def taught(versions, keeper):
    """Five dings that took half as long again as the trade says, and the first of them looked back on."""
    PackPrice.objects.update(from_day=date(NOW.year, 1, 1))
    seed.receive_stock(by=keeper, at=NOW - timedelta(days=90))
    jobs = finished_jobs(versions["ding-deck-small"], keeper, 5, minutes=1.5, resin=1.2, spread=0.05)
    return looked(jobs[0])[0]


def test_before_anything_is_learned_expected_is_as_quoted(box):
    Experience.objects.all().delete()
    [past] = looked(box)
    for row in book.compared(past):
        assert row.expected_qty == pytest.approx(row.quoted_qty)
        assert row.expected_cost == pytest.approx(row.quoted_cost)
    assert past.expected_cost == pytest.approx(float(past.truth.quoted_cost), abs=0.006)
    assert past.likely == pytest.approx((past.said[0], past.said[2]))


def test_expected_is_what_the_same_measures_would_be_quoted_at_now(taught):
    part = taught.job.way.parts.get()
    board = construction(taught.job.takein)
    now = estimate(version=part.recipe_version, measures=DING, day=TODAY, board=board, accepted_odd=ODD).snapshot()
    for said, line in zip(taught.lines_now, now.lines, strict=True):
        if said.need != line.need:
            assert line.material == "wax-styrene"  # goes by the planned mix, which stays as quoted
            continue
        assert said.use == pytest.approx(line.use), line.name
    assert taught.expected_cost == pytest.approx(float(now.cost), abs=0.02)
    assert taught.expected_cost > 1.1 * float(taught.truth.quoted_cost)
    assert abs(taught.expected_cost - taught.real_first) < abs(float(taught.truth.quoted_cost) - taught.real_first)
    low, high = taught.likely
    assert low < taught.expected_cost < high


def test_a_row_says_between_what_its_use_is_likely_to_lie(taught):
    rows = {(row.operation, row.name): row for row in book.compared(taught)}
    hands = [row for row in rows.values() if row.name == "Hands" and row.quoted_qty]
    assert hands
    for row in hands:
        low, high = row.likely
        assert low < row.expected_qty < high
        more = row.expected_qty / row.quoted_qty
        # Nobody timed the release check: it is dearer only by what all of a shop's work has in common.
        assert 1.05 < more < 1.25 if row.operation == "Release check" else more > 1.3
    overheads = rows["", "Overheads"]
    assert overheads.likely[1] - overheads.likely[0] < fsum(row.likely[1] - row.likely[0] for row in hands)
    assert overheads.expected_qty == pytest.approx(fsum(row.expected_qty for row in hands))


def test_what_a_price_carried_for_work_done_again_is_a_row_of_its_own(versions, keeper):
    PackPrice.objects.update(from_day=date(NOW.year, 1, 1))
    seed.receive_stock(by=keeper, at=NOW - timedelta(days=90))
    redone_once(versions["ding-deck-small"], keeper)
    Profile.objects.update(carries_again=True)
    [job] = finished_jobs(versions["ding-deck-small"], keeper, 1, spread=0.0)
    [past] = looked(job)
    kept = [one for part in job.way.parts.all() for one in part.snapshot["again"]]
    rows = [row for row in book.compared(past) if row.name == "Carried for doing it again"]
    assert sorted(row.quoted_cost for row in rows) == pytest.approx(sorted(one["cost"] for one in kept))
    assert kept
    assert all(row.again and row.real_qty == 0 and row.expected_cost > 0 for row in rows)
    assert fsum(row.quoted_cost for row in book.compared(past)) == pytest.approx(
        float(past.truth.quoted_cost), abs=0.006
    )
    now = experience.again_of("fill").carried
    [fill] = [row for row in past.expected if (row.operation, row.material) == ("fill", CARRIED)]
    own = [x for x in past.lines_now if x.operation == "fill" and x.kind != "consumable"]
    assert fill.cost == pytest.approx(now * fsum(line.cost for line in own))


def test_recipes_share_what_their_jobs_brought(versions, stocked, counter, bench):
    jobs = []
    for key, measures in (
        ("fin-box", None),
        ("ding-rail-small", {"length": "50 mm", "around": "40 mm", "depth": "10"}),
    ):
        job = made(counter, versions, key, measures)
        jobs.append(ended(job, bench, work_through(job, bench)))
    past = looked(*jobs)
    found = book.overall(past)
    assert {kind.name for kind in found.kinds} == {name for one in past for name in one.kinds}
    assert fsum(kind.net for kind in found.kinds) == pytest.approx(found.net)
    assert fsum(kind.cost for kind in found.kinds) == pytest.approx(found.cost)
    assert fsum(kind.minutes for kind in found.kinds) == pytest.approx(found.minutes)
    assert [kind.per_hour for kind in found.kinds] == sorted(kind.per_hour for kind in found.kinds)
    single = next(kind for kind in found.kinds if kind.name in past[0].kinds)
    assert single.per_hour == pytest.approx(float(past[0].truth.earned_per_hour), abs=0.006)


def test_jobs_without_minutes_say_nothing_about_an_hour(versions, stocked, counter, bench, keeper_client):
    timed = quick(versions["ding-rail-small"], counter, minutes=D(20)).job
    alone = book.overall(looked(timed))
    untimed = quick(versions["ding-rail-small"], counter).job
    past = sorted(looked(timed, untimed), key=lambda one: one.job.pk)
    both = book.overall(past)
    assert (both.jobs, both.timed, both.untimed) == (2, 1, 1)
    assert (
        both.per_hour == pytest.approx(alone.per_hour) == pytest.approx(float(past[0].truth.earned_per_hour), abs=0.01)
    )
    [kind] = both.kinds
    assert kind.jobs == 2
    assert kind.per_hour == pytest.approx(alone.per_hour)
    assert kind.net == pytest.approx(both.net) == pytest.approx(2 * alone.net)
    assert past[0].noted
    assert not past[1].noted
    page = says(keeper_client.get("/learned/"))
    assert "1 job without minutes left out" in page
    page = says(keeper_client.get(f"/job/{untimed.pk}/"))
    assert "not written down" in page
    assert "An hour earned</dt><dd>not known" in page


def test_the_number_of_queries_does_not_grow_with_jobs(versions, stocked, counter, bench):
    counts = []
    for _ in range(2):
        job = made(counter, versions)
        ended(job, bench, work_through(job, bench))
        with CaptureQueriesContext(
            connection,
        ) as asked:
            looked(job) if not counts else book.looked_back(list(book.ended()))
        counts.append(len(asked))
    assert counts[0] == counts[1]


@pytest.mark.parametrize(("jobs", "low", "high"), [(0, 0, 0), (5, 2, 5), (20, 12, 19), (100, 72, 88)])
def test_the_usual_count_of_a_right_range(jobs, low, high):
    # Binomial(n, 0.8): chances beyond these counts are at most 2.5 % on either side (checked against scipy.stats.binom)
    from scipy.stats import binom

    found = coverage(jobs, jobs)
    assert (found.low, found.high) == (low, high)
    assert binom.cdf(low - 1, jobs, 0.8) <= 0.025
    assert binom.sf(high, jobs, 0.8) <= 0.025
    assert binom.cdf(low, jobs, 0.8) > 0.025
    assert binom.sf(high - 1, jobs, 0.8) > 0.025


def test_too_few_jobs_say_nothing():
    assert not coverage(19, 19).enough
    assert coverage(20, 20).enough
    assert not coverage(20, 20).as_usual


# --- pages ------------------------------------------------------------------------------------------------------------


def test_the_page_says_what_an_hour_earned_and_whether_ranges_held(box, keeper_client):
    html = says(keeper_client.get(reverse("learned")))
    assert "1 of 1" in html
    assert "too few jobs to judge" in html
    assert '<svg class="chart"' in html
    assert box.way.title in html


def test_the_sums_are_over_the_last_jobs_and_any_job_is_found(taught, keeper_client, monkeypatch):
    monkeypatch.setattr("quotes.views.learning.learned.JOBS_SUMMED", 3)
    monkeypatch.setattr("quotes.views.learning.learned.JOBS_SHOWN", 2)
    page = reverse("learned")
    jobs = list(book.ended())
    for number, shown in ((1, jobs[:2]), (2, jobs[2:4]), (3, jobs[4:])):
        answer = keeper_client.get(page, {"page": number})
        assert [one.job for one in answer.context["shown"]] == shown
        assert answer.context["all"] == book.overall(looked(*jobs[:3]))
    assert "Over the last 3 ended jobs" in says(answer)
    last = jobs[4]
    answer = keeper_client.get(page, {"q": last.takein.tag})
    assert [one.job for one in answer.context["shown"]] == [last]
    assert answer.context["all"].jobs == 3
    assert "Nothing found" in says(keeper_client.get(page, {"q": "moonlight"}))
    counts = []
    for query in ({}, {"page": 3}, {"q": last.takein.tag}):
        with CaptureQueriesContext(connection) as asked:
            keeper_client.get(page, query)
        counts.append(len(asked))
    assert len(set(counts)) == 1


def test_a_recipe_that_loses_money_is_named(box, keeper_client, bench):
    step = box.steps.exclude(operation="release").order_by("position").last()
    b.redo_step(
        step=step, cause="ours", billed=False, reason="fish eyes", signed=Signed(bench, NOW + timedelta(days=9))
    )
    again = box.steps.get(redo_of=step)
    b.finish_step(step=again, minutes=D(590), signed=Signed(bench, NOW + timedelta(days=10)))
    ended(Job.objects.get(pk=box.pk), bench, NOW + timedelta(days=11))
    html = says(keeper_client.get(reverse("learned")))
    assert "One recipe loses money" in html


def test_nothing_ended_says_so(profile, keeper_client):
    assert "No job has ended yet" in says(keeper_client.get(reverse("learned")))


def test_a_job_page_adds_up_in_every_column(box, keeper_client):
    Experience.objects.all().delete()
    answer = keeper_client.get(reverse("learned-job", args=[box.pk]))
    sums, rows = answer.context["sums"], answer.context["rows"]
    assert sums["quoted"] == billing.job_truth(box).quoted_cost
    assert sums["expected"] == sum(row["expected"] for row in rows) == sums["quoted"]  # nothing is learned yet
    assert "nothing is learned yet" in says(answer)
    assert sums["real"] == billing.job_truth(box).real_cost
    assert sums["real"] - sums["quoted"] == pytest.approx(sums["by_price"] + sums["by_quantity"], abs=D("0.02"))
    assert sum(row["real"] for row in rows) == sums["real"]


def test_the_pages_say_what_is_expected_today(taught, keeper_client):
    answer = keeper_client.get(reverse("learned-job", args=[taught.job.pk]))
    sums, rows = answer.context["sums"], answer.context["rows"]
    assert sum(row["expected"] for row in rows) == sums["expected"]
    assert float(sums["expected"]) == pytest.approx(taught.expected_cost, abs=0.006)
    assert "from 5 finished jobs, this one too" in says(answer)
    assert f"Today the shop would say €{taught.likely[0]:.2f} to €{taught.likely[1]:.2f}" in says(answer)
    listed = says(keeper_client.get(reverse("learned")))
    assert f"{taught.expected_cost:.2f}" in listed
    assert f"{taught.likely[0]:.2f} to {taught.likely[1]:.2f}" in listed


def test_a_job_on_the_bench_is_not_looked_back_on(versions, stocked, counter, keeper_client):
    job = made(counter, versions)
    assert keeper_client.get(reverse("learned-job", args=[job.pk])).status_code == 404


def test_only_the_keeper_is_led_there(box, keeper_client, counter_client):
    where = reverse("learned-job", args=[box.pk])
    page = reverse("job", args=[box.pk])
    assert where in says(keeper_client.get(page))
    assert where not in says(counter_client.get(page))
