"""What a job will take: mean, sd and quantiles of its material cost, minutes and total, in closed form, without chance.

Lines are jointly log-normal: they share the state's uncertainty and the job's difficulty. Cups add up, whole pieces are
rounded up smoothly; two rounded or summed amounts vary together by their slopes (Stein's lemma: Casella & Berger,
Statistical Inference, section 3.6, from memory). Totals are matched to a log-normal by mean and variance.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from quotes.costing.learning.assumptions import USUAL, Assumptions
from quotes.costing.learning.history import Term, Trade
from quotes.costing.learning.lines import FACTOR, LOSS, Floats, Lines, cup, difficulty, lines, merged, paper, rounded_up
from quotes.costing.learning.normal import LogNormal
from quotes.costing.learning.state import State, with_terms


@dataclass(frozen=True, slots=True)
class Use:
    """The expected use of each line in its own unit (cups included), and the covariance of all of them."""

    lines: Lines
    mean: Floats
    covariance: Floats


@dataclass(frozen=True, slots=True)
class Forecast:
    """What a job will take: material cost and total in currency without tax, minutes hands-on."""

    job: str
    material_cost: LogNormal
    minutes: LogNormal
    total: LogNormal

    def as_dict(self) -> dict[str, Any]:
        """The job as `backtest --json` prints it."""
        return {
            "job": self.job,
            "material_cost": self.material_cost.as_dict(),
            "minutes": self.minutes.as_dict(),
            "total": self.total.as_dict(),
        }


def expected_use(state: State, trade: Trade, terms: Sequence[Term], assume: Assumptions = USUAL) -> Use:
    """The use of one job's steps. A worker, brand or cell not met before brings its own uncertainty, nothing else."""
    state = with_terms(state, trade, terms, assume)
    found = lines(merged(terms), state.layout, trade)
    x, known = np.append(state.x, 0.0), np.pad(state.covariance, (0, 1))
    spread = np.append(state.spread, 0.0)
    columns, n = found.columns, len(found.terms)
    common = difficulty(found.labour, assume)
    # what two lines share: the state's uncertainty, and the difficulty where both are labour or both material
    shift = known[columns[:, :LOSS, None, None], columns[None, None, :, :LOSS].swapaxes(0, 1)] if False else None
    picks = np.zeros((n, len(x)))
    np.add.at(picks, (np.arange(n)[:, None], columns[:, :LOSS]), 1.0)
    cups_of = np.zeros((n, len(x)))
    cups_of[np.arange(n), columns[:, LOSS]] = 1.0
    both = np.concatenate([picks, cups_of])
    shared = both @ known @ both.T
    alike = found.labour[:, None] == found.labour[None, :]
    shared[:n, :n] += np.where(alike, common[:, None] * common[None, :], 0.0)
    own = spread[columns[:, FACTOR]]
    variance = np.diag(shared)[:n] + own**2
    made = paper(found, x)
    mean = made * np.exp(variance / 2.0)
    up, up_variance, up_slope = rounded_up(np.log(made), np.sqrt(variance), found.counted)
    chance = state.extra_mix(assume)
    mixed = (found.mixes > 0) & (found.cup_base > 0)
    cups = np.where(mixed, found.mixes + chance, 0.0)
    loss = cup(found, x) * np.exp(assume.cup_spread**2 / 2.0 + np.diag(shared)[n:] / 2.0)
    lost = cups * loss
    # plain lines and cups are exactly log-normal together; rounded lines vary with others by their slope
    means = np.concatenate([np.where(found.whole, up_slope, mean), lost])
    together = np.outer(means, means) * np.expm1(shared)
    rounded = np.concatenate([found.whole, np.zeros(n, dtype=np.bool_)])
    first_order = np.outer(means, means) * shared
    some = rounded[:, None] | rounded[None, :]
    together = np.where(some, first_order, together)
    covariance = together[:n, :n] + together[:n, n:] + together[n:, :n] + together[n:, n:]
    plain = mean**2 * (np.exp(variance) * 1.0 - 1.0)
    own_line = np.where(found.whole, up_variance, plain)
    each = loss**2 * np.exp(np.diag(shared)[n:])
    scatter = each * (cups * np.expm1(assume.cup_spread**2) + np.where(mixed, chance * (1 - chance), 0.0))
    at = np.arange(n)
    covariance[at, at] = own_line + 2.0 * together[at, n + at] + together[n + at, n + at] + scatter
    return Use(found, np.where(found.whole, up, mean) + lost, covariance)


def forecast(
    state: State, trade: Trade, terms: Sequence[Term], hourly: float, assume: Assumptions = USUAL
) -> Forecast:
    """What one job will take; `hourly` is the cost of a hands-on hour in currency."""
    use = expected_use(state, trade, terms, assume)
    price = np.array([trade.price(term.material, hourly) for term in use.lines.terms])
    labour = use.lines.labour
    return Forecast(
        job=terms[0].job if terms else "",
        material_cost=_sum(use, np.where(labour, 0.0, price)),
        minutes=_sum(use, labour.astype(np.float64)),
        total=_sum(use, price),
    )


def _sum(use: Use, price: Floats) -> LogNormal:
    return LogNormal(float(price @ use.mean), float(np.sqrt(max(price @ use.covariance @ price, 0.0))))
