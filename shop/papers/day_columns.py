"""Days beside each other as columns of hours, laid out for inline SVG. PURE.

A column is as high as the day's hours open: from the foot what is planned, above it what is free, and on top what goes
elsewhere. What must stand in words stands in a table beside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

WIDTH = 360.0
TOP, FOOT, LEFT = 22.0, 142.0, 34.0
LEAST_HOURS = 4.0  # at the top of the axis, however little a day has


class DayHours(NamedTuple):
    """Hours of a day, `label` in two lines: open, at the bench, planned; `note` stands instead of a column."""

    label: tuple[str, str]
    open_h: float
    bench_h: float
    planned_h: float
    note: str = ""


class DayColumn(NamedTuple):
    """A drawn day: three boxes on each other by their upper edges and heights, and what stands above and below."""

    x: str
    middle: str
    label: tuple[str, str]
    planned_y: str
    planned: str
    free_y: str
    free: str
    elsewhere_y: str
    elsewhere: str
    above_y: str
    above: str
    note: str


class HourTick(NamedTuple):
    """A line of hours on the axis."""

    at: str
    label: str


@dataclass(frozen=True)
class DayColumns:
    """The columns and their axis."""

    view_box: str
    ticks: tuple[HourTick, ...]
    columns: tuple[DayColumn, ...]
    width: str


def _n(value: float) -> str:
    return f"{value:.1f}"


def day_columns(days: Sequence[DayHours]) -> DayColumns:
    """Columns of days in hours, none below zero. More planned than hands are there stands as high as it is."""
    most = max([LEAST_HOURS, *(max(day.open_h, day.planned_h) for day in days)])
    step = next(step for step in (1, 2, 4, 8, 16, 32, most) if most / step <= 5)
    per_hour, apart = (FOOT - TOP) / most, (WIDTH - LEFT) / max(len(days), 1)
    wide = apart * 0.62

    def drawn(number: int, day: DayHours) -> DayColumn:
        left = LEFT + apart * number + (apart - wide) / 2
        planned = day.planned_h * per_hour
        free = max(day.bench_h - day.planned_h, 0.0) * per_hour
        elsewhere = max(day.open_h - max(day.bench_h, day.planned_h), 0.0) * per_hour
        top = FOOT - planned - free - elsewhere
        above = "" if day.note else f"{max(day.bench_h - day.planned_h, 0.0):.1f}"
        return DayColumn(
            _n(left), _n(left + wide / 2), day.label, _n(FOOT - planned), _n(planned), _n(FOOT - planned - free),
            _n(free), _n(top), _n(elsewhere), _n(top - 5), above, day.note,
        )  # fmt: skip

    ticks = [HourTick(_n(FOOT - hour * per_hour), f"{hour:g} h") for hour in _hours(step, most)]
    columns = tuple(drawn(number, day) for number, day in enumerate(days))
    return DayColumns(f"0 0 {_n(WIDTH)} {_n(FOOT + 38)}", tuple(ticks), columns, _n(wide))


def _hours(step: float, most: float) -> list[float]:
    return [step * number for number in range(int(most / step + 1e-9) + 1)]
