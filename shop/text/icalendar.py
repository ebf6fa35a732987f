"""A calendar as text that calendars read. PURE: what is shown comes in, bytes go out.

Source: RFC 5545, *iCalendar*: content lines and folding 3.1, DATE 3.3.4, DATE-TIME in UTC 3.3.5, TEXT 3.3.11, the
object 3.4 and 3.6, VEVENT 3.6.1; NAME and REFRESH-INTERVAL: RFC 7986, 5.1 and 5.7.
Invariant: the same events give the same bytes.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

LONGEST = 75  # octets of a line without its end: RFC 5545, 3.1
PRODUCT = "-//Dryrack//Ready days//EN"
_NOTHING = (  # an object must hold a component (RFC 5545, 3.6); where there is no event, this one says nothing
    "BEGIN:VTIMEZONE", "TZID:Etc/UTC", "BEGIN:STANDARD", "DTSTART:19700101T000000", "TZOFFSETFROM:+0000",
    "TZOFFSETTO:+0000", "END:STANDARD", "END:VTIMEZONE",
)  # fmt: skip


@dataclass(frozen=True)
class CalendarEvent:
    """Something on one or more whole days (`first` and `last` are dates) or from a moment to a moment (aware).

    `uid` stays that of the same thing whenever it is told again. `busy`: whether it takes up the time.
    """

    uid: str
    summary: str
    first: date | datetime
    last: date | datetime
    words: str = ""
    busy: bool = True


def icalendar(name: str, events: Iterable[CalendarEvent], *, at: datetime) -> bytes:
    """A calendar of that name with its events as they were known at a moment (aware)."""
    lines = [
        "BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{PRODUCT}", "CALSCALE:GREGORIAN", f"NAME:{text(name)}",
        "REFRESH-INTERVAL;VALUE=DURATION:PT1H",
    ]  # fmt: skip
    told = [line for event in events for line in _event(event, at)]
    lines += [*(told or _NOTHING), "END:VCALENDAR"]
    return b"".join(folded(line) for line in lines)


def _event(event: CalendarEvent, at: datetime) -> Iterator[str]:
    yield from ("BEGIN:VEVENT", f"UID:{event.uid}", f"DTSTAMP:{moment(at)}")
    if isinstance(event.first, datetime) and isinstance(event.last, datetime):
        yield from (f"DTSTART:{moment(event.first)}", f"DTEND:{moment(event.last)}")
    else:  # the end of whole days is the day after the last: RFC 5545, 3.6.1
        yield f"DTSTART;VALUE=DATE:{day(event.first)}"
        yield f"DTEND;VALUE=DATE:{day(event.last + timedelta(days=1))}"
    yield f"SUMMARY:{text(event.summary)}"
    if event.words:
        yield f"DESCRIPTION:{text(event.words)}"
    yield from (f"TRANSP:{'OPAQUE' if event.busy else 'TRANSPARENT'}", "END:VEVENT")


def text(words: str) -> str:
    """Words as a TEXT value: what means something there is escaped, a line's end is written, control signs are not."""
    words = words.replace("\r\n", "\n").replace("\r", "\n").replace("\t", " ")
    words = words.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,").replace("\n", "\\n")
    return "".join(sign for sign in words if unicodedata.category(sign) not in ("Cc", "Cs"))


def moment(at: datetime) -> str:
    """A moment in UTC: 20261203T083000Z."""
    return f"{at.astimezone(UTC):%Y%m%dT%H%M%SZ}"


def day(on: date) -> str:
    """A day: 20261203."""
    return f"{on:%Y%m%d}"


def folded(line: str) -> bytes:
    """A content line with its end, in pieces of at most 75 octets, no sign of it torn apart."""
    pieces, piece = [], b""
    for sign in line:
        octets = sign.encode()
        if len(piece) + len(octets) > LONGEST:
            pieces.append(piece)
            piece = b" "  # what a line goes on with counts too
        piece += octets
    return b"\r\n".join([*pieces, piece]) + b"\r\n"
