"""Hours at which the shop's day is not the machine's, and nights in which an hour comes twice or never.

The clocks of Ireland change at 01:00 UTC on the last Sundays of March and October: Directive 2000/84/EC on summer-time
arrangements, articles 2 and 3.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from io import StringIO
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from inventory.counting.counts import start_count
from inventory.models import DataSheet
from quotes import experience
from quotes.experience.rows import day_number
from quotes.management import twenty
from quotes.management.clock import Clock, after
from quotes.management.commands.demo import Command as Demo
from shop.models import JournalEntry
from shop.papers import paper
from shop.platform.acts import Signed
from tests.conftest import logged_in
from tests.inventory.conftest import Shelf

DUBLIN = ZoneInfo("Europe/Dublin")
JULY = datetime(2027, 6, 30, 23, 30, tzinfo=UTC)  # half past midnight of 1 July in the shop
BACK = datetime(2026, 10, 25, 1, 0, tzinfo=UTC)  # 02:00 is 01:00 again
FORWARD = datetime(2027, 3, 28, 1, 0, tzinfo=UTC)  # 01:00 is 02:00


@pytest.fixture
def shelf(keeper):
    return Shelf(keeper)


def test_a_data_sheet_of_today_is_no_sheet_of_the_future(shelf, counter, form_key):
    entries = {"submission_key": form_key(), "issued_on": "2027-07-01"}
    with time_machine.travel(JULY):
        answer = logged_in(counter).post(
            reverse("data-sheet", args=[shelf.material.pk]),
            {**entries, "sheet": SimpleUploadedFile("resin.pdf", b"%PDF-1.7 of today", "application/pdf")},
        )
    assert answer.status_code == 302
    assert DataSheet.objects.get().issued_on == date(2027, 7, 1)


@pytest.mark.parametrize(
    ("name", "more"), [("tick", ()), ("backtest", ()), ("export_history", ("folder",))], ids=lambda said: str(said)
)
def test_commands_live_on_the_shops_day(profile, tmp_path, monkeypatch, name, more):
    days = []

    def noted(verb, key):
        known = getattr(experience, verb)
        monkeypatch.setattr(experience, verb, lambda **said: days.append(said[key]) or known(**said))

    noted("ask", "on")
    noted("backtest", "day")
    noted("gather", "day")
    with time_machine.travel(JULY):
        call_command(name, *(str(tmp_path / one) for one in more), stdout=StringIO(), stderr=StringIO())
    assert days
    assert set(days) == {date(2027, 7, 1)}
    assert timezone.get_current_timezone_name() == "UTC", "and leave the zone as it was"


COUNTED = [
    ("10 minutes after midnight", datetime(2027, 1, 1, 0, 10, tzinfo=UTC), "23:55", datetime(2026, 12, 31, 23, 55, tzinfo=UTC)),
    ("this morning", datetime(2027, 1, 1, 19, 0, tzinfo=UTC), "08:00", datetime(2027, 1, 1, 8, 0, tzinfo=UTC)),
    ("the hour for the first time", BACK - timedelta(minutes=10), "01:40", BACK - timedelta(minutes=20)),
    ("the hour for the second time", BACK + timedelta(minutes=50), "01:40", BACK + timedelta(minutes=40)),
    ("the hour is over", FORWARD + timedelta(minutes=10), "00:50", FORWARD - timedelta(minutes=10)),
]  # fmt: skip


@pytest.mark.parametrize(("_when", "now", "typed", "meant"), COUNTED)
def test_the_time_of_a_count_is_the_last_time_it_was_as_late(shelf, bench, form_key, _when, now, typed, meant):
    before = now - timedelta(days=2)
    shelf.receive("777", "5.00", received_on=before.date(), recorded_at=before)
    line = start_count(shelf="A1", everything=False, blind=True, signed=Signed(shelf.by, before)).lines.get()
    with time_machine.travel(now):
        answer = logged_in(bench).post(
            reverse("count-line", args=[line.pk]), {"loose": "700", "counted_at": typed, "submission_key": form_key()}
        )
    assert answer.status_code == 302
    line.refresh_from_db()
    assert line.counted_at == meant


def test_a_time_that_lies_ahead_is_not_taken_for_yesterdays(shelf, bench, form_key):
    shelf.receive("777", "5.00")
    line = start_count(shelf="A1", everything=False, blind=True, signed=shelf.signed()).lines.get()
    with time_machine.travel(datetime(2027, 1, 15, 14, 25, tzinfo=UTC)):
        answer = logged_in(bench).post(
            reverse("count-line", args=[line.pk]),
            {"loose": "700", "counted_at": "14:30", "submission_key": form_key()},
        )
    assert answer.status_code == 422
    assert "must not lie in the future" in answer.content.decode()


@pytest.mark.parametrize("change", [BACK, FORWARD])
def test_what_came_first_stays_first_in_the_night_the_clocks_change(change):
    moments = [change + timedelta(minutes=15 * number) for number in range(-12, 13)]
    with timezone.override(DUBLIN):
        numbers = [day_number(moment) for moment in moments]
        first, last = (
            day_number(datetime.combine(change.date() + timedelta(days=n), datetime.min.time(), DUBLIN)) for n in (0, 1)
        )
    assert all(before < then for before, then in pairwise(numbers))
    assert last - first == 1
    assert first <= numbers[12] < last


def test_the_storys_clock_counts_the_hours_that_really_pass():
    for change in (BACK, FORWARD):
        before = (change - timedelta(minutes=30)).astimezone(DUBLIN)
        assert after(before, 60).astimezone(UTC) == change + timedelta(minutes=30)
    sunday = datetime(2026, 11, 29, 20, 0, tzinfo=DUBLIN)
    assert Clock.of_the_working_day_before(sunday).go_on() == datetime(2026, 11, 27, 17, 0, tzinfo=DUBLIN)
    monday = datetime(2026, 11, 30, 8, 0, tzinfo=DUBLIN)
    assert Clock.of_the_working_day_before(monday).go_on() == datetime(2026, 11, 27, 9, 0, tzinfo=DUBLIN)


STORIES = [
    "2026-11-30T08:10+00:00",  # a Monday before the shop opens
    "2026-12-02T10:00+00:00",  # a Wednesday, with the weekend in the middle of what is on the rack
    "2028-02-29T12:00+00:00",
    "2026-12-31T23:40+00:00",
    "2026-10-25T02:10+00:00",  # after the hour that came twice
    "2027-03-28T01:10+00:00",  # after the hour that never came
]


@pytest.mark.slow
@pytest.mark.django_db
@pytest.mark.parametrize("moment", STORIES)
def test_the_demo_tells_its_story_on_any_day_and_ends_it_today(settings, tmp_path, monkeypatch, moment):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(twenty, "JOBS", 2)
    if moment != STORIES[0]:  # how lines fall on a paper hangs on its words, not on the day: one story sets them all
        monkeypatch.setattr(paper, "_set", lambda html, tagged: (f"%PDF of {len(html)} letters".encode(), []))
    told = StringIO()
    with time_machine.travel(datetime.fromisoformat(moment)), timezone.override(DUBLIN):
        Demo(stdout=told).tell_story()
        call_command("check_books", stdout=told)
        assert not JournalEntry.objects.filter(at__gt=timezone.now()).exists(), "nothing lies ahead"
    assert "an hour earned" in told.getvalue()
    assert "The books are right: nothing found" in told.getvalue()
