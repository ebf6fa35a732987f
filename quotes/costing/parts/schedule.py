"""When each step can be done: work fits into hands-on hours of working days, cure runs day and night.

A step begins when the one before is done and its wait is over. It is not begun if it does not fit into what is left of
the day; one of more than a day begins with a day and runs over several. What belongs to the sitting of the step before
counts with it: neither is begun where both do not fit into one day.
Invariants: nothing overlaps, no step lies on a day that is not worked, and a longer step never ends sooner.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from quotes.costing.snapshot import PlannedStep

_HOURS = 24.0


class Slot(NamedTuple):
    """A step in time: the days it begins and ends on (0 is the first), and hours from the start of day 0."""

    day: int
    end_day: int
    start_h: float
    end_h: float
    late: bool  # the window of the step before is over by then


class Timed(NamedTuple):
    """A step as the schedule needs it: hands-on minutes, and its window in hours after the step before.

    `pause_h` are hours within it in which the board waits; one of the same `sitting` follows on the day of the step
    before.
    """

    minutes: float
    earliest_start_h: float
    latest_start_h: float | None
    pause_h: float = 0.0
    sitting: bool = False

    @classmethod
    def of(cls, step: PlannedStep) -> Timed:
        """Timed step of a planned step."""
        return cls(step.minutes, step.earliest_start_h, step.latest_start_h, step.pause_h, step.same_sitting)

    @property
    def hours(self) -> float:
        """Hours from its beginning to its end, if it is done in one go."""
        return self.minutes / 60.0 + self.pause_h


def lay_out(
    steps: Iterable[PlannedStep],
    *,
    hours_per_day: float,
    is_open: Callable[[int], bool] = lambda day: True,
    start_h: float = 0.0,
) -> list[Slot]:
    """Slots for the steps of a snapshot, in order, with so many hands-on hours a day; see `place_in_days`."""
    return place_in_days(map(Timed.of, steps), hours_per_day=hours_per_day, is_open=is_open, start_h=start_h)


def place_in_days(
    steps: Iterable[Timed],
    *,
    hours_per_day: float,
    is_open: Callable[[int], bool] = lambda day: True,
    start_h: float = 0.0,
) -> list[Slot]:
    """Slots for timed steps, in order, with so many hands-on hours a day. `is_open(n)` says whether day n is worked.

    `start_h` is how far into the first day the work begins, in hours. Raises ValueError if a day has no hands-on hours
    or no day in a year is worked.
    """
    if hours_per_day <= 0:
        raise ValueError("A working day needs hands-on hours above zero.")
    day_h = min(hours_per_day, _HOURS)
    now, slots, steps = start_h, [], list(steps)
    for at, step in enumerate(steps):
        hours = step.hours
        earliest = now + step.earliest_start_h
        sitting = _sitting(steps, at)
        start = _next_open(earliest, sitting if sitting <= day_h else hours, day_h, is_open)
        end = _worked(start, hours, day_h, is_open)
        latest = step.latest_start_h
        late = latest is not None and start > now + latest + 1e-9
        slots.append(Slot(int(start // _HOURS), int(max(start, end - 1e-9) // _HOURS), start, end, late))
        now = end
    return slots


def _sitting(steps: list[Timed], at: int) -> float:
    """Hours of a step and of what follows in its sitting, their waits too."""
    hours = steps[at].hours
    for after in steps[at + 1 :]:
        if not after.sitting:
            break
        hours += after.earliest_start_h + after.hours
    return hours


def _next_open(at: float, hours: float, day_h: float, is_open: Callable[[int], bool]) -> float:
    """First moment from `at` on, in hours, at which a step of so many hours may begin.

    Raises ValueError if no day within a year is worked.
    """
    day = int(at // _HOURS)
    into = at - day * _HOURS
    fits = into + hours <= day_h + 1e-9 or into < 1e-9
    if is_open(day) and fits:
        return at
    for later in range(day + 1, day + 367):
        if is_open(later):
            return later * _HOURS
    raise ValueError("No day within a year is worked: check the working days and closed days.")


def _worked(start: float, hours: float, day_h: float, is_open: Callable[[int], bool]) -> float:
    """Moment, in hours, when so many hands-on hours from `start` on are done."""
    now = start
    while True:
        left = int(now // _HOURS) * _HOURS + day_h - now
        if hours <= left + 1e-9:
            return now + hours
        hours -= left
        now = _next_open((int(now // _HOURS) + 1) * _HOURS, 0.0, day_h, is_open)
