"""How much a cell scatters from job to job: one step of expectation–maximisation, shrunk to its group's usual spread.

What a log says of its cell's spread is only what is left of its deviation after cups, rounding and the state's own
uncertainty; the rest is taken out of both sides, so that a log that says nothing counts for nothing.
EM for variance components: Gelman et al., Bayesian Data Analysis, section 13.4, from memory.
"""

from __future__ import annotations

import numpy as np

from quotes.costing.learning.model.lines import FACTOR, tally
from quotes.costing.learning.model.logs import LogRows, Pull
from quotes.costing.stats.assumptions import Assumptions
from quotes.costing.stats.normal import Floats


def spread_sums(rows: LogRows, found: Pull, around: Floats, weight: Floats, spread: Floats) -> tuple[Floats, Floats]:
    """Squared deviations of each state column's own scatter, as logarithms, and how many full logs they stand for."""
    n, cell = len(spread), rows.columns[:, FACTOR]
    variance = spread[cell] ** 2
    part = found.own**2 * variance / found.sd**2  # the share of a log's scatter that is the cell's own
    informed = found.information * part
    deviation = found.square + found.information**2 * around / found.sd**2
    square = variance * (part * deviation + 1.0 - part)
    return (
        tally(cell, weight * (square - (1.0 - informed) * variance), n),
        tally(cell, weight * informed, n),
    )


def shrunk_spread(total: Floats, weight: Floats, usual: Floats, assume: Assumptions) -> Floats:
    """Spread (sd of the logarithm) of each column from its squares and the usual one, within the believed bounds.

    0 where it has none.
    """
    trust = assume.spread_trust
    spread = np.sqrt(np.maximum(trust * usual**2 + total, 0.0) / (trust + weight))
    result: Floats = np.clip(spread, usual / assume.widest, usual * assume.widest)
    return result


def extra_mixes(rows: LogRows, planned: Floats, weight: Floats) -> tuple[float, float]:
    """Number of logged steps that took more mixes than planned, and of those that were mixed at all, by weight."""
    mixed = (rows.mixes > 0) & (planned > 0)
    return float(weight @ (mixed & (rows.mixes > planned + 0.5))), float(weight @ mixed)
