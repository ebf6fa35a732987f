"""Working days and hours of the shop, on which what steps need is wanted."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from quotes.estimating.inputs import as_float
from shop.models import ClosedDay, Profile
from shop.platform.acts import Refused

MONDAY_TO_FRIDAY = (0, 1, 2, 3, 4)


@dataclass(frozen=True)
class Calendar:
    """Which days are worked, and how many hands-on hours each has."""

    hours_per_day: float
    working_days: frozenset[int]
    closed: frozenset[date] = frozenset()

    def is_open(self, day: date) -> bool:
        """Whether the shop works on a day."""
        return day.weekday() in self.working_days and day not in self.closed

    def first_open(self, day: date) -> date:
        """The first worked day on or after `day`. Raises Refused if none comes within a year."""
        for later in range(366):
            if self.is_open(day + timedelta(later)):
                return day + timedelta(later)
        raise Refused("No day within a year is worked: check the working days and closed days of the shop.")


def shop_calendar() -> Calendar:
    """The shop's working days, closed days and hands-on hours, in two queries."""
    profile = Profile.objects.get()
    return Calendar(
        hours_per_day=as_float(profile.bench_hours_per_day),
        working_days=frozenset(profile.working_days or MONDAY_TO_FRIDAY),
        closed=frozenset(ClosedDay.objects.values_list("day", flat=True)),
    )
