"""What a log says: between which bounds a step's use lay, and how that pulls at the state.

A log of y from a scale with step s says y − s/2 to y + s/2; the smallest reading says no more than "at most 1½ steps";
a log of a worn pieces says (a − 1, a]. Each is a normal observation of ln(need × factor + mixes × loss) known between
two bounds: with narrow bounds the plain linear model, with wide ones nearly nothing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from quotes.costing.learning.history import Log, Trade
from quotes.costing.learning.model.lines import FACTOR, LOSS, Flags, Ints, Lines, cup, paper, slopes
from quotes.costing.stats.assumptions import MINUTES, Assumptions
from quotes.costing.stats.normal import Floats, between

LEAST_OWN = 0.1  # a log whose amount is mostly cup says this little of the factor at least
_CRUMB = 1e-6
_MINUTES_SHARE = 0.8  # of timed steps that must be multiples of the usual step before it is believed


@dataclass(frozen=True, slots=True)
class LogRows:
    """Logs in columns: the line each belongs to, its value, the logarithms of its bounds, mixes, and its share."""

    line: Ints
    value: Floats
    low: Floats
    high: Floats
    mixes: Floats
    share: Floats  # of a shared mix; 1 otherwise
    readable: Flags  # whether its scale could show it
    columns: Ints


@dataclass(frozen=True, slots=True)
class Pull:
    """Logs linearised at a state.

    `slope` by the line's columns (n, 4); `own` is the share of the amount that need × factor makes; `sd` scatters;
    `mean` and `square` are the expected deviation and its square given the bounds, in sd.
    """

    slope: Floats
    own: Floats
    sd: Floats
    mean: Floats
    square: Floats

    @property
    def information(self) -> Floats:
        """Share of a full observation that each log is: 1 for a narrow reading, near 0 for one that says nothing."""
        return np.clip(1.0 - (self.square - self.mean**2), 0.0, 1.0)

    @property
    def off(self) -> Floats:
        """Distance of each log from what is expected, as a logarithm."""
        return self.mean * self.sd

    @property
    def off_alone(self) -> Floats:
        """Distance of the factor if it alone is to blame for a log, as a logarithm."""
        return self.off / np.maximum(self.own, LEAST_OWN)

    def strength(self, weight: Floats) -> Floats:
        """Weight with which each log speaks of its factor, given its own weight."""
        return weight * self.information * self.own**2


def minutes_step(logs: Sequence[Log], assume: Assumptions) -> float:
    """Minutes to which steps are timed: the usual step where most logs are multiples of it, else one minute."""
    timed = [log.value / assume.minutes_step for log in logs if log.material == MINUTES]
    multiples = sum(abs(value - round(value)) < _CRUMB for value in timed)
    return assume.minutes_step if multiples >= _MINUTES_SHARE * len(timed) else 1.0


def log_rows(logs: Sequence[Log], found: Lines, trade: Trade, timed_to: float) -> LogRows:
    """Logs as columns, those of one step and material added up. `timed_to` is the step of timed work in minutes.

    Raises KeyError for a log without its step.
    """
    where = {(term.job, term.operation, term.material, term.again): at for at, term in enumerate(found.terms)}
    sums: dict[int, tuple[float, float, int]] = {}
    for log in logs:
        at = where[log.job, log.operation, log.material, log.again]
        value, mixes, parts = sums.get(at, (0.0, 0.0, 0))
        sums[at] = (value + log.value, mixes + log.mixes, parts + 1)
    line = np.array(list(sums), dtype=np.int64)
    total, mixed, parts_of = np.array(list(sums.values()), dtype=np.float64).reshape(-1, 3).T
    steps = {key: material.log_step for key, material in trade.materials.items()} | {MINUTES: timed_to}
    step = np.array([steps[found.terms[at].material] for at in line.tolist()], dtype=np.float64)
    whole, counted = found.whole[line], found.counted[line]
    planned = np.where(found.cup_base[line] > 0, found.mixes[line], 0.0)
    cups = np.where(planned > 0, np.where(mixed > 0, mixed, planned), 0.0)
    low, high = _bounds(total, step * np.sqrt(parts_of), whole, counted)
    return LogRows(
        line=line,
        value=total,
        low=low,
        high=high,
        mixes=cups,
        share=np.where(cups > 0, cups / np.maximum(np.ceil(cups - _CRUMB), 1.0), 1.0),
        readable=whole | (total >= step * (0.5 - _CRUMB)),
        columns=found.columns[line],
    )


def _bounds(value: Floats, step: Floats, whole: Flags, counted: Flags) -> tuple[Floats, Floats]:
    """Logarithms of the bounds. A value between the marks of its scale was read more finely: it is a point."""
    marks = value / np.where(step > 0, step, 1.0)
    fine = (step <= 0) | (np.abs(marks - np.rint(marks)) > 1e-4)
    half = np.where(fine, 0.0, step / 2.0)
    smallest = ~fine & (marks < 1.25)
    low = np.where(smallest, 0.0, value - half)
    low = np.where(whole, value - 1.0, low)
    low = np.where(counted, np.where(value < 1.5, 0.0, value - 0.5), low)
    high = np.where(whole, value + np.where(counted, 0.5, 0.0), value + half)
    with np.errstate(divide="ignore"):
        return np.log(np.maximum(low, 0.0)), np.log(high)


def pull(rows: LogRows, found: Lines, x: Floats, spread: Floats, assume: Assumptions) -> Pull:
    """Pull of each log at state x; `spread` is the sd by state column (idle entry included in both)."""
    made = paper(found, x)[rows.line]
    lost = rows.mixes * cup(found, x)[rows.line]
    own = made / (made + lost)
    sd_own = spread[rows.columns[:, FACTOR]]
    sd_cup = assume.cup_spread * np.minimum(rows.mixes, 1.0) / np.sqrt(np.maximum(rows.mixes, 1.0))
    sd = np.sqrt((own * sd_own) ** 2 + ((1.0 - own) * sd_cup) ** 2)
    curve = 0.5 * own * (1.0 - own) * (sd_own**2 + sd_cup**2)  # ln of a sum lies above ln of the sum of medians
    expected = np.log(made + lost) + curve
    mean, square = between((rows.low - expected) / sd, (rows.high - expected) / sd)
    slope = slopes(found, x)[rows.line] * own[:, None]
    slope[:, LOSS] += 1.0 - own
    return Pull(slope, own, sd, mean, square)
