"""Learning from a whole history: Gauss–Newton on the logarithm of the posterior, with weights that forgive mistakes.

Each round linearises logs and spans at the present state, weighs them by how far off they are when judged by all
others, solves the normal equations, and moves spreads one step. Logs come first: spans join in the third round, at
first with a bounded pull, so that a trade default that is far off is left behind before anything is thrown out.

Gauss–Newton and Laplace's approximation: Gelman et al., Bayesian Data Analysis, chapter 13, from memory.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from quotes.costing.learning.history import Cell, History
from quotes.costing.learning.model.equations import equations, faded, forgiven, left_out, surroundings
from quotes.costing.learning.model.evidence import Evidence
from quotes.costing.learning.model.layout import Layout, factor, layout
from quotes.costing.learning.model.lines import FACTOR, Flags, Lines, lines, merged, tally
from quotes.costing.learning.model.logs import LogRows, Pull, log_rows, minutes_step, pull
from quotes.costing.learning.model.plausibility import plausible
from quotes.costing.learning.model.spans import Spans, balance, solved, spans
from quotes.costing.learning.model.spreads import extra_mixes, shrunk_spread, spread_sums
from quotes.costing.learning.model.state import State, at_start, extra_mix
from quotes.costing.stats.assumptions import USUAL, Assumptions
from quotes.costing.stats.normal import Floats

_STILL = 1e-9
_LOGS_FIRST = 2  # rounds without spans
_GENTLE = 6  # rounds until a span may be thrown out
_SETTLED = 9  # rounds until it is settled which logs are trusted
_FAR = 4.0  # sd of a trade range; what lies further off says no more of all the others


@dataclass(frozen=True, slots=True)
class Fitted:
    """A state, and the distance of each log and span from it, in sd, when judged by all others."""

    state: State
    lines: Lines
    log_rows: LogRows
    log_z: Floats
    spans: Spans
    span_z: Floats


@dataclass(frozen=True, slots=True)
class _Given:
    """Constants of all rounds. Arrays over entries have the idle one at their end."""

    assume: Assumptions
    layout: Layout
    lines: Lines
    logs: LogRows
    shelf: Spans
    log_share: Floats  # age, share of a mix, nothing for work done again
    shelf_share: Floats
    usual_spread: Floats
    known_spread: Mapping[int, float]
    from_trade: Flags  # entries with a trade range: factors and cups


@dataclass(slots=True)
class _Found:
    """Variables that each round moves."""

    x: Floats
    covariance: Floats
    prior_sd: Floats
    spread: Floats
    spread_sum: Floats
    spread_weight: Floats
    log_weight: Floats
    log_hold: Floats  # the precision each log brought to the last solve
    log_z: Floats
    trusted: Flags
    span_hold: Floats
    span_z: Floats
    mixes: tuple[float, float] = (0.0, 0.0)


def fit(history: History, assume: Assumptions = USUAL, spreads: Mapping[Cell, float] | None = None) -> Fitted:
    """State learned from a whole history. `spreads` fixes the job-to-job sd of cells where it is known.

    Raises KeyError for a step without trade default or a log without its step; `interchange` says these in sentences.
    """
    timed_to = minutes_step(history.logs, assume)
    given = _given(history, assume, spreads or {}, timed_to)
    found = _begin(given)
    for number in range(assume.rounds):
        if _round(given, found, number) < _STILL and number > _GENTLE:
            break
    state = plausible(_state(given, found), assume)
    jobs = len({term.job for term in history.terms})
    state = replace(state, jobs=jobs, day=history.last_day, timed_to=timed_to)
    return Fitted(state, given.lines, given.logs, found.log_z, given.shelf, found.span_z)


def _given(history: History, assume: Assumptions, spreads: Mapping[Cell, float], timed_to: float) -> _Given:
    """Lines, logs, spans and priors of a history, as all rounds use them."""
    where = layout(history, assume)
    found = lines(merged(history.terms), where, history.trade)
    logs = log_rows(history.logs, found, history.trade, timed_to)
    shelf = spans(history, found, where, timed_to, assume)
    again = np.array([term.again for term in found.terms], dtype=np.bool_)[logs.line]
    age = faded(found.day[logs.line], history.last_day, assume)
    return _Given(
        assume=assume,
        layout=where,
        lines=found,
        logs=logs,
        shelf=shelf,
        log_share=np.where(again, 0.0, logs.share * age),
        shelf_share=faded(shelf.last_day, history.last_day, assume),
        usual_spread=np.append(at_start(where, assume).spread, 0.0),
        known_spread={where.index[factor(cell)]: sd for cell, sd in spreads.items()},
        from_trade=np.array([entry[0] in ("factor", "loss") for entry in where.entries], dtype=np.bool_),
    )


def _begin(given: _Given) -> _Found:
    """Start of the rounds: the trade defaults, moved by a first guess."""
    entries, logs = len(given.usual_spread), len(given.logs.line)
    prior_sd = np.array(given.layout.prior_sd, dtype=np.float64)
    found = _Found(
        x=np.zeros(entries),
        covariance=np.diag(np.append(prior_sd**2, 0.0)),
        prior_sd=prior_sd,
        spread=given.usual_spread.copy(),
        spread_sum=np.zeros(entries),
        spread_weight=np.zeros(entries),
        log_weight=np.zeros(logs),
        log_hold=np.zeros(logs),
        log_z=np.zeros(logs),
        trusted=np.zeros(logs, dtype=np.bool_),
        span_hold=np.zeros(len(given.shelf.used)),
        span_z=np.zeros(len(given.shelf.used)),
    )
    for at, sd in given.known_spread.items():
        found.spread[at] = sd
    _guess(given, found)
    return found


def _guess(given: _Given, found: _Found) -> None:
    """Start each factor at the weighted median of its logs and its trade default: half of the logs may be wrong."""
    at_trade = _pull(given, found)
    off, weight = at_trade.off_alone, at_trade.strength(given.log_share)
    cells = given.logs.columns[:, FACTOR]
    for at in np.unique(cells).tolist():
        mine = cells == at
        values = np.append(off[mine], 0.0)
        weights = np.append(weight[mine], (found.spread[at] / found.prior_sd[at]) ** 2)
        order = np.argsort(values)
        heap = np.cumsum(weights[order])
        middle = values[order][np.searchsorted(heap, heap[-1] / 2.0)]
        found.x[at] = np.clip(middle, -3.0 * found.prior_sd[at], 3.0 * found.prior_sd[at])


def _pull(given: _Given, found: _Found) -> Pull:
    return pull(given.logs, given.lines, found.x, found.spread, given.assume)


def _round(given: _Given, found: _Found, number: int) -> float:
    """Largest move of any entry in one linearisation and one solve."""
    entries = len(found.prior_sd)
    now = _pull(given, found)
    around = surroundings(given.logs, now, found.covariance)
    _weigh_logs(given, found, now, around, number)
    precision, gradient = equations(given.logs, now, found.log_weight, entries)
    precision[np.arange(entries), np.arange(entries)] += 1.0 / found.prior_sd**2
    gradient = gradient - found.x[:-1] / found.prior_sd**2
    if number >= _LOGS_FIRST or not len(given.logs.line):
        more = _spans(given, found, gentle=number < _GENTLE)
        precision, gradient = precision + more[0], gradient + more[1]
    covariance = inverse(precision)
    step = np.clip(covariance @ gradient, -given.assume.step, given.assume.step)
    found.x = found.x + np.append(step, 0.0)
    found.covariance = np.pad(covariance, (0, 1))
    if number:
        _move_spreads(given, found, now, around)
    if number < given.assume.rounds - 1:
        _trust_trade(given, found)
    return float(np.abs(step).max(initial=0.0))


def inverse(precision: Floats) -> Floats:
    """Covariance of a precision, symmetric; not-a-number where there is none, which no cell is believed with."""
    try:
        covariance = np.linalg.inv(precision)
    except np.linalg.LinAlgError:
        covariance = np.full_like(precision, np.nan)
    result: Floats = 0.5 * (covariance + covariance.T)
    return result


def _weigh_logs(given: _Given, found: _Found, now: Pull, around: Floats, number: int) -> None:
    assume, logs = given.assume, given.logs
    found.log_z = left_out(now.off, now.sd**2, around, found.log_hold)
    found.log_weight = given.log_share * forgiven(found.log_z, assume.soft, assume.log_cut) * logs.readable
    found.log_hold = found.log_weight * now.information / now.sd**2
    if number < _SETTLED:
        found.trusted = (np.abs(found.log_z) <= assume.doubtful) & logs.readable


def _spans(given: _Given, found: _Found, *, gentle: bool) -> tuple[Floats, Floats]:
    """Precision and gradient of counts and totals of hours; while `gentle`, none is thrown out."""
    assume, shelf, logs = given.assume, given.shelf, given.logs
    known = np.full(len(given.lines.terms), np.nan)
    exact = found.trusted & (given.lines.whole[logs.line] | ~np.isneginf(logs.low))
    known[logs.line[exact]] = logs.value[exact]
    chance = extra_mix(*found.mixes, assume)
    now = balance(shelf, given.lines, known, found.x, found.covariance, found.spread, chance, assume)
    around = ((now.slope @ found.covariance[:-1, :-1]) * now.slope).sum(axis=1)
    variance = now.variance + shelf.opening_error + shelf.closing_error
    found.span_z = left_out(now.left, variance, around, found.span_hold)
    size = np.maximum(np.abs(found.span_z), assume.soft)
    weight = given.shelf_share * (
        assume.soft / size if gentle else forgiven(found.span_z, assume.soft, assume.count_cut)
    )
    found.span_hold = weight / variance
    return solved(shelf, now, weight)


def _move_spreads(given: _Given, found: _Found, now: Pull, around: Floats) -> None:
    sums = spread_sums(given.logs, now, around, found.log_weight, found.spread)
    found.spread_sum, found.spread_weight = sums
    found.spread = shrunk_spread(*sums, given.usual_spread, given.assume)
    for at, sd in given.known_spread.items():
        found.spread[at] = sd
    found.mixes = extra_mixes(given.logs, given.lines.mixes[given.logs.line], found.log_weight)


def _trust_trade(given: _Given, found: _Found) -> None:
    """Widen all trade ranges where this shop lies further from the trade than they allow; never narrow them."""
    usual = np.array(given.layout.prior_sd, dtype=np.float64)
    mine = given.from_trade
    informed = np.clip(1.0 - np.diag(found.covariance)[:-1] / found.prior_sd**2, 0.0, 1.0)
    distance = np.minimum((found.x[:-1] / usual) ** 2, _FAR**2)
    trust = given.assume.range_trust
    wider = np.sqrt(np.clip((trust + distance[mine].sum()) / (trust + informed[mine].sum()), 1.0, _FAR**2))
    found.prior_sd = np.where(mine, usual * wider, usual)


def _state(given: _Given, found: _Found) -> State:
    """State at the end of the rounds, with its evidence."""
    logs, n = given.logs, len(found.x)
    now = _pull(given, found)
    cell = logs.columns[:, FACTOR]
    weight, own = now.strength(found.log_weight), found.x[cell] + now.off_alone
    pairs = np.unique(given.shelf.span * n + given.lines.columns[given.shelf.line, FACTOR])
    columns = (
        found.spread_sum,
        found.spread_weight,
        tally(cell, weight * own, n),
        tally(cell, weight, n),
        tally(cell, found.trusted & (given.log_share > 0), n),
        tally(pairs % n, np.ones(len(pairs)), n),
        tally(cell, weight * given.lines.set_up[logs.line], n),
    )
    return replace(
        at_start(replace(given.layout, prior_sd=tuple(found.prior_sd.tolist())), given.assume),
        x=found.x[:-1],
        covariance=found.covariance[:-1, :-1],
        spread=found.spread[:-1],
        evidence=Evidence(*(column[:-1] for column in columns)),
        extra_mixes=found.mixes[0],
        planned_mixes=found.mixes[1],
    )
