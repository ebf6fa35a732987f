"""The bench looked at again after whatever touches it, and what would lift a promise that fell."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

import pytest
from django.core.management import call_command

from quotes import bench as b
from quotes.models import Job, Outlook, Step, Way
from quotes.ready_days.outlook import look_again, look_at_login, look_now, outlook
from shop.models import BenchShift, ClosedDay
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY

D = Decimal


@pytest.fixture
def kept(job, django_capture_on_commit_callbacks):
    """The keels on the bench, looked at."""
    return look_again(at=NOW)


def test_a_look_keeps_chance_plan_and_days_of_every_job(job, kept):
    told = kept.jobs[str(job.pk)]
    assert told["day"] == job.promised_on.isoformat()
    assert 0 <= told["chance"] <= 1
    assert told["before"] is None
    assert told["even"] <= told["likely"] <= told["nine"]
    first = kept.plan[0]
    assert (first["job"], first["person"]) == (job.pk, 0)
    assert Step.objects.get(pk=first["step"]).job_id == job.pk
    assert datetime.fromisoformat(first["from"]) >= NOW
    assert len(kept.days) == 28
    today = kept.days[0]
    assert date.fromisoformat(today["day"]) == TODAY
    assert today["bench_h"] <= today["open_h"]
    late = datetime.combine(TODAY, time(23, 55), tzinfo=ZoneInfo("Europe/Dublin"))
    assert look_again(at=late).days[0]["open_h"] == 0  # nothing of it is to come
    assert sum(day["planned_h"] for day in kept.days) == pytest.approx(
        sum(one["minutes"] for one in kept.plan) / 60, abs=0.3
    )


def test_the_same_bench_looked_at_twice_is_the_same(job, kept):
    again = look_again(at=NOW)
    assert (again.digest, again.plan, again.days) == (kept.digest, kept.plan, kept.days)
    own = again.jobs[str(job.pk)]
    assert own["before"] == own["chance"]


def test_a_later_look_is_not_overwritten_by_an_earlier_one(job, kept):
    later = look_again(at=NOW + timedelta(hours=1))
    assert look_again(at=NOW).worked_at == later.worked_at
    assert Outlook.objects.count() == 1


ACTS = {
    "a step begun": lambda job, by: b.start_step(step=b.next_step(job.steps.all(), NOW), signed=by),
    "a step done": lambda job, by: b.finish_step(step=b.next_step(job.steps.all(), NOW), minutes=D(5), signed=by),
    "something turned up": lambda job, by: b.note_found(job=job, words="wet foam", signed=by),
    "another way offered": lambda job, by: b.propose_another_way(
        job=job, way=Way.objects.exclude(pk=job.way_id).filter(board=job.quoted).first(), words="", signed=by
    ),
    "another day": lambda job, by: b.promise_another_day(
        job=job, day=job.promised_on + timedelta(days=30), how="by phone", signed=by
    ),
    "left out": lambda job, by: b.drop_step(step=b.next_step(job.steps.all(), NOW), reason="not needed", signed=by),
    "warmth": lambda job, by: b.say_temperature(celsius=D(14), signed=by),
}


@pytest.mark.parametrize("act", ACTS.values(), ids=ACTS)
def test_whatever_touches_the_bench_is_followed_by_a_look(act, job, kept, counter, django_capture_on_commit_callbacks):
    at = NOW + timedelta(minutes=3)
    with django_capture_on_commit_callbacks(execute=True):
        act(job, Signed(counter, at))
    assert outlook().worked_at == at
    assert outlook().digest != kept.digest


def test_several_acts_of_one_moment_are_one_look(job, counter, django_capture_on_commit_callbacks, monkeypatch):
    looks = []
    monkeypatch.setattr("quotes.ready_days.outlook.forecast", lambda *a: looks.append(a) or forecast(*a))
    from quotes.planner import forecast

    with django_capture_on_commit_callbacks(execute=True):
        ACTS["a step done"](job, Signed(counter, NOW))
        ACTS["a step done"](job, Signed(counter, NOW))
    assert len(looks) == 1


def test_what_was_done_before_the_last_look_and_stored_after_it_is_looked_at(
    job, counter, django_capture_on_commit_callbacks
):
    seen = look_again(at=NOW + timedelta(minutes=5))
    with django_capture_on_commit_callbacks(execute=True):
        ACTS["something turned up"](job, Signed(counter, NOW))
    assert outlook().digest != seen.digest
    assert outlook().worked_at == seen.worked_at


def test_what_no_year_finishes_has_no_day_and_no_chance(job, counter):
    BenchShift.objects.create(person=counter, weekday=NOW.weekday(), begins=time(9), ends=time(9, 2))
    Job.objects.filter(pk=job.pk).update(promised_on=TODAY + timedelta(days=300))
    kept = look_again(at=NOW)
    assert kept.jobs[str(job.pk)]["chance"] == 0
    assert "takes longer than any day at the bench" in kept.trouble
    assert not any("holds eight in ten" in words for words in words_of(kept))


def test_nothing_that_was_done_is_undone_when_a_look_fails(
    job, counter, django_capture_on_commit_callbacks, monkeypatch
):
    monkeypatch.setattr("quotes.ready_days.outlook.bench_now", lambda at: 1 / 0)
    with django_capture_on_commit_callbacks(execute=True):
        ACTS["a step done"](job, Signed(counter, NOW))
    assert job.steps.filter(state=Step.State.DONE).count() == 1
    look_at_login(at=NOW)


def test_a_bench_that_can_not_be_played_is_a_sentence(job):
    ClosedDay.objects.bulk_create(ClosedDay(day=TODAY + timedelta(days=n)) for n in range(400))
    kept = look_again(at=NOW)
    assert kept.trouble.startswith("Nobody is at work within a year")
    assert (kept.plan, kept.days, kept.jobs) == ([], [], {})


def test_the_first_login_of_a_day_looks_and_the_second_does_not(job, kept):
    look_at_login(at=NOW + timedelta(minutes=5))
    assert outlook().worked_at == NOW
    look_at_login(at=NOW + timedelta(days=1))
    assert outlook().worked_at == NOW + timedelta(days=1)


def test_tick_looks(job, capsys):
    call_command("tick")
    assert "The bench ahead was played" in capsys.readouterr().out
    assert outlook().jobs


def test_anybody_may_ask_for_a_look(job, bench):
    assert look_now(signed=Signed(bench, NOW)).worked_at == NOW


def words_of(kept):
    return [one["words"] for one in kept.helps]


def test_a_promise_that_fell_below_even_says_what_helps(job, counter):
    assert look_again(at=NOW).helps == []
    Job.objects.filter(pk=job.pk).update(promised_on=TODAY + timedelta(days=1))
    b.note_found(job=job, words="wet foam", signed=Signed(counter, NOW))
    said = words_of(look_again(at=NOW))
    assert said[0] == "Ring for the answer to “wet foam”: the board waits for it."
    assert said[-1].startswith("Ring and tell another day: ")
    assert said[-1].endswith("holds eight in ten.")


def test_a_day_that_is_past_is_named(job):
    Job.objects.filter(pk=job.pk).update(promised_on=TODAY - timedelta(days=2))
    (said,) = words_of(look_again(at=NOW))
    assert "is past: ring and tell another" in said
