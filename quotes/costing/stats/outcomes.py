"""Outcomes of an amount by which steps are done again: a mixture of log-normals, solved for its chances without dice.

Up to eight such steps every case is told apart. Of more, cases whose cost lies within 1/256 of the whole span are put
together as they go, by mean and variance, so that mean and spread stay what they are whatever the number of steps.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from quotes.costing.stats.normal import Floats, LogNormal, below, quantile

_TOLD_APART = 256
_TRIES = 100
_NEAR = 1e-12


@dataclass(frozen=True, slots=True, eq=False)
class LogNormalMixture:
    """An amount that follows one of several log-normals, each by its chance (they add up to 1).

    One law alone is that law.
    """

    chances: Floats
    means: Floats
    sds: Floats

    @property
    def mean(self) -> float:
        """Expected amount, in the unit of the amount."""
        return float(self.chances @ self.means)

    @property
    def sd(self) -> float:
        """Standard deviation within the laws and between them, in the unit of the amount."""
        square = self.chances @ (self.sds**2 + (self.means - self.mean) ** 2)
        return math.sqrt(max(0.0, float(square)))

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm of the one log-normal with this mean and sd."""
        return LogNormal(self.mean, self.sd).log_sd

    def plus(self, other: LogNormalMixture, times: float) -> LogNormalMixture | LogNormal:
        """Sum with `times` another amount of the same unit and cases; case by case the two are independent."""
        if len(self.means) == 1:
            return LogNormal(
                float(self.means[0]) + times * float(other.means[0]),
                math.hypot(float(self.sds[0]), times * float(other.sds[0])),
            )
        return LogNormalMixture(self.chances, self.means + times * other.means, np.hypot(self.sds, times * other.sds))

    def chance_above(self, amount: float) -> float:
        """Chance of exceeding an amount; for a cost and a price without tax, the chance of loss."""
        alone = self._alone()
        if alone is not None:
            return alone.chance_above(amount)
        if amount <= 0:
            return 1.0 if self.mean > 0 else 0.0
        return 1.0 - float(self.chances @ below(_standing(*self._logs(), amount)))

    def quantile(self, chance: float) -> float:
        """Amount that is not exceeded with this chance. Raises ValueError outside 0 to 1."""
        alone = self._alone()
        if alone is not None:
            return alone.quantile(chance)
        middle, sd = self._logs()
        ends = np.exp(middle + sd * quantile(chance))

        def over(amount: float) -> float:
            return float(self.chances @ below(_standing(middle, sd, amount))) - chance

        return crossing(over, float(ends.min()), float(ends.max()))

    def as_dict(self) -> dict[str, float]:
        """Mean, and the quantiles q05 q10 q25 q50 q75 q90 q95, in the unit of the amount."""
        return {"mean": self.mean} | {f"q{p:02d}": self.quantile(p / 100) for p in (5, 10, 25, 50, 75, 90, 95)}

    def _alone(self) -> LogNormal | None:
        return LogNormal(float(self.means[0]), float(self.sds[0])) if len(self.means) == 1 else None

    def _logs(self) -> tuple[Floats, Floats]:
        """Middle and sd of the logarithm, law by law; an amount of nothing lies below everything."""
        means = np.maximum(self.means, 1e-300)
        squared = np.log1p((self.sds / means) ** 2)
        return np.log(means) - squared / 2.0, np.sqrt(squared)


def crossing(rising: Callable[[float], float], low: float, high: float) -> float:
    """Number between two ends at which a function that rises through 0 crosses it; `high` where it does not.

    By the straight line between the ends; the value at an end that stays is halved, so that it moves too. Illinois
    rule: Dowell & Jarratt, BIT 11 (1971), from memory.
    """
    below_0, above_0, side = rising(low), rising(high), 0
    if below_0 >= 0:
        return low
    if above_0 <= 0:
        return high
    for _ in range(_TRIES):
        at = (low * above_0 - high * below_0) / (above_0 - below_0)
        value = rising(at)
        if abs(value) < _NEAR or high - low < _NEAR * high:
            break
        if value < 0:
            low, below_0 = at, value
            above_0 *= 0.5 if side < 0 else 1.0
            side = -1
        else:
            high, above_0 = at, value
            below_0 *= 0.5 if side > 0 else 1.0
            side = 1
    return at


def _standing(middle: Floats, sd: Floats, amount: float) -> Floats:
    """How many sd an amount above 0 lies above each middle; what is sure lies below it from where it is reached."""
    off = math.log(amount) - middle
    sure = np.where(off >= 0, np.inf, -np.inf)
    result: Floats = np.divide(off, sd, out=sure, where=sd > 0)
    return result


class Cases(NamedTuple):
    """Cases of which steps are done again: the chance of each, its steps, and what putting cases together hid.

    `again` (cases × steps) is 1 for a step that is, 0 for one that is not, and between where cases were put together;
    `hidden` (cases × amounts) is the variance of their amounts.
    """

    chances: Floats
    again: Floats
    hidden: Floats


def cases(rates: Sequence[float], added: Floats) -> Cases:
    """Cases of steps that are each done again by their rate (a chance, 0 to 1), on their own.

    `added` (steps × amounts) is what each adds to several amounts; cases are alike by the first, which each must add
    to.
    """
    found = Cases(np.ones(1), np.zeros((1, len(rates))), np.zeros((1, added.shape[1])))
    for step, rate in enumerate(rates):
        once = found.again.copy()
        once[:, step] = 1.0
        found = Cases(
            np.concatenate((found.chances * (1.0 - rate), found.chances * rate)),
            np.vstack((found.again, once)),
            np.vstack((found.hidden, found.hidden)),
        )
        if len(found.chances) > _TOLD_APART:
            found = _put_together(found, added)
    return found


def _put_together(found: Cases, added: Floats) -> Cases:
    """Cases with those of nearly the same cost put together, by mean and variance."""
    order = np.argsort(found.again @ added[:, 0], kind="stable")
    again, hidden, odds = found.again[order], found.hidden[order], found.chances[order]
    amounts = again @ added
    kinds = np.floor(amounts[:, 0] * (_TOLD_APART / added[:, 0].sum()))
    starts = np.flatnonzero(np.diff(kinds, prepend=-1.0))
    chances = np.add.reduceat(odds, starts)
    shares = (odds / np.repeat(chances, np.diff(starts, append=len(odds))))[:, None]
    means = np.add.reduceat(shares * amounts, starts)
    squares = np.add.reduceat(shares * (hidden + amounts**2), starts)
    return Cases(chances, np.add.reduceat(shares * again, starts), np.maximum(squares - means**2, 0.0))
