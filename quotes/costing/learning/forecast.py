"""Forecast of a job: mean, sd and quantiles of its material cost, minutes and total, in closed form, without chance.

Lines are jointly log-normal: they share the state's uncertainty and the job's difficulty. Cups add up, whole pieces are
rounded up smoothly; two rounded or summed amounts vary together by their slopes (Stein's lemma: Casella & Berger,
Statistical Inference, section 3.6, from memory). Totals are matched to a log-normal by mean and variance.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from quotes.costing.learning.history import Term, Trade
from quotes.costing.learning.model.lines import (
    FACTOR,
    LOSS,
    Lines,
    cup,
    difficulty,
    lines,
    merged,
    paper,
    rounded_up,
    slopes,
)
from quotes.costing.learning.model.state import State, with_terms
from quotes.costing.stats.assumptions import USUAL, Assumptions
from quotes.costing.stats.normal import Floats, LogNormal


@dataclass(frozen=True, slots=True)
class ExpectedUse:
    """Expected use of each line in its own unit (cups included), and the covariance of all of them."""

    lines: Lines
    mean: Floats
    covariance: Floats


@dataclass(frozen=True, slots=True)
class Forecast:
    """Forecast of a job: material cost and total in currency without tax, minutes hands-on."""

    job: str
    material_cost: LogNormal
    minutes: LogNormal
    total: LogNormal

    def as_dict(self) -> dict[str, Any]:
        """Forecast as `backtest --json` prints it."""
        return {
            "job": self.job,
            "material_cost": self.material_cost.as_dict(),
            "minutes": self.minutes.as_dict(),
            "total": self.total.as_dict(),
        }


def expected_use(state: State, trade: Trade, terms: Sequence[Term], assume: Assumptions = USUAL) -> ExpectedUse:
    """Use of one job's steps. A worker or brand not met before makes it wider and leaves its mean.

    Raises KeyError for a cell that has no trade default either.
    """
    state = with_terms(state, trade, terms, assume)
    found = lines(merged(terms), state.layout, trade)
    n, x, spread = len(found.terms), np.append(state.x, 0.0), np.append(state.spread, 0.0)
    made = _paper(found, x, _shared(found, x, state, assume), spread)
    lost = _cups(found, x, made.shared, state.extra_mix(assume), assume)
    size = np.concatenate([made.slope, lost.mean])
    rounded = np.concatenate([found.whole, np.zeros(n, dtype=np.bool_)])
    together = np.where(rounded[:, None] | rounded[None, :], made.shared, np.expm1(made.shared)) * np.outer(size, size)
    covariance = together[:n, :n] + together[:n, n:] + together[n:, :n] + together[n:, n:]
    at = np.arange(n)
    covariance[at, at] += made.variance - together[at, at] + lost.variance
    return ExpectedUse(found, made.mean + lost.mean, covariance)


class _Part(NamedTuple):
    mean: Floats
    variance: Floats  # of a paper part all of it, of cups what they do not share with anything
    slope: Floats  # of the mean, by the logarithm
    shared: Floats


def _shared(found: Lines, x: Floats, state: State, assume: Assumptions) -> Floats:
    """Covariance of logarithms of need × factor of all lines, then of their cup losses: 2n × 2n."""
    n, columns = len(found.terms), found.columns
    picks = np.zeros((2 * n, len(state.x) + 1))
    for at, moves in enumerate(slopes(found, x).T):
        picks[np.arange(n), columns[:, at]] = moves
    picks[n + np.arange(n), columns[:, LOSS]] = 1.0
    shared: Floats = picks[:, :-1] @ state.covariance @ picks[:, :-1].T
    common = difficulty(found.labour, assume)
    alike = found.labour[:, None] == found.labour[None, :]
    shared[:n, :n] += np.where(alike, np.outer(common, common), 0.0)
    return shared


def _paper(found: Lines, x: Floats, shared: Floats, spread: Floats) -> _Part:
    """Part of the use that is need × factor, with its mean, variance and slopes."""
    made = paper(found, x)
    variance = np.diag(shared)[: len(made)] + spread[found.columns[:, FACTOR]] ** 2
    mean = made * np.exp(variance / 2.0)
    up, up_variance, up_slope = rounded_up(np.log(made), np.sqrt(variance), found.counted)
    return _Part(
        np.where(found.whole, up, mean),
        np.where(found.whole, up_variance, mean**2 * np.expm1(variance)),
        np.where(found.whole, up_slope, mean),
        shared,
    )


def _cups(found: Lines, x: Floats, shared: Floats, chance: float, assume: Assumptions) -> _Part:
    """What stays in the cups: each its own amount, all of one material the same middle, one more now and then."""
    known = np.diag(shared)[len(found.terms) :]
    each = cup(found, x) * np.exp((assume.cup_spread**2 + known) / 2.0)
    mixed = (found.mixes > 0) & (found.cup_base > 0)
    cups = np.where(mixed, found.mixes + chance, 0.0)
    own = cups * np.expm1(assume.cup_spread**2) + np.where(mixed, chance * (1.0 - chance), 0.0)
    return _Part(cups * each, each**2 * np.exp(known) * own, cups * each, shared)


def by_material(use: ExpectedUse) -> dict[str, LogNormal]:
    """Use of a job by material, in its unit (minutes for labour)."""
    names = np.array([term.material for term in use.lines.terms])
    return {str(name): _sum(use, (names == name).astype(np.float64)) for name in dict.fromkeys(names.tolist())}


def forecast(state: State, trade: Trade, terms: Sequence[Term], hourly: float, assume: Assumptions = USUAL) -> Forecast:
    """Forecast of one job; `hourly` is the cost of a hands-on hour in currency."""
    use = expected_use(state, trade, terms, assume)
    price = np.array([trade.price(term.material, hourly) for term in use.lines.terms])
    labour = use.lines.labour
    return Forecast(
        job=terms[0].job if terms else "",
        material_cost=_sum(use, np.where(labour, 0.0, price)),
        minutes=_sum(use, labour.astype(np.float64)),
        total=_sum(use, price),
    )


def _sum(use: ExpectedUse, price: Floats) -> LogNormal:
    return LogNormal(float(price @ use.mean), math.sqrt(max(float(price @ use.covariance @ price), 0.0)))
