"""One more finished job, without going through the whole history again.

What is known fades to the job's day, then the job's logs are taken in by a few rounds of the same equations, with the
state as their prior. Counts and totals of hours wait for the next whole fit; so does what one job says about how far
the shop lies from the trade.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from quotes.costing.learning.assumptions import USUAL, Assumptions
from quotes.costing.learning.belief import believed
from quotes.costing.learning.equations import equations, faded, forgiven, left_out, surroundings
from quotes.costing.learning.evidence import Evidence
from quotes.costing.learning.fit import inverse
from quotes.costing.learning.history import Log, Term, Trade
from quotes.costing.learning.lines import FACTOR, Flags, lines, merged, tally
from quotes.costing.learning.logs import LogRows, Pull, log_rows, pull
from quotes.costing.learning.normal import Floats
from quotes.costing.learning.spreads import extra_mixes, shrunk_spread, spread_sums
from quotes.costing.learning.state import State, usual_spreads, with_terms

_ROUNDS = 3


def with_job(
    state: State, trade: Trade, terms: Sequence[Term], logs: Sequence[Log], assume: Assumptions = USUAL
) -> State:
    """The state after one more job. A job with nothing logged only counts as a job; steps done again teach nothing.

    Raises KeyError for a step without trade default or a log without its step.
    """
    if not terms:
        return state
    day = max(max(term.day for term in terms), state.day)
    state = replace(with_terms(state, trade, terms, assume), jobs=state.jobs + 1)
    logs = [log for log in logs if not log.again]
    if not logs:
        return replace(state, day=day)
    found = lines(merged(terms), state.layout, trade)
    rows = log_rows(logs, found, trade, state.timed_to)
    age = float(faded(np.array([state.day]), day, assume)[0])
    prior_precision = state.layout.prior_precision
    known = inverse(state.covariance)
    known = np.diag(prior_precision) + age * (known - np.diag(prior_precision))
    start = np.append(state.x, 0.0)
    x, spread, covariance = start, np.append(state.spread, 0.0), np.pad(inverse(known), (0, 1))
    hold = np.zeros(len(rows.line))
    for _ in range(_ROUNDS):
        now = pull(rows, found, x, spread, assume)
        z = left_out(now.off, now.sd**2, surroundings(rows, now, covariance), hold)
        weight = rows.share * forgiven(z, assume.soft, assume.log_cut) * rows.readable
        hold = weight * now.information / now.sd**2
        more, gradient = equations(rows, now, weight, len(state.x))
        covariance = np.pad(inverse(known + more), (0, 1))
        moved = covariance[:-1, :-1] @ (gradient - known @ (x - start)[:-1])
        x = x + np.append(np.clip(moved, -assume.step, assume.step), 0.0)
    now = pull(rows, found, x, spread, assume)
    sums = spread_sums(rows, now, surroundings(rows, now, covariance), weight, spread)
    trusted = (np.abs(z) <= assume.doubtful) & rows.readable
    evidence = _with(state.evidence, age, rows, now, x, weight, sums, trusted)
    extra, planned = extra_mixes(rows, found.mixes[rows.line], weight)
    return believed(
        replace(
            state,
            x=x[:-1],
            covariance=covariance[:-1, :-1],
            spread=shrunk_spread(
                evidence.spread_sum, evidence.spread_weight, usual_spreads(state.layout, assume), assume
            ),
            evidence=evidence,
            extra_mixes=state.extra_mixes * age + extra,
            planned_mixes=state.planned_mixes * age + planned,
            day=day,
        )
    )


def _with(
    old: Evidence, age: float, rows: LogRows, now: Pull, x: Floats, weight: Floats,
    sums: tuple[Floats, Floats], trusted: Flags,
) -> Evidence:  # fmt: skip
    n, cell = len(x), rows.columns[:, FACTOR]
    strength, own = now.strength(weight), x[cell] + now.off_alone
    return Evidence(
        spread_sum=old.spread_sum * age + sums[0][:-1],
        spread_weight=old.spread_weight * age + sums[1][:-1],
        own_sum=old.own_sum * age + tally(cell, strength * own, n)[:-1],
        own_weight=old.own_weight * age + tally(cell, strength, n)[:-1],
        logs=old.logs + tally(cell, trusted, n)[:-1],
        counts=old.counts,
    )
