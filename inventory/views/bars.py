"""A row of bars, one a week: laid out here in plain numbers, drawn by its template."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from inventory.formats import about

WIDTH, HEIGHT, TOP, FOOT = 360, 150, 18, 20  # units of the drawing; a foot for months, a head for the highest figure
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
APART = 38  # units that the name of a month needs


class WeekBar(NamedTuple):
    """A bar of the drawing of use by week, as its template places it."""

    x: str
    y: str
    height: str


class Chart(NamedTuple):
    """Bars, months under them, the highest figure and the usual one as lines.

    `words` says it to who does not see it.
    """

    view_box: str
    width: str
    bars: tuple[WeekBar, ...]
    months: tuple[tuple[str, str], ...]
    base: str
    usual_y: str
    most: str
    words: str


def bars(weeks: Sequence[tuple[date, Decimal]], *, usual: float, unit: str) -> Chart:
    """The use of weeks (first day, quantity), the oldest first, and of a usual week; below zero is drawn as nothing."""
    most = max((float(used) for _, used in weeks), default=0.0)
    base, pitch = HEIGHT - FOOT, WIDTH / max(1, len(weeks))
    scale = (base - TOP) / most if most > 0 else 0.0
    drawn = []
    for number, (_, used) in enumerate(weeks):
        height = max(0.0, float(used)) * scale
        drawn.append(WeekBar(_n(number * pitch + 1), _n(base - height), _n(height)))
    said = f"Most in a week {about(most, unit)}, usually {about(usual, unit)}" if most > 0 else "Nothing was used"
    return Chart(
        view_box=f"0 0 {WIDTH} {HEIGHT}",
        width=_n(pitch - 2),
        bars=tuple(drawn),
        months=tuple(_months(weeks, pitch)),
        base=_n(base),
        usual_y=_n(base - usual * scale),
        most=about(most, unit),
        words=f"{said}; {len(weeks)} weeks.",
    )


def _months(weeks: Sequence[tuple[date, Decimal]], pitch: float) -> list[tuple[str, str]]:
    """A month's name under the first week that begins in it, where there is room."""
    found: list[tuple[str, str]] = []
    last, room_from = None, 0.0
    for number, (day, _) in enumerate(weeks):
        x = number * pitch + 1
        if day.month != last and x >= room_from and x <= WIDTH - APART / 2:
            found.append((_n(x), MONTHS[day.month - 1]))
            last, room_from = day.month, x + APART
    return found


def _n(value: float) -> str:
    return f"{value:.1f}"
