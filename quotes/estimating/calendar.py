"""Working days and hours, and the day a run of steps is ready on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from math import fsum

from quotes.costing import PlannedStep, lay_out
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

    def begun_after(self, day: date, minutes: float) -> date:
        """The first worked day on or after `day` that is free once so many hands-on minutes of other work are done."""
        free = self.first_open(day)
        for _ in range(int(minutes // (60 * self.hours_per_day))):
            free = self.first_open(free + timedelta(days=1))
        return free


def shop_calendar() -> Calendar:
    """The shop's working days, closed days and hands-on hours, in two queries."""
    profile = Profile.objects.get()
    return Calendar(
        hours_per_day=as_float(profile.bench_hours_per_day),
        working_days=frozenset(profile.working_days or MONDAY_TO_FRIDAY),
        closed=frozenset(ClosedDay.objects.values_list("day", flat=True)),
    )


def ready_on(parts: Sequence[Sequence[PlannedStep]], *, start: date, calendar: Calendar) -> date | None:
    """The day a way is ready when its first step is begun on `start`, a worked day. None if there is nothing to do.

    `parts` holds the planned steps of each part. Cures of different parts run side by side; hands do one thing at a
    time, so each part is reckoned as if the hands did all the others first, and the latest one counts.
    """
    hands = [fsum(step.minutes for step in steps) for steps in parts]
    last = None
    for steps, own in zip(parts, hands, strict=True):
        if not steps:
            continue
        first = replace(steps[0], minutes=steps[0].minutes + fsum(hands) - own)
        slots = lay_out(
            [first, *steps[1:]],
            hours_per_day=calendar.hours_per_day,
            is_open=lambda number: calendar.is_open(start + timedelta(number)),
        )
        last = max(last or 0, slots[-1].end_day)
    return None if last is None else start + timedelta(last)
