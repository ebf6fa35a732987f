"""What a shop knows of itself for a promise, from rows written by hand."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest

from quotes.models import BenchHours, Experience, Extra, Job, Step, StepTime
from quotes.models.experience import LEARNED_VERSION
from quotes.planner.state import StepAhead
from quotes.ready_days.figures import (
    TURNED_UP,
    USUAL_JOB,
    figures_of_promise,
    known_of_shop,
    last_plans,
)
from quotes.ready_days.open_hours import THE_BENCH
from quotes.ready_days.seen import Seen
from shop.models import Absence, BenchShift, ClosedDay, Profile
from tests.conftest import NOW, TODAY

D = Decimal


def by_name(at=NOW):
    return {one.name: one for one in figures_of_promise(at)}


def open_days(many, *, closed=()):
    """The last so many working days before today, the latest first."""
    days = (TODAY - timedelta(days=back) for back in range(1, 200))
    return [day for day in days if day.weekday() < 5 and day not in closed][:many]


def worked(step, person, day, minutes, **more):
    own = {"typed": True, "wage_per_hour": D(20), "overhead_per_hour": D(10), **more}
    return StepTime.objects.create(step=step, person=person, day=day, minutes=D(minutes), **own)


@pytest.fixture
def open_long(job):
    """The keels, agreed a hundred days ago and not begun: there was work left on every day since."""
    Job.objects.update(agreed_at=NOW - timedelta(days=100))
    job.refresh_from_db()
    return job


def test_a_shop_without_rows_knows_what_it_starts_from(profile):
    found = by_name()
    assert not any(one.learned for one in found.values())
    assert all(one.used == one.start for one in found.values())
    assert all(one.used.low <= one.used.value <= one.used.high for one in found.values())
    hours = float(profile.bench_hours_per_day)
    assert found["lost_share"].used.value == pytest.approx(1 - hours / 8)
    usual = sum(step.minutes for step in USUAL_JOB)
    assert found["jobs_a_day"].used.value == pytest.approx(0.75 * hours * 60 / usual)


def test_a_planner_takes_what_is_used(profile):
    known = known_of_shop(NOW, kinds=[])
    assert (known.again_chance, known.odd_choice, known.cure_sd_log) == (0.02, 0.1, 0.18)
    assert (known.turn_up.chance, known.turn_up.answer_h, known.turn_up.steps) == (0.15, 8.0, TURNED_UP)
    assert [kind.steps for kind in known.arrivals.kinds] == [USUAL_JOB]
    own = (StepAhead("1", 30, 0),)
    kinds = known_of_shop(NOW, kinds=[own, (), own]).arrivals.kinds
    assert [(kind.share, kind.steps) for kind in kinds] == [(0.5, own), (0.5, own)]


def test_hours_of_people_are_what_the_share_lost_starts_from(profile, keeper, bench):
    for weekday in range(4):
        BenchShift.objects.create(person=keeper, weekday=weekday, begins="09:00", ends="13:30")
        BenchShift.objects.create(person=bench, weekday=weekday, begins="09:00", ends="12:30")
    Profile.objects.update(bench_hours_per_day=D("6"))
    assert by_name()["lost_share"].start.value == pytest.approx(1 - 24 / 32)
    keeper.is_active = False
    keeper.save()
    assert by_name()["lost_share"].start.value == 0.05  # 14 hours open, 24 said: nothing is lost


def test_what_is_written_down_on_days_with_work_left_is_held_against_hours_open(open_long, bench):
    step = open_long.steps.first()
    for day in open_days(10):
        worked(step, bench, day, 180)
        worked(step, bench, day, 60, typed=False)  # a little as planned counts too
    worked(step, bench, open_days(11)[-1], 300, typed=False)  # nobody said anything: no evidence
    worked(step, bench, open_days(12)[-1], 300, replaced_at=NOW)
    found = by_name()["lost_share"]
    assert (found.own, found.count) == (pytest.approx(0.5), 10)
    assert min(found.own, found.start.value) < found.used.value < max(found.own, found.start.value)
    [*rows] = Seen.of(NOW).days.by_weekday
    assert sum(row.days for row in rows) == 10
    assert {(row.open_h, row.bench_h) for row in rows} == {(8.0, 4.0)}
    assert by_name()["lost_share_sd"].own == pytest.approx(0.0)


def test_a_day_that_ran_out_of_work_is_no_evidence(job, bench):
    for day in open_days(5):
        worked(job.steps.first(), bench, day, 60)
    assert by_name()["lost_share"].count == 0  # the job came today


def test_work_that_still_cured_at_the_end_of_a_day_was_not_left(open_long, bench):
    first, second, *rest = open_long.steps.order_by("position")
    day, *earlier = open_days(5)
    done = NOW - (TODAY - day) - timedelta(days=1)
    Step.objects.filter(pk=first.pk).update(state="done", done_at=done, started_at=NOW - timedelta(days=99))
    Step.objects.filter(pk=second.pk).update(earliest_at=NOW + timedelta(hours=1))
    for one in rest:
        Step.objects.filter(pk=one.pk).update(earliest_at=NOW + timedelta(hours=2))
    for one in (day, *earlier):
        worked(first, bench, one, 60)
    assert by_name()["lost_share"].count == 0


def test_a_total_of_days_stands_in_the_place_of_minutes_by_step(open_long, bench):
    first, last = sorted(open_days(3))[0], max(open_days(3))
    for day in open_days(3):
        worked(open_long.steps.first(), bench, day, 400)
    BenchHours.objects.create(person=bench, from_day=first, to_day=last, minutes=D(720), by=bench, at=NOW)
    found = by_name()["lost_share"]
    assert (found.own, found.count) == (pytest.approx(0.5), 3)
    BenchHours.objects.update(taken_back_at=NOW)
    assert by_name()["lost_share"].own == pytest.approx(1 - 400 / 480)


def test_days_away_and_closed_are_no_hours_open(open_long, bench):
    days = open_days(3)
    for weekday in range(5):
        BenchShift.objects.create(person=bench, weekday=weekday, begins="10:00", ends="14:00")
    for day in days:
        worked(open_long.steps.first(), bench, day, 120)
    ClosedDay.objects.create(day=days[0])
    Absence.objects.create(person=bench, first=days[1], last=days[1], made_at=NOW - timedelta(days=60), by=bench)
    found = by_name()
    assert (found["lost_share"].own, found["lost_share"].count) == (pytest.approx(0.5), 1)
    assert found["away_chance"].own == 0.0  # it was known long before


def test_a_day_away_that_nobody_knew_of_before_is_counted(open_long, bench):
    days = open_days(10)
    for day in days[1:]:
        worked(open_long.steps.first(), bench, day, 120)
    written = NOW - (TODAY - days[0])
    Absence.objects.create(person=bench, first=days[0], last=days[0], made_at=written, by=bench)
    found = by_name()["away_chance"]
    assert (found.own, found.count) == (0.1, 10)
    assert found.used.value == pytest.approx((100 * 0.02 + 1) / 110)


def test_steps_done_again_what_turned_up_answers_and_rushes(open_long, bench):
    steps = list(open_long.steps.order_by("position"))
    for step in steps[:4]:
        Step.objects.filter(pk=step.pk).update(state="done", done_at=NOW - timedelta(days=2))
    Step.objects.filter(pk=steps[3].pk).update(redo_of=steps[2])
    asked = NOW - timedelta(days=3)
    more = {"found_at": asked, "found_by": bench, "job": open_long}
    Extra.objects.create(words="wet foam", answered_at=asked + timedelta(hours=2), **more)
    Extra.objects.create(words="another way", kind="another", answered_at=asked + timedelta(hours=90), **more)
    found = by_name()
    assert (found["again_chance"].own, found["again_chance"].count) == (pytest.approx(1 / 3), 3)
    assert (found["answer_h"].own, found["answer_h"].count) == (pytest.approx(2.0), 1)
    assert found["turn_up"].count == 0  # it has not ended
    assert (found["rush_share"].own, found["rush_share"].count) == (0.0, 1)
    Job.objects.update(state="finished", finished_at=NOW - timedelta(days=1))
    open_long.way.board.quote.__class__.objects.update(rush_percent=D(20))
    found = by_name()
    assert (found["turn_up"].own, found["turn_up"].count) == (1.0, 1)
    assert found["rush_share"].own == 1.0


def test_arrivals_are_jobs_agreed_on_days_worked_of_the_last_ninety(job):
    assert by_name()["jobs_a_day"].count == 0  # today is not over
    Job.objects.update(agreed_at=NOW - timedelta(days=14))
    found = by_name()["jobs_a_day"]
    assert (found.own, found.count) == (0.1, 10)
    start = 0.75 * float(Profile.objects.get().bench_hours_per_day) * 60 / job.way.minutes
    assert found.start.value == pytest.approx(start)
    assert found.used.value == pytest.approx((10 * start + 1) / 20)
    Job.objects.update(agreed_at=NOW - timedelta(days=100))
    assert by_name()["jobs_a_day"].own == 0.0  # none in ninety days


def test_a_job_done_in_one_go_at_the_counter_is_one_of_the_other_things(open_long, bench):
    for day in open_days(3):
        worked(open_long.steps.first(), bench, day, 120)
    Job.objects.update(hands=Job.Hands.WHOLE)
    found = by_name()
    assert (found["lost_share"].count, found["jobs_a_day"].count, found["rush_share"].count) == (0, 0, 0)


def test_the_spread_of_minutes_comes_from_what_was_learned(profile):
    cell = {"operation": "sand", "material": "minutes", "spread": 0.2, "logs": 30, "believed": True}
    cells = [cell, {**cell, "believed": False}, {**cell, "material": "resin"}, {**cell, "spread": None}]
    Experience.objects.update_or_create(pk=1, defaults={"version": LEARNED_VERSION, "figures": {"cells": cells}})
    found = by_name()["minutes_sd_log"]
    assert (found.own, found.count) == (pytest.approx(0.2), 30)
    assert found.used.value == pytest.approx(((20 * 0.28**2 + 30 * 0.2**2) / 50) ** 0.5)


def test_the_last_plans_are_those_of_the_jobs_agreed(job):
    [plans] = last_plans(NOW)
    assert [plan.title[:160] for plan in plans] == [step.title for step in job.steps.order_by("position")]
    Step.objects.filter(pk=job.steps.first().pk).update(state="dropped")
    assert len(last_plans(NOW)[0]) == len(plans) - 1


def test_ten_queries_however_many_rows(open_long, bench, django_assert_num_queries):
    with django_assert_num_queries(10):
        figures_of_promise(NOW)
    for day in open_days(30):
        worked(open_long.steps.first(), bench, day, 120)
        ClosedDay.objects.create(day=day - timedelta(days=200))
    with django_assert_num_queries(10):
        known_of_shop(NOW, kinds=[])


def test_without_hours_of_people_the_bench_has_one_pair_of_hands(profile):
    ClosedDay.objects.create(day=open_days(1)[0])
    hours = Seen.of(NOW).hours
    assert list(hours.people) == [THE_BENCH]
    assert (hours.week, hours.days_a_week, hours.on(open_days(1)[0])) == (40.0, 5, 0.0)
