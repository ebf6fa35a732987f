"""What a job's steps ahead reserve, by day, follows the job; and a step that will not find its material says so."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse

from inventory.buying.planning import wanted
from inventory.counting import opening
from inventory.models import Material, Reservation
from inventory.stock import ledger
from quotes import bench, quoting
from quotes.bench.plan.reserving import (
    by_material,
    days_of,
    in_short,
    planned_stock,
    release_job,
    reserve_job,
    short_steps,
)
from quotes.costing.job.sundries import SUNDRIES
from quotes.estimating import Calendar
from quotes.models import RecipeVersion, Step, StepReservation
from shop.models import ClosedDay
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, the_day
from tests.inventory.buying.test_planning import plain
from tests.quotes import seed
from tests.quotes.benches import all_ticked, work_through
from tests.quotes.conftest import take_in
from tests.quotes.seed import receive_stock

HOUR = timedelta(hours=1)


@pytest.fixture
def job(quote, counter):
    """The keels agreed, and nothing on the shelf."""
    return bench.accept_way(way=keels(quote), signed=Signed(counter, NOW), how="by phone", spoken=True)


def shortages(jobs, *, today) -> dict[int, list[str]]:
    """What is short, as sentences by job; a job that finds everything is left out."""
    return {job: [one.sentence for one in short] for job, short in short_steps(jobs, today=today).items()}


def keels(quote):
    return quote.boards.get().ways.get(title="Glass-on keels, both sides")


def reserved(job) -> dict[tuple[str, str], Decimal]:
    """What is open of a job, by step and material."""
    links = StepReservation.objects.filter(step__job=job, reservation__released_at=None).order_by("step__position")
    rows = links.select_related("step", "reservation__material")
    return {(row.step.title, row.reservation.material.key): row.reservation.quantity for row in rows}


def planned(job) -> dict[tuple[str, str], Decimal]:
    materials = {row.key: row for row in Material.objects.all()}
    return {
        (step.title, key): quantity
        for step in Step.with_sundries.filter(job=job)
        if step.ahead
        for key, quantity in planned_stock(step, materials).items()
    }


def test_an_agreed_job_reserves_what_its_steps_plan(job):
    assert reserved(job) == planned(job)
    foam = job.steps.get(operation="pour-foam")
    grams = next(line["planned"] for line in foam.plan["materials"] if line["material"] == "foam-64")
    assert reserved(job)[foam.title, "foam-64"] == Decimal(str(round(grams, 3)))
    assert not Reservation.objects.filter(quantity__lte=0).exists()


def test_a_second_acceptance_reserves_nothing_twice(job, counter):
    before = reserved(job)
    again = bench.accept_way(way=job.way, signed=Signed(counter, NOW), how="by phone", spoken=True)
    reserve_job(job=again, at=NOW)
    assert reserved(job) == before
    assert Reservation.objects.count() == len(before)


@pytest.mark.calendar
def test_steps_are_needed_on_the_days_they_can_first_be_done(job):
    # Wed 25 Nov: rout, pour, and the foam wants a day; levelled on Thu 26 Nov at the earliest, and so on.
    pour, level = job.steps.get(operation="pour-foam"), job.steps.get(operation="level")
    steps = list(job.steps.all())
    days = days_of(steps, today=TODAY, calendar=Calendar(5.0, frozenset(range(5))))
    assert days[pour.pk] == TODAY
    assert days[level.pk] == TODAY + timedelta(days=1)
    assert all(day.weekday() < 5 for day in days.values())
    for link in StepReservation.objects.select_related("reservation").exclude(step__operation=SUNDRIES):
        assert link.reservation.needed_on == days[link.step_id]


@pytest.mark.calendar
def test_days_go_over_what_is_closed_and_begin_when_it_has_cured(job):
    steps = list(job.steps.all())
    closed = frozenset({TODAY, TODAY + timedelta(days=1)})
    days = days_of(steps, today=TODAY, calendar=Calendar(5.0, frozenset(range(5)), closed))
    assert days[steps[0].pk] == date(2026, 11, 27)
    steps[0].earliest_at = NOW + timedelta(days=3)  # Saturday: worked on Monday
    days = days_of(steps, today=TODAY, calendar=Calendar(5.0, frozenset(range(5))))
    assert days[steps[0].pk] == date(2026, 11, 30)


def test_a_shop_that_works_no_day_still_books_what_was_done(job, bench_person, profile):
    profile.working_days = [6]
    profile.save()

    ClosedDay.objects.bulk_create(ClosedDay(day=TODAY + timedelta(days=n)) for n in range(800))
    step = job.steps.first()
    bench.finish_step(step=step, minutes=Decimal(8), signed=Signed(bench_person, NOW + timedelta(minutes=5)))
    assert {row.needed_on for row in Reservation.objects.open()} == {TODAY}


@pytest.fixture
def bench_person(bench):
    return bench


def test_a_step_done_lets_go_of_what_it_had_reserved(job, bench_person):
    receive_stock(by=job.by)
    step = job.steps.get(operation="rout")
    assert any(title == step.title for title, _ in reserved(job))
    bench.finish_step(step=step, minutes=Decimal(8), signed=Signed(bench_person, NOW + HOUR))
    assert not any(title == step.title for title, _ in reserved(job))
    assert reserved(job) == planned(job)
    bench.reopen_step(step=step, signed=Signed(bench_person, NOW + HOUR))
    assert not any(title == step.title for title, _ in reserved(job))  # what was booked on it is booked


def test_what_was_booked_is_no_longer_reserved_until_it_is_undone(job, bench_person):
    receive_stock(by=job.by)
    step = job.steps.get(operation="laminate")
    cloth = Material.objects.get(key="cloth-6oz")
    use = bench.record_use(step=step, material=cloth, quantity=Decimal("0.03"), signed=Signed(bench_person, NOW + HOUR))
    assert (step.title, "cloth-6oz") not in reserved(job)
    assert (step.title, "resin-lam") in reserved(job)
    bench.undo_use(use=use, signed=Signed(bench_person, NOW + HOUR))
    assert (step.title, "cloth-6oz") in reserved(job)
    bench.record_mix(step=step, signed=Signed(bench_person, NOW + HOUR))
    assert not {(step.title, "resin-lam"), (step.title, "mekp")} & set(reserved(job))
    bench.use_as_planned(step=step, signed=Signed(bench_person, NOW + 2 * HOUR))
    assert not any(title == step.title for title, _ in reserved(job))


def test_a_step_left_out_needs_nothing_and_one_done_again_needs_it_again(job, bench_person):
    receive_stock(by=job.by)
    trim = job.steps.get(operation="trim")
    bench.drop_step(step=trim, reason="trimmed by hand", signed=Signed(bench_person, NOW))
    assert not any(title == trim.title for title, _ in reserved(job))
    work_through(job, bench_person, stop_before="level")
    pour = job.steps.get(operation="pour-foam")
    assert (pour.title, "foam-64") not in reserved(job)
    again = {
        "cause": "ours",
        "billed": False,
        "reason": "it did not rise",
        "signed": Signed(bench_person, NOW + timedelta(days=1)),
    }
    bench.redo_step(step=pour, **again)
    assert (pour.title, "foam-64") in reserved(job)
    assert reserved(job) == planned(job)


def test_a_job_worked_through_has_nothing_left_reserved(job, bench_person):
    receive_stock(by=job.by)
    at = work_through(job, bench_person)

    bench.finish_job(job=job, checks=all_ticked(job), signed=Signed(bench_person, at + HOUR))
    assert not Reservation.objects.open().exists()


def test_a_job_that_is_stopped_lets_go_of_all(job, counter):
    assert reserved(job)
    bench.stop_job(job=job, amount=Decimal(20), how="by phone", signed=Signed(counter, NOW))
    assert reserved(job) == {}


def test_another_way_instead_reserves_what_that_one_needs(job, quote, counter):
    takein = job.takein
    other = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))

    version = RecipeVersion.objects.get(recipe__key="fin-box")
    box = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}
    way = quoting.add_way(board=other.boards.get(), version=version, measures=box, signed=Signed(counter, NOW))
    extra = bench.propose_another_way(job=job, way=way, words="a new box instead", signed=Signed(counter, NOW))
    bench.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW))
    job.refresh_from_db()
    assert reserved(job) == planned(job)
    assert any(key == "fin-box" for _, key in reserved(job))
    assert not any(key == "roving" for _, key in reserved(job))


def test_release_lets_go_of_all_at_once(job):
    count = len(reserved(job))
    assert release_job(job=job, at=NOW) == count
    assert reserved(job) == {}


@pytest.mark.calendar
def test_a_step_that_will_not_find_its_material_says_so_before_it_is_begun(job, counter):
    receive_stock(by=job.by)
    assert shortages([job], today=TODAY) == {}
    foam = Material.objects.get(key="foam-64")
    ledger.use(material=foam, quantity=Decimal(1980), signed=Signed(counter, NOW))  # 20 g left of 2000
    pour = job.steps.get(operation="pour-foam")
    assert reserved(job)[pour.title, "foam-64"] == Decimal("26.793")
    [said] = shortages([job], today=TODAY)[job.pk]
    assert plain(said) == f"{pour.title}, {the_day(TODAY)}. {foam.name}: 6.79 g will be missing."
    [short] = short_steps([job], today=TODAY)[job.pk]
    assert short.step == pour


def test_what_an_earlier_job_takes_is_missing_to_the_later_one(job, counter, versions):
    """Two boards want the last of the foam: the one that comes to it later is told."""

    receive_stock(by=job.by)
    foam = Material.objects.get(key="foam-64")
    needs = next(q for (_, key), q in reserved(job).items() if key == "foam-64")
    ledger.use(material=foam, quantity=2000 - needs, signed=Signed(counter, NOW))
    quote = quoting.start_quote(takeins=[take_in(counter)], signed=Signed(counter, NOW))

    way = quoting.add_way(
        board=quote.boards.get(), version=versions["glass-on-twin"], measures=seed.KEELS, signed=Signed(counter, NOW)
    )
    later = bench.accept_way(way=way, signed=Signed(counter, NOW), how="by phone", spoken=True)
    found = shortages([job, later], today=TODAY)
    assert list(found) == [later.pk]
    assert any(foam.name in sentence for sentence in found[later.pk])


def test_what_goes_off_before_its_step_is_said(job, counter):
    receive_stock(by=job.by)
    level = job.steps.get(operation="laminate")
    needed = StepReservation.objects.filter(step=level).first().reservation.needed_on
    resin = Material.objects.get(key="resin-lam")
    resin.lots.update(good_until=needed - timedelta(days=1))
    said = shortages([job], today=TODAY)[job.pk]
    assert any("will be out of date" in sentence and level.title in sentence for sentence in said)


def test_the_rack_asks_the_same_queries_for_one_job_and_for_many(
    job, counter, versions, django_assert_num_queries, django_assert_max_num_queries
):
    there = dict.fromkeys(Material.objects.all(), Decimal(0))
    opening.opening_count(there=there, untracked=[], signed=Signed(job.by, NOW))
    with django_assert_max_num_queries(6):
        assert shortages([job], today=TODAY)
    jobs = [job]
    for _ in range(3):
        quote = quoting.start_quote(takeins=[take_in(counter)], signed=Signed(counter, NOW))
        way = quoting.add_way(
            board=quote.boards.get(),
            version=versions["glass-on-twin"],
            measures=seed.KEELS,
            signed=Signed(counter, NOW),
        )
        jobs.append(bench.accept_way(way=way, signed=Signed(counter, NOW), how="by phone", spoken=True))
    with django_assert_max_num_queries(6):
        assert len(shortages(jobs, today=TODAY)) == 4
    with django_assert_num_queries(0):
        assert shortages([], today=TODAY) == {}
    assert len(wanted(TODAY)) == Reservation.objects.open().count()


def test_planning_a_job_takes_the_same_queries_however_long_it_is(job, bench_person, django_assert_max_num_queries):
    with django_assert_max_num_queries(12):
        reserve_job(job=job, at=NOW)
    with django_assert_max_num_queries(16):
        reserve_job(job=job, at=NOW + timedelta(days=6))
    Step.with_sundries.filter(job=job).update(state=Step.State.DROPPED)
    with django_assert_max_num_queries(8):
        reserve_job(job=job, at=NOW)
    assert reserved(job) == {}


@pytest.mark.calendar
def test_what_several_steps_lack_of_one_material_is_added_up(job, counter):
    receive_stock(by=job.by)
    resin = Material.objects.get(key="resin-lam")
    ledger.use(material=resin, quantity=Decimal(2000), signed=Signed(counter, NOW))
    found = short_steps([job], today=TODAY)[job.pk]
    [lacking] = by_material(found)
    assert len(lacking.steps) == len(found) == 6
    grams = sum(quantity for (_, key), quantity in reserved(job).items() if key == "resin-lam")
    assert plain(lacking.lacks) == f"{round(grams)} g will be missing"
    assert in_short(found, TODAY) == f"{resin.name} short from Thu 26 Nov"
    assert in_short(found, TODAY + timedelta(days=2)) == f"{resin.name} short now"


@pytest.mark.calendar
def test_rack_job_and_step_say_what_will_not_be_there(job, bench_person, counter, client):
    receive_stock(by=job.by)
    pour = job.steps.get(operation="pour-foam")
    foam = Material.objects.get(key="foam-64")
    client.force_login(bench_person)
    pages = [reverse("rack"), reverse("job", args=[job.pk]), reverse("step", args=[pour.pk])]
    assert not any("will be missing" in client.get(page).content.decode() for page in pages)
    ledger.use(material=foam, quantity=Decimal(2000), signed=Signed(counter, NOW))
    rack, whole, step = (plain(unescape(client.get(page).content.decode())) for page in pages)
    assert f"{foam.name} short now" in rack
    assert f"<strong>{foam.name}</strong>: 26.8 g will be missing" in whole
    assert f"{foam.name}: 26.8 g will be missing." in step
    other = job.steps.get(operation="trim")
    assert "will be missing" not in client.get(reverse("step", args=[other.pk])).content.decode()
