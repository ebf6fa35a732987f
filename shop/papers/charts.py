"""Charts of figures, laid out for inline SVG.

Strips and pairs beside each other, bars from a line, points against a range. PURE. All are 360 units wide and as high
as their rows ask; a figure that must stand in words stands in a table beside.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

WIDTH = 360.0
_TICKS = (0.1, 0.2, 0.25, 0.33, 0.5, 0.67, 0.8, 1.0, 1.25, 1.5, 2.0, 3.0, 4.0, 5.0, 10.0)
_APART = 34.0  # units that labels on one axis keep from each other
_LINE = 18.0
_FAR = 3.0  # times beyond either range; a point farther off stands at the edge, so that the ranges can still be seen


def _n(value: float) -> str:
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text


class Tick(NamedTuple):
    """A mark on an axis: where, and what stands beside it."""

    at: str
    label: str


@dataclass(frozen=True)
class LogAxis:
    """An axis on which doubling is as long as halving, from `least` to `most` (both above zero) in drawing units."""

    least: float
    most: float
    start: float
    end: float

    @classmethod
    def over(cls, values: Sequence[float], start: float, end: float) -> LogAxis:
        """Wide enough for all values and for 0.8 to 1.25, with a little room. Raises ValueError for one not above 0."""
        if any(not value > 0 for value in values):
            raise ValueError("A figure on this axis must be above zero.")
        return cls(min(0.8, *values) / 1.08, max(1.25, *values) * 1.08, start, end)

    def at(self, value: float) -> float:
        """Where a figure lies, never beyond the ends."""
        share = math.log(max(self.least, min(self.most, value)) / self.least) / math.log(self.most / self.least)
        return self.start + share * (self.end - self.start)

    def ticks(self) -> list[Tick]:
        """Round figures along the axis, 1 always among them, the others as far from it as labels need."""
        placed: list[tuple[float, float]] = []
        for value in sorted(_TICKS, key=lambda one: abs(math.log(one))):
            where = self.at(value)
            if self.least <= value <= self.most and all(abs(where - other) >= _APART for other, _ in placed):
                placed.append((where, value))
        return [Tick(_n(where), f"{value:g}") for where, value in sorted(placed)]


class Strip(NamedTuple):
    """One range standing upright with the point that came true; `out` where the point lies beyond it."""

    x: str
    line: str
    y: str
    out: bool


@dataclass(frozen=True)
class Strips:
    """Ranges beside each other on one upright log axis."""

    view_box: str
    ticks: tuple[Tick, ...]
    strips: tuple[Strip, ...]


def shares(low: float, middle: float, high: float, true: float) -> tuple[float, float, float]:
    """A row of `strips`: a range and what came true as shares of what was said; a log axis has no place for nothing."""
    return low / middle, high / middle, max(true / middle, 0.01)


def strips(rows: Sequence[tuple[float, float, float]]) -> Strips:
    """Of each row (low, high, what came true), all as a share of what was said: 1 is as said. The earliest is left."""
    top, bottom, left = 12.0, 168.0, 34.0
    axis = LogAxis.over([value for row in rows for value in row], bottom, top)
    apart = (WIDTH - left - 10) / max(len(rows), 1)
    drawn = []
    for number, (low, high, real) in enumerate(rows):
        x = left + apart * (number + 0.5)
        out = not low <= real <= high
        drawn.append(Strip(_n(x), f"M{_n(x)},{_n(axis.at(low))}V{_n(axis.at(high))}", _n(axis.at(real)), out))
    return Strips(f"0 0 {_n(WIDTH)} 180", tuple(axis.ticks()), tuple(drawn))


class Bar(NamedTuple):
    """A bar from the zero line; `words` stand above it."""

    words: str
    words_y: str
    x: str
    y: str
    width: str
    below: bool  # left of zero


@dataclass(frozen=True)
class Bars:
    """Bars below each other from one zero line, with one figure marked by a line through each of them."""

    view_box: str
    zero: str
    mark: str
    bars: tuple[Bar, ...]


def bars(rows: Sequence[tuple[str, float]], mark: float) -> Bars:
    """A bar for each (words, figure), and a line at `mark`. Figures may be below zero."""
    figures = [value for _, value in rows]
    least, most = min(0.0, mark, *figures), max(0.0, mark, *figures)
    room = (most - least) or 1.0

    def at(value: float) -> float:
        return 6 + (WIDTH - 12) * (value - least) / room

    drawn = []
    for number, (words, value) in enumerate(rows):
        y = 4 + number * 38.0
        left, right = sorted((at(0.0), at(value)))
        drawn.append(Bar(words, _n(y + 12), _n(left), _n(y + _LINE), _n(max(right - left, 1.0)), value < 0))
    height = 8 + len(rows) * 38.0
    zero = f"M{_n(at(0.0))},2V{_n(height - 2)}"
    marked = "".join(f"M{_n(at(mark))},{_n(float(bar.y) - 3)}v{_n(_LINE + 4)}" for bar in drawn)
    return Bars(f"0 0 {_n(WIDTH)} {_n(height)}", zero, marked, tuple(drawn))


class Dot(NamedTuple):
    """One point; `doubtful` ones are drawn hollow."""

    x: str
    y: str
    doubtful: bool


@dataclass(frozen=True)
class Points:
    """Two ranges above each other with their middles, and below them points, the latest lowest, on one log axis."""

    view_box: str
    ticks: tuple[Tick, ...]
    foot: str  # where the axis ends
    labels_y: str
    trade: str
    trade_middle: str
    own: str
    own_middle: str
    dots: tuple[Dot, ...]


def points(
    trade: tuple[float, float, float], own: tuple[float, float, float], logged: Sequence[tuple[float, bool]]
) -> Points:
    """The trade's and the shop's (middle, low, high), and logs as (figure, whether in doubt), the earliest first.

    A log far beyond both ranges stands at the edge.
    """
    ranges = [*trade, *own]
    least, most = min(ranges) / _FAR, max(ranges) * _FAR
    axis = LogAxis.over([*ranges, *(max(least, min(most, value)) for value, _ in logged)], 10, WIDTH - 10)
    apart = min(12.0, 200.0 / max(len(logged), 1))
    foot = 92 + apart * len(logged)
    dots = [
        Dot(_n(axis.at(max(value, axis.least))), _n(92 + apart * number), doubtful)
        for number, (value, doubtful) in enumerate(logged)
    ]

    def bar(of: tuple[float, float, float], y: int) -> tuple[str, str]:
        middle, low, high = of
        return f"M{_n(axis.at(low))},{y}H{_n(axis.at(high))}", f"M{_n(axis.at(middle))},{y - 8}v16"

    return Points(
        f"0 0 {_n(WIDTH)} {_n(foot + 22)}", tuple(axis.ticks()), _n(foot), _n(foot + 17), *bar(trade, 28), *bar(own, 68),
        tuple(dots),
    )  # fmt: skip


class Pair(NamedTuple):
    """Two figures of one thing above each other.

    `line` joins them, `before` is the corner of a square, `after` a dot.
    """

    x: str
    line: str
    before_x: str
    before_y: str
    after_y: str


@dataclass(frozen=True)
class Pairs:
    """Pairs of shares in per cent beside each other on one upright axis from 0, with the mean of either across."""

    view_box: str
    ticks: tuple[Tick, ...]
    pairs: tuple[Pair, ...]
    before_mean: str
    after_mean: str


def pairs(rows: Sequence[tuple[float, float]], means: tuple[float, float]) -> Pairs:
    """Of each row (before, after) in per cent, none below zero, and the mean of all before and all after."""
    top, bottom, left = 12.0, 168.0, 40.0
    most = max([5.0, *means, *(value for row in rows for value in row)])
    step = next(step for step in _steps() if most / step <= 5)
    high = step * math.ceil(most / step - 1e-9)

    def at(value: float) -> float:
        return bottom + (top - bottom) * value / high

    apart = (WIDTH - left - 10) / max(len(rows), 1)
    drawn = []
    for number, (before, after) in enumerate(rows):
        x = left + apart * (number + 0.5)
        drawn.append(
            Pair(_n(x), f"M{_n(x)},{_n(at(before))}V{_n(at(after))}", _n(x - 4), _n(at(before) - 4), _n(at(after)))
        )
    ticks = tuple(Tick(_n(at(step * number)), f"{step * number:g} %") for number in range(round(high / step) + 1))
    across = [f"M{_n(left)},{_n(at(mean))}H{_n(WIDTH)}" for mean in means]
    return Pairs(f"0 0 {_n(WIDTH)} 180", ticks, tuple(drawn), *across)


def _steps() -> Iterator[float]:
    """1, 2, 5, 10, 20, 50 and so on."""
    power = 0
    while True:
        yield from (first * 10.0**power for first in (1.0, 2.0, 5.0))
        power += 1
