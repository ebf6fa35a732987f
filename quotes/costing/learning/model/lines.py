"""Steps as columns of numbers, and what they use at a given state: need × factor + mixes × cup loss.

Of minutes a part sets up, whatever the size of the work: need × factor × (1 − part + part × set-up).
`paper` is the median of need × factor, `cup` the median loss of one mix. Whole pieces are rounded up, at least one;
their mean and variance are sums of chances: E[N] = Σ P(N > j). Log-normal moments: Johnson, Kotz & Balakrishnan,
Continuous Univariate Distributions, volume 1, section 14.3, from memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from quotes.costing.learning.history import Cell, Term, Trade
from quotes.costing.learning.model.layout import Layout
from quotes.costing.stats.assumptions import MINUTES, Assumptions
from quotes.costing.stats.normal import Floats, below, density

Ints = NDArray[np.int64]
Flags = NDArray[np.bool_]
FACTOR, WORKER, BRAND, LOSS = range(4)  # of minutes: factor, worker, pace, set-up
_PIECES = 24  # up to here pieces are counted one by one; beyond, a round-up adds half a piece
_LOG_PIECES = np.log(np.arange(1.0, _PIECES + 1.0))
_LOG_HALVES = np.log(np.arange(1.0, _PIECES + 1.0) + 0.5)
_ODD = 2.0 * np.arange(1.0, _PIECES + 1.0) + 1.0


@dataclass(frozen=True, slots=True)
class Lines:
    """Steps in columns.

    Logarithm of need × trade middle, state columns, trade cup loss, planned mixes, and what it is.
    """

    terms: tuple[Term, ...]
    base: Floats
    columns: Ints  # (n, 4): factor, worker, brand, cup loss; of minutes pace and set-up in place of the last two
    cup_base: Floats  # the trade's loss of one mix, 0 where nothing is mixed
    mixes: Floats
    whole: Flags
    counted: Flags  # whole pieces of which a whole number is needed: a fin box, not a worn disc
    labour: Flags
    set_up: Floats  # the part of the need that sets up; 0 of materials
    day: Floats
    job: Ints  # the same number for all steps of a job


def tally(keys: Ints, amounts: Floats | Flags, size: int) -> Floats:
    """Sum of the amounts of each key from 0 to size − 1, in their unit."""
    result: Floats = np.bincount(keys, amounts, size).astype(np.float64)
    return result


def merged(terms: Iterable[Term]) -> list[Term]:
    """Steps of one job, operation and material as one, on their last day: needs and mixes added."""
    found: dict[tuple[str, str, str, bool], Term] = {}
    for term in terms:
        key = (term.job, term.operation, term.material, term.again)
        old = found.get(key)
        if old is not None:
            term = old._replace(
                need=old.need + term.need,
                mixes=old.mixes + term.mixes,
                day=max(old.day, term.day),
                set_up=old.set_up + term.set_up,
            )
        found[key] = term
    return list(found.values())


def lines(terms: Sequence[Term], layout: Layout, trade: Trade) -> Lines:
    """Merged steps as columns. Raises KeyError for a cell that the layout has not met."""
    alike = {(term.operation, term.material, term.worker, term.brand): term for term in terms}
    found = {key: layout.columns(term) for key, term in alike.items()}
    columns = np.array(
        [found[term.operation, term.material, term.worker, term.brand] for term in terms], dtype=np.int64
    ).reshape(len(terms), 4)
    middles, shifts = np.array([*layout.middles, 0.0]), np.append(layout.log_shifts, 0.0)
    jobs: dict[str, int] = {}
    labour = np.array([term.material == MINUTES for term in terms], dtype=np.bool_)
    return Lines(
        terms=tuple(terms),
        base=np.log(np.array([term.need for term in terms]) * middles[columns[:, FACTOR]])
        + shifts[columns[:, WORKER]]
        + shifts[columns[:, BRAND]],
        columns=columns,
        cup_base=np.where(labour, 0.0, middles[columns[:, LOSS]]),
        mixes=np.array([term.mixes for term in terms], dtype=np.float64),
        whole=np.array([trade.whole(term.material) for term in terms], dtype=np.bool_),
        counted=np.array([_is_whole(term.need) and trade.counted(_cell(term)) for term in terms], dtype=np.bool_),
        labour=labour,
        set_up=np.array(
            [min(term.set_up / term.need, 1.0) if term.set_up else 0.0 for term in terms], dtype=np.float64
        ),
        day=np.array([term.day for term in terms], dtype=np.float64),
        job=np.array([jobs.setdefault(term.job, len(jobs)) for term in terms], dtype=np.int64),
    )


def _cell(term: Term) -> Cell:
    return Cell(term.operation, term.material)


def _is_whole(need: float) -> bool:
    return abs(need - round(need)) < 1e-6


def paper(found: Lines, x: Floats) -> Floats:
    """Median of need × factor at state x (idle entry included), in each line's unit."""
    result: Floats = np.exp(found.base + x[found.columns[:, :LOSS]].sum(axis=1))
    return result * set_up_share(found.set_up, x[found.columns[:, LOSS]])[0] if found.set_up.any() else result


def set_up_share(part: Floats, log_set_up: Floats) -> tuple[Floats, Floats]:
    """Factor by which minutes grow of which the share `part` is set-up, and the slope of its logarithm."""
    grown = part * np.exp(np.where(part > 0, log_set_up, 0.0))
    return 1.0 - part + grown, grown / (1.0 - part + grown)


def slopes(found: Lines, x: Floats) -> Floats:
    """Slope of the logarithm of need × factor by each column's entry (n, 4): by a cup's loss 0."""
    result = np.ones((len(found.terms), LOSS + 1))
    result[:, LOSS] = set_up_share(found.set_up, x[found.columns[:, LOSS]])[1]
    return result


def cup(found: Lines, x: Floats) -> Floats:
    """Median loss of one mix at state x, in each line's unit; 0 where nothing is mixed."""
    result: Floats = found.cup_base * np.exp(x[found.columns[:, LOSS]])
    return result


def difficulty(labour: Flags, assume: Assumptions) -> Floats:
    """Sd of what the lines of one job have in common."""
    return np.where(labour, assume.difficulty_labour, assume.difficulty_material)


def rounded_up(log_median: Floats, sd: Floats, counted: Flags) -> tuple[Floats, Floats, Floats]:
    """Mean, variance and the mean's slope by the logarithm, of a log-normal amount rounded up to whole pieces.

    Counted pieces are rounded to the nearest, at least one.
    """
    sd = np.maximum(sd, 1e-6)
    marks = np.where(counted[:, None], _LOG_HALVES, _LOG_PIECES)
    z = (log_median[:, None] - marks) / sd[:, None]
    more = below(z)
    mean = 1.0 + more.sum(axis=1)
    variance = 1.0 + more @ _ODD - mean * mean
    slope = density(z).sum(axis=1) / sd
    plain = np.exp(log_median + sd * sd / 2.0)
    many = log_median > math.log(_PIECES) - 3.0 * sd
    return (
        np.where(many, plain + np.where(counted, 0.0, 0.5), mean),
        np.where(many, plain * plain * np.expm1(sd * sd) + 1.0 / 12.0, np.maximum(variance, 0.0)),
        np.where(many, plain, slope),
    )
