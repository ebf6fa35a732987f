"""Calendars against RFC 5545, iCalendar: its worked examples, and its grammar read by hand for all the rest.

Examples: folding 3.1, DATE-TIME in UTC 3.3.5, TEXT 3.3.11, an event of several days 3.6.1.
Dates and time zones are read by python-dateutil.
"""

from __future__ import annotations

import io
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz
from hypothesis import given
from hypothesis import strategies as st

from shop.text.icalendar import CalendarEvent, day, folded, icalendar, moment, text
from tests.published.ical import read_calendar, unfolded

AT = datetime(2026, 11, 25, 9, tzinfo=UTC)


def told(*events: CalendarEvent, name: str = "Marram") -> bytes:
    return icalendar(name, events, at=AT)


def test_a_folded_line_reads_as_in_section_3_1():
    long = "DESCRIPTION:This is a long description that exists on a long line."
    assert unfolded(b"DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n") == [long]
    assert folded(long) == long.encode() + b"\r\n"  # 67 octets: nothing to fold


def test_a_line_of_75_octets_stands_and_one_of_76_is_folded():
    assert folded("A:" + "x" * 73) == b"A:" + b"x" * 73 + b"\r\n"
    assert folded("A:" + "x" * 74) == b"A:" + b"x" * 73 + b"\r\n x\r\n"


def test_a_text_of_several_lines_is_written_as_in_section_3_3_11():
    said = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    assert text(said) == r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared."


def test_what_means_something_is_escaped_and_a_colon_is_not():
    assert text("a;b,c\\d:e\r\nf\x07\tg") == r"a\;b\,c\\d:e\nf g"  # 3.3.11: “a COLON character … SHALL NOT be escaped”


def test_a_moment_is_written_in_utc_as_in_section_3_3_5():
    assert moment(datetime(1998, 1, 19, 7, tzinfo=UTC)) == "19980119T070000Z"
    new_york = datetime(1997, 7, 14, 13, 30, tzinfo=ZoneInfo("America/New_York"))
    assert moment(new_york) == "19970714T173000Z"  # the same instant in the section's last example


def test_an_event_of_several_days_ends_on_the_day_after_as_in_section_3_6_1():
    festival = CalendarEvent(
        "20070423T123432Z-541111@example.com",
        "Festival International de Jazz de Montreal",
        date(2007, 6, 28),
        date(2007, 7, 8),
        busy=False,
    )
    stamp = datetime(2007, 4, 23, 12, 34, 32, tzinfo=UTC)
    lines = icalendar("x", [festival], at=stamp).decode().split("\r\n")
    begins = lines.index("BEGIN:VEVENT")
    assert lines[begins : lines.index("END:VEVENT") + 1] == [
        "BEGIN:VEVENT",
        "UID:20070423T123432Z-541111@example.com",
        "DTSTAMP:20070423T123432Z",
        "DTSTART;VALUE=DATE:20070628",
        "DTEND;VALUE=DATE:20070709",
        "SUMMARY:Festival International de Jazz de Montreal",
        "TRANSP:TRANSPARENT",
        "END:VEVENT",
    ]


def test_a_calendar_of_nothing_holds_a_component_all_the_same():
    calendar = read_calendar(told())
    assert [part.name for part in calendar.within] == ["VTIMEZONE"]
    zone = tz.tzical(io.StringIO(told().decode().replace("\r\n", "\n"))).get("Etc/UTC")
    assert datetime(2026, 7, 1, tzinfo=zone).utcoffset() == timedelta(0)


WORDS = st.text(st.characters(codec="utf-8"), max_size=200)
DAYS = st.dates(date(1950, 1, 1), date(2199, 1, 1))
MOMENTS = st.builds(lambda day, at: datetime.combine(day, at), DAYS, st.times(timezones=st.timezones()))


@given(WORDS, WORDS, DAYS, st.integers(0, 90))
def test_whole_days_with_any_words_keep_to_the_grammar(summary, words, first, more):
    event = CalendarEvent("one", summary, first, first + timedelta(days=more), words)
    (read,) = read_calendar(told(event, name=summary)).within
    assert (read.when("DTSTART"), read.when("DTEND")) == (first, first + timedelta(days=more + 1))
    kept = text(summary).replace("\\n", "\n").replace("\\;", ";").replace("\\,", ",").replace("\\\\", "\\")
    assert "\\" in summary or read.text("SUMMARY") == kept


@given(MOMENTS, st.integers(1, 600))
def test_moments_of_any_zone_are_the_same_instants(begins, minutes):
    begins = begins.replace(microsecond=0)
    event = CalendarEvent("one", "x", begins, begins.astimezone(UTC) + timedelta(minutes=minutes))
    (read,) = read_calendar(told(event)).within
    assert read.when("DTSTART") == begins.astimezone(UTC)
    assert read.when("DTEND") - read.when("DTSTART") == timedelta(minutes=minutes)


@pytest.mark.parametrize("sign", ["é", "漢", "🏄"])
def test_no_sign_is_torn_apart_by_folding(sign):
    for before in range(80):
        line = "S:" + "a" * before + sign * 60
        assert unfolded(folded(line)) == [line]


def test_the_same_events_give_the_same_bytes():
    event = CalendarEvent("one", "Ready", date(2026, 12, 3), date(2026, 12, 3))
    assert told(event) == told(event)
    assert day(date(2026, 12, 3)) == "20261203"
