"""When each step can be done: work fits into hands-on hours of working days, cure runs day and night.

A step begins when the one before is done and its wait is over. It is not begun if it does not fit into what is left of
the day; one of more than a day begins with a day and runs over several.
Invariants: nothing overlaps, no step lies on a day that is not worked, and a longer step never ends sooner.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

_HOURS = 24.0


class Slot(NamedTuple):
    """Where one step lies: the days it begins and ends on (0 is the first), and hours from the start of day 0."""

    day: int
    end_day: int
    start_h: float
    end_h: float
    late: bool  # the window of the step before is over by then


class Timed(NamedTuple):
    """What the schedule needs of a step: hands-on minutes, and its window in hours after the step before."""

    minutes: float
    earliest_start_h: float
    latest_start_h: float | None


def lay_out(
    steps: Iterable[Mapping[str, Any]],
    *,
    hours_per_day: float,
    is_open: Callable[[int], bool] = lambda day: True,
    start_h: float = 0.0,
) -> list[Slot]:
    """A slot for each step of a snapshot, in order; see `place_in_days`."""
    timed = [Timed(step["minutes"], step["earliest_start_h"], step["latest_start_h"]) for step in steps]
    return place_in_days(timed, hours_per_day=hours_per_day, is_open=is_open, start_h=start_h)


def place_in_days(
    steps: Iterable[Timed],
    *,
    hours_per_day: float,
    is_open: Callable[[int], bool] = lambda day: True,
    start_h: float = 0.0,
) -> list[Slot]:
    """A slot for each step, in order. `is_open(n)` says whether day n is worked.

    `start_h` is how far into the first day the work begins. Raises ValueError if a day has no hands-on hours or no day
    in a year is worked.
    """
    if hours_per_day <= 0:
        raise ValueError("A working day needs hands-on hours above zero.")
    day_h = min(hours_per_day, _HOURS)
    now, slots = start_h, []
    for step in steps:
        hours = step.minutes / 60.0
        earliest = now + step.earliest_start_h
        start = _next_open(earliest, hours, day_h, is_open)
        end = _worked(start, hours, day_h, is_open)
        latest = step.latest_start_h
        late = latest is not None and start > now + latest + 1e-9
        slots.append(Slot(int(start // _HOURS), int(max(start, end - 1e-9) // _HOURS), start, end, late))
        now = end
    return slots


def _next_open(at: float, hours: float, day_h: float, is_open: Callable[[int], bool]) -> float:
    """The first moment from `at` on at which a step of so many hours may begin."""
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
    """When so many hands-on hours from `start` on are done."""
    now = start
    while True:
        left = int(now // _HOURS) * _HOURS + day_h - now
        if hours <= left + 1e-9:
            return now + hours
        hours -= left
        now = _next_open((int(now // _HOURS) + 1) * _HOURS, 0.0, day_h, is_open)
