"""Minutes at the day's end: a total is spread over the steps as they were planned, and learned from as a total."""

from __future__ import annotations

import re
import threading
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from django.db import connections
from django.urls import reverse
from django.utils import timezone

from quotes import bench as b
from quotes.experience import gather, note_hours
from quotes.models import BenchHours, Experience, StepTime
from shop.models import JournalEntry
from shop.platform.acts import Refused, Signed
from tests.quotes.conftest import with_keels_agreed

BEGINS = {"job": with_keels_agreed}
pytestmark = pytest.mark.usefixtures("standing")

D = Decimal


@pytest.fixture
def done(job, bench):
    """Three steps done today: two as planned, one with its own minutes."""
    now = timezone.now()
    steps = list(job.steps.order_by("position")[:3])
    for step, more in zip(steps, (0, 0, 7), strict=True):
        step.refresh_from_db()
        b.finish_step(step=step, minutes=b.planned_minutes(step) + more, typed=bool(more), signed=Signed(bench, now))
    return steps


def minutes(step) -> Decimal:
    return step.times.get(replaced_at__isnull=True).minutes


def total_of_today(person, now, minutes) -> None:
    today = timezone.localdate(now)
    b.spread_total(person=person, first=today, last=today, minutes=minutes, signed=Signed(person, now))


def test_a_total_is_spread_by_plan_and_adds_up(done, bench):
    now = timezone.now()
    own = minutes(done[2])
    total_of_today(bench, now, own + 60)
    assert minutes(done[2]) == own
    assert minutes(done[0]) + minutes(done[1]) == 60
    ratio = done[0].planned_minutes / done[1].planned_minutes
    assert float(minutes(done[0]) / minutes(done[1])) == pytest.approx(ratio, rel=0.02)
    assert BenchHours.objects.get().minutes == own + 60
    assert StepTime.objects.filter(of_total=True, replaced_at__isnull=True).count() == 2


def test_a_total_below_what_is_written_down_is_refused(done, bench):
    now = timezone.now()
    like = re.escape(f"like {b.hands_words(minutes(done[2]) + 20)}.")
    with pytest.raises(Refused, match=f"written down already, {like}"):
        total_of_today(bench, now, D(1))
    assert not BenchHours.objects.exists()


def test_a_day_without_steps_has_nothing_to_spread_over(job, bench):
    now = timezone.now()
    with pytest.raises(Refused, match="No step waits for minutes"):
        total_of_today(bench, now, D(60))


def test_the_page_lists_the_day_and_takes_a_total(done, bench_client, form_key):
    page = reverse("day")
    assert bench_client.get(page).context["waiting"]
    assert bench_client.post(page, {"submission_key": form_key(), "minutes": ""}).status_code == 422
    assert bench_client.post(page, {"submission_key": form_key(), "minutes": "3 h"}).url == page
    assert not bench_client.get(page).context["waiting"]
    assert sum(minutes(step) for step in done) == 180


def test_a_total_is_taken_back_and_learned_from_no_more(done, bench, bench_client, counter_client, form_key):
    now = timezone.now()
    before = [minutes(step) for step in done]
    total_of_today(bench, now, before[2] + 60)
    assert len(gather(day=timezone.localdate(now)).history.hours) == 1
    [total] = bench_client.get(reverse("day")).context["totals"]
    with pytest.raises(Refused, match="Take that total back first"):
        note_hours(person=bench, from_day=total.from_day, to_day=total.to_day, minutes=D(30), signed=Signed(bench, now))
    tap = reverse("total-back", args=[total.pk])
    counter_client.post(tap, {"submission_key": form_key()})
    assert BenchHours.objects.standing().count() == 1  # it is somebody else's
    was = Experience.objects.get().learned_at
    answer = bench_client.post(tap, {"submission_key": form_key()}, follow=True)
    assert "Its steps stand as planned again" in answer.content.decode()
    assert [minutes(step) for step in done] == before
    assert not answer.context["totals"]
    assert answer.context["waiting"]
    assert gather(day=timezone.localdate(now)).history.hours == ()
    assert Experience.objects.get().learned_at > was
    assert JournalEntry.objects.filter(verb="hours.take_back").count() == 1
    bench_client.post(tap, {"submission_key": form_key()})
    assert JournalEntry.objects.filter(verb="hours.take_back").count() == 1
    total_of_today(bench, now, before[2] + 90)
    assert minutes(done[0]) + minutes(done[1]) == 90


def test_a_keeper_takes_back_the_total_of_anybody(done, bench, keeper):
    now = timezone.now()
    total_of_today(bench, now, minutes(done[2]) + 60)
    b.take_total_back(hours=BenchHours.objects.get(), signed=Signed(keeper, now))
    assert not BenchHours.objects.standing().exists()


def test_one_total_for_the_week(done, bench, bench_client, form_key):
    monday = timezone.localdate() - timedelta(days=timezone.localdate().weekday())
    StepTime.objects.filter(step=done[0]).update(day=monday)
    own = minutes(done[2])
    answer = bench_client.post(reverse("week"), {"submission_key": form_key(), "minutes": str(own + 120)})
    assert answer.url == reverse("week")
    assert minutes(done[0]) + minutes(done[1]) == 120
    total = BenchHours.objects.get()
    assert (total.from_day, total.to_day, total.minutes) == (monday, timezone.localdate(), own + 120)
    again = bench_client.get(reverse("day")).context["totals"]
    assert [one.pk for one in again] == [total.pk]


# --- a week in which totals were given already ------------------------------------------------------------------------

MONDAY = date(2026, 11, 2)
FRIDAY = MONDAY + timedelta(days=4)
AT = datetime(2026, 11, 6, 17, 0, tzinfo=UTC)


@pytest.fixture
def week(job, bench):
    """Four steps done as planned, on Monday, Wednesday, Thursday and Friday."""
    steps = list(job.steps.order_by("position")[:4])
    for step, number in zip(steps, (0, 2, 3, 4), strict=True):
        step.refresh_from_db()
        b.finish_step(step=step, minutes=b.planned_minutes(step), typed=False, signed=Signed(bench, AT))
        StepTime.objects.filter(step=step).update(day=MONDAY + timedelta(days=number))
    return steps


def given(person, first: int, last: int, minutes: int) -> None:
    days = {"first": MONDAY + timedelta(days=first), "last": MONDAY + timedelta(days=last)}
    b.spread_total(person=person, **days, minutes=D(minutes), signed=Signed(person, AT))


def stored() -> list[tuple[int, int, Decimal]]:
    rows = BenchHours.objects.standing().order_by("from_day")
    return [((row.from_day - MONDAY).days, (row.to_day - MONDAY).days, row.minutes) for row in rows]


def test_a_weeks_total_takes_in_the_one_of_its_first_days(week, bench):
    given(bench, 0, 2, 100)
    before = minutes(week[0]), minutes(week[1])
    given(bench, 0, 4, 170)
    assert (minutes(week[0]), minutes(week[1])) == before
    assert minutes(week[2]) + minutes(week[3]) == 70
    assert stored() == [(0, 2, 100), (3, 4, 70)]
    assert [hours.minutes for hours in gather(day=FRIDAY).history.hours] == [100, 70]


def test_days_between_totals_share_what_is_left(week, bench):
    given(bench, 2, 2, 40)
    given(bench, 0, 4, 200)
    assert minutes(week[1]) == 40
    assert sum(minutes(step) for step in week) == 200
    assert stored() == [(0, 1, minutes(week[0])), (2, 2, 40), (3, 4, minutes(week[2]) + minutes(week[3]))]


def test_only_the_rest_given_as_the_week_is_asked_about(week, bench):
    given(bench, 0, 2, 100)
    with pytest.raises(Refused) as refusal:
        given(bench, 0, 4, 70)
    assert refusal.value.messages == [
        "Minutes must be above the 1 h 40 that are written down already, 1 h 40 for Mon 2 Nov to Wed 4 Nov among them, "
        "like 2 h."
    ]
    assert stored() == [(0, 2, 100)]


def test_a_day_that_a_total_stands_for_takes_no_other(week, bench):
    given(bench, 0, 2, 100)
    for first, last in ((2, 2), (1, 3)):
        with pytest.raises(Refused, match=r"already: 1 h 40 for Mon 2 Nov to Wed 4 Nov\. Take it back first"):
            given(bench, first, last, 60)
    given(bench, 3, 3, 50)
    assert stored() == [(0, 2, 100), (3, 3, 50)]


def test_taking_the_rest_back_leaves_the_first_days_as_they_were(week, bench):
    given(bench, 0, 2, 100)
    given(bench, 0, 4, 170)
    b.take_total_back(hours=BenchHours.objects.get(from_day=MONDAY + timedelta(days=3)), signed=Signed(bench, AT))
    assert minutes(week[0]) + minutes(week[1]) == 100
    assert minutes(week[3]) == b.planned_minutes(week[3])
    given(bench, 0, 4, 180)
    assert stored() == [(0, 2, 100), (3, 4, 80)]


def test_the_page_of_the_week_says_what_is_part_of_it(done, bench, bench_client, form_key, monkeypatch):
    monday = timezone.localdate() - timedelta(days=3)  # as on a Thursday
    monkeypatch.setattr("quotes.views.job.days.monday", lambda day: monday)
    StepTime.objects.filter(step=done[0]).update(day=monday)
    b.spread_total(person=bench, first=monday, last=monday, minutes=D(90), signed=Signed(bench, timezone.now()))
    page = reverse("week")
    html = bench_client.get(page).content.decode()
    assert "Give the whole week" in html
    assert html.index('name="minutes"') < html.index("Totals you gave") < html.index("What you did")
    days = [row["time"].day for row in bench_client.get(page).context["rows"]]
    assert days == sorted(days)
    assert days[0] == monday
    assert "1 h 30 for" in html
    sent = {"submission_key": form_key(), "minutes": str(90 + minutes(done[2]) + 30)}
    answer = bench_client.post(page, sent, follow=True)
    assert "30 min spread over 1 step." in answer.content.decode()
    assert minutes(done[0]) == 90
    assert minutes(done[1]) == 30
    assert not answer.context["waiting"]
    assert "Give the whole week" not in answer.content.decode()


@pytest.mark.django_db(transaction=True)
def test_two_windows_that_note_the_same_week_store_one_total(bench, counter):
    """One is noted by the person, one at the counter, over days that overlap."""
    now, said, gate = timezone.now(), [], threading.Barrier(2)
    today = timezone.localdate(now)

    def note(by, first):
        try:
            gate.wait(10)
            total = note_hours(person=bench, from_day=first, to_day=today, minutes=D(300), signed=Signed(by, now))
            said.append(total.minutes)
        except Refused as refusal:
            said.append(refusal.messages[0])
        finally:
            connections.close_all()

    firsts = (bench, today - timedelta(days=6)), (counter, today - timedelta(days=2))
    threads = [threading.Thread(target=note, args=args) for args in firsts]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(map(str, said)) == [
        "300",
        "Hours of this person are noted for some of these days already. Take that total back first.",
    ]
    assert BenchHours.objects.standing().count() == 1
