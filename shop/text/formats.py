"""How days, times of day and hands-on minutes are written, on screens, papers and in sentences."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from django.utils import timezone
from django.utils.dateformat import format as day_words

NOTHING = "–"


def _local(value: date | datetime) -> date | datetime:
    return timezone.localtime(value) if isinstance(value, datetime) and timezone.is_aware(value) else value


def day(value: date | datetime | None) -> str:
    """Tue 3 Mar."""
    return day_words(_local(value), "D j M") if value else NOTHING


def day_year(value: date | datetime | None) -> str:
    """Tue 3 Mar 2026, for papers and whatever is kept."""
    return day_words(_local(value), "D j M Y") if value else NOTHING


def clock(value: datetime | None) -> str:
    """14:20, in the shop's time zone."""
    return day_words(_local(value), "H:i") if value else NOTHING


def moment(value: datetime | None) -> str:
    """Tue 3 Mar, 14:20."""
    return day_words(_local(value), "D j M, H:i") if value else NOTHING


def hands(minutes: float | Decimal | None) -> str:
    """Hands-on time: 45 min, 8 h 20."""
    if minutes in (None, ""):
        return NOTHING
    hours, rest = divmod(round(float(minutes or 0)), 60)
    return f"{hours} h {rest:02d}" if hours else f"{rest} min"


def in_ten(chance: float) -> str:
    """A chance from 0 to 1 as people say it: 9 in 10, even, less than 1 in 10.

    To the next tenth, but what lies below even is never called even.
    """
    tenths = min(4, int(10 * chance + 0.5)) if chance < 0.5 else int(10 * chance + 0.5)
    if tenths == 5:
        return "even"
    return "less than 1 in 10" if tenths < 1 else "more than 9 in 10" if tenths > 9 else f"{tenths} in 10"


def within(name: str) -> str:
    """A name within a sentence; one that begins with capitals, like EPS, keeps them."""
    return name if name[1:2].isupper() else name[:1].lower() + name[1:]


def listed(said: Sequence[str]) -> str:
    """Words or numbers one after the other: 1, 3 and 4."""
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"
