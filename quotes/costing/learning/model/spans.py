"""Counts and totals of hours: what was used between two of them the steps in between used, logged or not.

Opening + receipts − closing = (1 + unassigned share) × (logs that are trusted + what the other steps are expected to
use). A total of bench hours is labour's count. Linear in the amounts; the unlogged steps bring their scatter, the scale
its step.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from quotes.costing.learning.history import History
from quotes.costing.learning.model.layout import Layout
from quotes.costing.learning.model.lines import (
    FACTOR,
    LOSS,
    Flags,
    Ints,
    Lines,
    cup,
    difficulty,
    paper,
    rounded_up,
    slopes,
    tally,
)
from quotes.costing.stats.assumptions import MINUTES, Assumptions
from quotes.costing.stats.normal import Floats

_DUST = 1e-12  # variance of a count of nothing, so that it has one


@dataclass(frozen=True, slots=True)
class Spans:
    """Spans between two counts (or of a total of hours) in columns, and which line fell into which."""

    used: Floats  # opening + receipts − closing
    opening_error: Floats  # variance of the reading at its start, and
    closing_error: Floats  # at its end; a span's closing reading is the next one's opening
    follows: Flags  # whether it opens with the reading that closed the row before
    share: Ints  # state column of the unassigned share
    usual_share: Floats
    last_day: Floats
    names: tuple[tuple[str, float, float], ...]  # material, from day, to day
    line: Ints  # the lines inside, and
    span: Ints  # the span of each
    group: Ints  # a number for each job within each span
    group_span: Ints


class _Span(NamedTuple):
    """Span between two counts, or of a total of hours, before it is laid in columns."""

    used: float
    opening_error: float
    closing_error: float
    follows: bool
    material: str
    start: float
    end: float
    members: list[int]


def spans(history: History, found: Lines, where: Layout, timed_to: float, assume: Assumptions) -> Spans:
    """Spans of a history, in the order of materials and days, then the totals of hours.

    `timed_to` is the step of timed work in minutes.
    """
    by_material: dict[str, list[int]] = defaultdict(list)
    for at, term in enumerate(found.terms):
        by_material[term.material].append(at)
    rows = [span for key in _counted(history) for span in _counted_spans(history, found, key, by_material[key], assume)]
    timed = np.array(by_material[MINUTES], dtype=np.int64)
    workers, days = np.array([found.terms[at].worker for at in timed.tolist()]), found.day[timed]
    for hours in history.hours:
        within = (days >= hours.from_day) & (days <= hours.to_day)
        members = timed[within & ((workers == hours.worker) | (not hours.worker))].tolist()
        error = timed_to**2 / 12.0
        rows.append(_Span(hours.minutes, 0.0, error, False, MINUTES, hours.from_day, hours.to_day, members))
    return _columns(rows, found, where)


def _counted(history: History) -> list[str]:
    return list(dict.fromkeys(count.material for count in history.counts))


def _counted_spans(
    history: History, found: Lines, material: str, members: list[int], assume: Assumptions
) -> list[_Span]:
    """Spans between the counts of one material."""
    counts = sorted((count for count in history.counts if count.material == material), key=lambda count: count.day)
    received = [receipt for receipt in history.receipts if receipt.material == material]
    step = history.trade.materials[material].count_step
    inside = np.array(members, dtype=np.int64)
    days = found.day[inside]
    rows = []
    for number, (start, end) in enumerate(pairwise(counts)):
        arrived = sum(receipt.qty for receipt in received if start.day < receipt.day <= end.day)
        errors = [_DUST + step**2 / 12.0 + (assume.count_error * count.qty) ** 2 for count in (start, end)]
        within = inside[(days > start.day) & (days <= end.day)].tolist()
        used = start.qty + arrived - end.qty
        rows.append(_Span(used, errors[0], errors[1], number > 0, material, start.day, end.day, within))
    return rows


def _columns(rows: list[_Span], found: Lines, where: Layout) -> Spans:
    """Spans laid in columns, with the lines that fell into each."""
    share = [where.column(("unassigned", row.material)) for row in rows]
    middles = (*where.middles, 0.0)
    line = np.array([at for row in rows for at in row.members], dtype=np.int64)
    span = np.array([number for number, row in enumerate(rows) for _ in row.members], dtype=np.int64)
    pairs = span * (int(found.job.max(initial=0)) + 1) + found.job[line]
    _, first, group = np.unique(pairs, return_index=True, return_inverse=True)
    return Spans(
        used=np.array([row.used for row in rows], dtype=np.float64),
        opening_error=np.array([row.opening_error for row in rows], dtype=np.float64),
        closing_error=np.array([row.closing_error for row in rows], dtype=np.float64),
        follows=np.array([row.follows for row in rows], dtype=np.bool_),
        share=np.array(share, dtype=np.int64),
        usual_share=np.array([middles[at] for at in share], dtype=np.float64),
        last_day=np.array([row.end for row in rows], dtype=np.float64),
        names=tuple((row.material, row.start, row.end) for row in rows),
        line=line,
        span=span,
        group=group.astype(np.int64),
        group_span=span[first],
    )


@dataclass(frozen=True, slots=True)
class Balance:
    """Spans linearised at a state.

    What is left over, the variance besides the readings', slope by entry (rows × entries).
    """

    left: Floats
    variance: Floats
    slope: Floats


def balance(
    rows: Spans,
    found: Lines,
    logged: Floats,
    x: Floats,
    covariance: Floats,
    spread: Floats,
    extra_mix: float,
    assume: Assumptions,
) -> Balance:
    """Balance of each span at state x (idle entry included), in the span's unit.

    `logged` is each line's trusted log, NaN where there is none. `extra_mix` is the chance that a step takes one more
    mix than planned.
    """
    n, p1 = len(rows.used), len(x)
    columns = found.columns[rows.line]
    moves = slopes(found, x)[rows.line]
    near = np.einsum("ni,nij,nj->n", moves, covariance[columns[:, :, None], columns[:, None, :]], moves)
    made = paper(found, x)[rows.line] * np.exp(near / 2.0)
    lost = cup(found, x)[rows.line] * np.exp(np.diag(covariance)[columns[:, LOSS]] / 2.0)
    own, common = spread[found.columns[rows.line, FACTOR]], difficulty(found.labour[rows.line], assume)
    cups = np.where(found.mixes[rows.line] > 0, found.mixes[rows.line] + extra_mix, 0.0)
    use, scatter, slope = expected_use(
        made, np.hypot(own, common), found.whole[rows.line], found.counted[rows.line], common
    )
    lost = cups * lost * np.exp(assume.cup_spread**2 / 2.0)
    known = logged[rows.line]
    silent = np.isnan(known)
    total = tally(rows.span, np.where(silent, use + lost, known), n)
    own_variance = np.where(silent, scatter + cup_scatter(lost, cups, extra_mix, assume), 0.0)
    shared = tally(rows.group, np.where(silent, common * slope, 0.0), len(rows.group_span))
    grown = 1.0 + rows.usual_share + x[rows.share]
    variance = (
        grown**2 * (tally(rows.span, own_variance, n) + tally(rows.group_span, shared**2, n))
        + (assume.slack * rows.used) ** 2
    )
    jacobian = np.zeros(n * p1)
    for at in range(LOSS + 1):
        pulls = np.where(silent, moves[:, at] * slope + (lost if at == LOSS else 0.0), 0.0)
        jacobian += tally(rows.span * p1 + columns[:, at], pulls, n * p1)
    jacobian = jacobian.reshape(n, p1) * grown[:, None]
    jacobian[np.arange(n), rows.share] += total
    return Balance(rows.used - grown * total, variance, jacobian[:, :-1])


def expected_use(
    made: Floats, sd: Floats, whole: Flags, counted: Flags, common: Floats
) -> tuple[Floats, Floats, Floats]:
    """Mean, the variance of its own (without what the job has in common), and slope by the logarithm, cups left out."""
    mean = made * np.exp(sd * sd / 2.0)
    slope, variance = mean.copy(), mean * mean * np.expm1(sd * sd)
    pieces = rounded_up(np.log(made[whole]), sd[whole], counted[whole])
    mean[whole], variance[whole], slope[whole] = pieces
    return mean, np.maximum(variance - (common * slope) ** 2, 0.0), slope


def cup_scatter(lost: Floats, cups: Floats, extra_mix: float, assume: Assumptions) -> Floats:
    """Variance of what stays in the cups: each cup's own, and whether there is one more."""
    each = np.where(cups > 0, lost / np.maximum(cups, 1e-12), 0.0)
    result: Floats = each**2 * (
        cups * np.expm1(assume.cup_spread**2) + np.where(cups > 0, extra_mix * (1.0 - extra_mix), 0.0)
    )
    return result


def solved(rows: Spans, found: Balance, weight: Floats) -> tuple[Floats, Floats]:
    """Precision and gradient of the state from weighted spans.

    Spans of one material hang together: what a wrong reading takes from one it gives to the next. Each has to do with
    its neighbours alone, so one pass from span to span takes the place of a matrix solve (A = LDLᵀ; Golub & Van Loan,
    Matrix Computations, section 4.3, from memory).
    """
    kept = np.flatnonzero(weight > 0)
    own = rows.opening_error[kept] + rows.closing_error[kept] + found.variance[kept] / weight[kept]
    sides = np.column_stack([found.slope[kept], found.left[kept]])
    joined = rows.follows[kept[1:]] & (np.diff(kept) == 1)
    for at in (np.flatnonzero(joined) + 1).tolist():
        shared = -rows.closing_error[kept[at - 1]]
        part = shared / own[at - 1]
        own[at] -= part * shared
        sides[at] -= part * sides[at - 1]
    both = sides.T @ (sides / own[:, None])
    return both[:-1, :-1], both[:-1, -1]
