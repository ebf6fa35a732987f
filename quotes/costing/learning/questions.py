"""Which log would teach most: how much one more log of each open step narrows what this shop's jobs cost.

A log with slope j and own variance v takes (c·P·j)² ÷ (j·P·j + v) off the variance c·P·c of a cost whose slope is c:
the update of a normal state by one observation (Hoff, A First Course in Bayesian Statistical Methods, section 5.3).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from quotes.costing.learning.history import Term, Trade
from quotes.costing.learning.model.lines import LOSS, cup, lines, merged, paper, slopes
from quotes.costing.learning.model.state import State, with_terms
from quotes.costing.stats.assumptions import USUAL, Assumptions
from quotes.costing.stats.normal import Floats


@dataclass(frozen=True, slots=True)
class Question:
    """A step whose log is worth asking for: the sd of the cost of the usual jobs, in currency, now and with the log."""

    term: Term
    now: float
    then: float

    @property
    def narrowing(self) -> float:
        """Fall of the sd, in currency."""
        return self.now - self.then


def questions(
    state: State, trade: Trade, open_terms: Sequence[Term], usual: Sequence[Term], hourly: float,
    assume: Assumptions = USUAL,
) -> list[Question]:  # fmt: skip
    """Open steps, the one that teaches most first. `usual` are the steps of jobs such as the shop does.

    `hourly` is the cost of a hands-on hour in currency.
    """
    if not open_terms or not usual:
        return []
    state = with_terms(state, trade, [*usual, *open_terms], assume)
    slope = _cost_slope(state, trade, usual, hourly)
    known = state.covariance @ slope
    now = float(slope @ known)
    found = lines(merged(open_terms), state.layout, trade)
    x, spread = np.append(state.x, 0.0), np.append(state.spread, 0.0)
    made, lost = paper(found, x), found.mixes * cup(found, x)
    own, moves = made / (made + lost), slopes(found, x)
    padded, reached = np.pad(state.covariance, (0, 1)), np.append(known, 0.0)
    asked = []
    for at, term in enumerate(found.terms):
        columns = found.columns[at]
        pulls = own[at] * moves[at]
        pulls[LOSS] += 1.0 - own[at]
        step = _step(trade, term, state.timed_to)
        scatter = (own[at] * spread[columns[0]]) ** 2 + ((1.0 - own[at]) * assume.cup_spread) ** 2
        scatter += (step / math.sqrt(12.0) / (made[at] + lost[at])) ** 2
        around = float(pulls @ padded[np.ix_(columns, columns)] @ pulls)
        gain = float(reached[columns] @ pulls) ** 2 / (around + scatter)
        asked.append(Question(term, math.sqrt(now), math.sqrt(max(now - gain, 0.0))))
    return sorted(asked, key=lambda question: -question.narrowing)


def _cost_slope(state: State, trade: Trade, usual: Sequence[Term], hourly: float) -> Floats:
    """Slope of the cost of the usual jobs by each entry of the state, in currency by logarithm."""
    found = lines(merged(usual), state.layout, trade)
    x = np.append(state.x, 0.0)
    price = np.array([trade.price(term.material, hourly) for term in found.terms])
    slope = np.zeros(len(x))
    for at, moves in enumerate(slopes(found, x).T):
        np.add.at(slope, found.columns[:, at], moves * price * paper(found, x))
    np.add.at(slope, found.columns[:, LOSS], price * found.mixes * cup(found, x))
    return slope[:-1]


def _step(trade: Trade, term: Term, timed_to: float) -> float:
    material = trade.materials.get(term.material)
    if material is None:
        return timed_to
    return 2.0 if material.whole else material.log_step
