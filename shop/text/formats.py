"""How days, times of day and hands-on minutes are written, on screens, papers and in sentences."""

from __future__ import annotations

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
