"""A reader of calendars by the grammar of RFC 5545, for the tests: it takes nothing that the grammar does not.

Sections: content lines and folding 3.1, TEXT 3.3.11, the object and its components 3.4 and 3.6. Dates and moments are
read by python-dateutil, a general-purpose library.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from datetime import date, datetime

from dateutil.parser import isoparse

NAME = r"[A-Za-z0-9-]+"  # iana-token, x-name
SAFE = r'[^\x00-\x08\x0A-\x1F\x7F";:,]*'  # SAFE-CHAR: WSP is allowed, CONTROL and these four are not
QUOTED = r'"[^\x00-\x08\x0A-\x1F\x7F"]*"'
VALUE = r"[^\x00-\x08\x0A-\x1F\x7F]*"  # VALUE-CHAR
LINE = re.compile(rf"({NAME})((?:;{NAME}=(?:{SAFE}|{QUOTED})(?:,(?:{SAFE}|{QUOTED}))*)*):({VALUE})")
ESCAPED = re.compile(r"\\(?:([\\;,])|([nN]))")
TEXT = re.compile(r"(?:[^\x00-\x08\x0A-\x1F\x7F\\;,]|\\[\\;,nN])*")


@dataclass
class Component:
    """What stands between BEGIN and END: values with their parameters by property, and components within."""

    name: str
    lines: dict[str, list[tuple[str, str]]] = field(default_factory=dict)
    within: list[Component] = field(default_factory=list)

    def one(self, name: str) -> str:
        ((_, value),) = self.lines[name]
        return value

    def text(self, name: str) -> str:
        value = self.one(name)
        assert TEXT.fullmatch(value), f"{name} is no TEXT: {value}"
        return ESCAPED.sub(lambda met: met[1] or "\n", value)

    def when(self, name: str) -> date | datetime:
        ((parameters, value),) = self.lines[name]
        if parameters == ";VALUE=DATE":
            assert re.fullmatch(r"\d{8}", value)  # 3.3.4
            return isoparse(value).date()
        assert parameters == ""
        assert re.fullmatch(r"\d{8}T\d{6}Z", value)  # 3.3.5, form 2
        return isoparse(value)


def unfolded(data: bytes) -> list[str]:
    """The content lines; each physical line ends in CRLF, is at most 75 octets and whole signs."""
    assert data.endswith(b"\r\n")
    physical = data[:-2].split(b"\r\n")
    for line in physical:
        assert len(line) <= 75
        assert b"\r" not in line
        assert b"\n" not in line
        line.decode()  # no sign torn apart
    return re.sub("\r\n[ \t]", "", "\r\n".join(line.decode() for line in physical)).split("\r\n")


def read_calendar(data: bytes) -> Component:
    """The one VCALENDAR of a stream, its parts as 3.6 wants them."""
    top = Component("")
    open_ones = [top]
    for line in unfolded(data):
        met = LINE.fullmatch(line)
        assert met, f"no content line: {line}"
        name, parameters, value = met[1].upper(), met[2].upper(), met[3]
        if name == "BEGIN":
            open_ones[-1].within.append(Component(value))
            open_ones.append(open_ones[-1].within[-1])
        elif name == "END":
            assert open_ones.pop().name == value
        else:
            open_ones[-1].lines.setdefault(name, []).append((parameters, value))
    assert open_ones == [top]
    assert not top.lines
    (calendar,) = top.within
    assert calendar.name == "VCALENDAR"
    assert calendar.one("VERSION") == "2.0"
    assert calendar.one("PRODID")
    assert calendar.within, "an object holds at least one component (3.6)"
    for event in calendar.within:
        if event.name == "VEVENT":
            _check_event(event)
    uids = [event.one("UID") for event in calendar.within if event.name == "VEVENT"]
    assert len(set(uids)) == len(uids)
    return calendar


def _check_event(event: Component) -> None:
    """VEVENT (3.6.1): what must be there once, and an end of the same kind as the beginning, after it (3.8.2.2)."""
    assert event.one("UID")
    assert isinstance(event.when("DTSTAMP"), datetime)
    begins, ends = event.when("DTSTART"), event.when("DTEND")
    assert type(begins) is type(ends)
    assert ends > begins
    assert event.one("TRANSP") in ("OPAQUE", "TRANSPARENT")
    assert not set(event.lines) - {"UID", "DTSTAMP", "DTSTART", "DTEND", "SUMMARY", "DESCRIPTION", "TRANSP"}
