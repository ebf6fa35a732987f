"""The bench as the planner takes it, from rows."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest

from quotes import bench as b
from quotes import quoting
from quotes.models import Job, Step
from quotes.planner import WrongState, from_json, plan_of_day
from quotes.ready_days.boards import WITHOUT_MINUTES
from quotes.ready_days.rack_state import bench_now
from shop.models import Absence, BenchShift, ClosedDay, Profile, User
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes.benches import RAIL_DING

D = Decimal


@pytest.fixture
def begun_job(job, counter):
    b.finish_step(step=b.next_step(job.steps.all(), NOW), minutes=D(12), signed=Signed(counter, NOW))
    return job


def only_board(at=NOW):
    (board,) = bench_now(at).state.boards
    return board


def test_a_job_is_its_steps_ahead_its_day_and_its_tag(job):
    board = only_board()
    assert (board.job, board.promised, board.rush) == (job.takein.tag, job.promised_on, False)
    assert board.steps[0].name == str(job.steps.order_by("position").first().pk)
    assert sum(one.minutes for one in board.steps) == pytest.approx(
        sum(one.planned_minutes for one in job.steps.all()), abs=3
    )
    assert board.turns_up_after == 2


def test_times_are_the_shops_own(job):
    Profile.objects.update(timezone="Pacific/Auckland")
    bench = bench_now(NOW)
    there = NOW.astimezone(ZoneInfo("Pacific/Auckland"))
    assert (bench.state.now.date(), bench.state.now.hour) == (there.date(), there.hour)
    assert bench.moment(bench.state.now) == NOW


def test_what_cures_holds_up_the_next_step(begun_job):
    step = b.next_step(begun_job.steps.all(), NOW)
    Step.objects.filter(pk=step.pk).update(earliest_at=NOW + timedelta(hours=5))
    board = only_board()
    assert board.free_from == bench_now(NOW).state.now + timedelta(hours=5)
    assert board.turns_up_after == 1


def test_a_step_under_way_has_what_is_left_of_it(job, counter):
    step = b.start_step(step=b.next_step(job.steps.all(), NOW), signed=Signed(counter, NOW))
    Step.objects.filter(pk=step.pk).update(plan={**step.plan, "minutes": 40})
    assert only_board(NOW + timedelta(minutes=15)).steps[0].minutes == 25
    assert only_board(NOW + timedelta(minutes=90)).steps[0].minutes == 10


def test_a_step_without_minutes_is_named_and_reckoned_with(job):
    step = job.steps.order_by("position").first()
    Step.objects.filter(pk=step.pk).update(plan={**step.plan, "minutes": 0})
    bench = bench_now(NOW)
    assert bench.odd == (f"Tag {job.takein.tag}: “{step.title}” has no planned minutes; 30 are reckoned with.",)
    assert bench.state.boards[0].steps[0].minutes == WITHOUT_MINUTES


def test_what_turned_up_waits_for_its_answer(begun_job, counter, bench):
    at = NOW + timedelta(minutes=1)
    before = only_board(at)
    b.note_found(job=begun_job, words="wet foam under it", signed=Signed(bench, NOW))
    board = only_board(at)
    assert board.free_from >= bench_now(at).state.now + timedelta(hours=7)
    assert len(board.steps) > len(before.steps)
    assert board.turns_up_after is None


def test_a_shop_without_hours_has_one_pair_of_hands_on_its_working_days(profile):
    (hands,) = bench_now(NOW).state.people
    assert [len(day) for day in hands.hours] == [2] * 5 + [0] * 2


def test_people_have_their_hours_and_are_away_on_their_days(profile, counter, keeper):
    for weekday in range(4):
        BenchShift.objects.create(person=counter, weekday=weekday, begins=time(8, 30), ends=time(12))
    Absence.objects.create(
        person=counter, first=TODAY, last=TODAY + timedelta(days=1), made_at=NOW, by=keeper, reason="a swell"
    )
    ClosedDay.objects.create(day=TODAY + timedelta(days=3))
    state = bench_now(NOW).state
    (hands,) = state.people
    assert hands.name == str(counter.pk)
    assert hands.hours[0] == ((510, 720),)
    assert hands.hours[6] == ()
    assert hands.away == {TODAY, TODAY + timedelta(days=1)}
    assert state.closed == {TODAY + timedelta(days=3)}


def test_nobody_at_work_within_a_year_is_a_sentence(profile):
    ClosedDay.objects.bulk_create(ClosedDay(day=TODAY + timedelta(days=n)) for n in range(400))
    with pytest.raises(WrongState, match="Nobody is at work within a year"):
        bench_now(NOW)


def test_the_state_is_the_same_read_back_from_the_neutral_form(job):
    state = bench_now(NOW).state
    assert from_json(state.to_json()).digest() == state.digest()
    assert isinstance(state.now, datetime)
    assert state.now.tzinfo is None


def test_the_bench_is_read_in_as_many_queries_for_many_jobs(job, counter, django_assert_max_num_queries):
    with django_assert_max_num_queries(24):
        bench_now(NOW)
    first = job.steps.order_by("position").first()
    for number in range(5):
        again = Job.objects.create(
            takein=job.takein, way=job.way, agreed_at=NOW, by=counter, promised_on=job.promised_on
        )
        Step.objects.create(job=again, part=first.part, position=1, operation="sand", title="Sand", plan=first.plan)
        assert len(bench_now(NOW).jobs) == number + 2
    with django_assert_max_num_queries(24):
        bench_now(NOW)
    assert set(bench_now(NOW).jobs) >= {job.takein.tag, f"{job.takein.tag}/2"}


def test_a_priced_extra_is_the_steps_it_was_priced_by(begun_job, counter, bench, versions):
    at = NOW + timedelta(minutes=1)
    plain = only_board(at)
    extra = b.note_found(job=begun_job, words="wet foam under it", signed=Signed(bench, NOW))
    quote = quoting.start_quote(takeins=[begun_job.takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, NOW)
    )
    b.price_extra(extra=extra, way=way, signed=Signed(counter, NOW))
    board = only_board(at)
    planned = sum(step.minutes for part in way.parts.all() for step in part.estimate.steps)
    added = board.steps[: len(board.steps) - len(plain.steps)]
    assert sum(one.minutes for one in added) == pytest.approx(planned, abs=len(added))
    assert all(one.name.startswith("+") for one in added)
    assert [one.name for one in bench_now(at).if_answered(board.job).steps] == [one.name for one in plain.steps]


def test_what_a_redo_asks_of_the_customer_is_on_the_bench_already(begun_job, counter):
    done = begun_job.steps.get(state=Step.State.DONE)
    signed = Signed(counter, NOW)
    b.redo_step(step=done, cause="ours", billed=True, reason="pinholes", signed=signed)
    assert begun_job.extras.filter(state="found").count() == 1
    board = only_board()
    assert not any(one.name.startswith("+") for one in board.steps)
    assert board.free_from == bench_now(NOW).state.now


def test_a_step_under_way_goes_before_all_and_waits_for_nothing(job, counter):
    last = job.steps.order_by("-position").first()
    Step.objects.filter(pk=last.pk).update(part=None, state=Step.State.DOING, earliest_at=NOW + timedelta(hours=20))
    board = only_board()
    assert board.steps[0].name == str(last.pk)
    assert board.free_from == bench_now(NOW).state.now
    assert plan_of_day(bench_now(NOW).state)[0].step == str(last.pk)


def test_who_works_alone_and_is_away_is_not_counted_on(profile, keeper):
    User.objects.exclude(pk=keeper.pk).update(is_active=False)
    Absence.objects.create(person=keeper, first=TODAY, last=TODAY, made_at=NOW, by=keeper)
    (hands,) = bench_now(NOW).state.people
    assert hands.away == {TODAY}
