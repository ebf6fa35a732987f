"""Doubtful logs, each in one sentence with the likeliest mistake. Nothing is changed: that is the repairer's to do.

A log is doubtful where it lies more than 3.5 sd from what all else says, or where its scale could not have shown it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np

from quotes.costing.learning.entry_errors import BATCH, BY_UNIT, POINT, EntryMistake
from quotes.costing.learning.history import Log, Term, Trade
from quotes.costing.learning.model.equations import left_out, surroundings
from quotes.costing.learning.model.fit import Fitted
from quotes.costing.learning.model.lines import cup, lines, merged, paper
from quotes.costing.learning.model.logs import log_rows, pull
from quotes.costing.learning.model.state import State, with_terms
from quotes.costing.stats.assumptions import MINUTES, USUAL, Assumptions

_FITS = 2.5  # sd within which a corrected value counts as fitting
_MARK = 0.06  # how far off a mark of its scale a corrected value may be
_TEN = 1.2816  # sd from the middle to either end of an 80 % range


@dataclass(frozen=True, slots=True)
class Doubt:
    """A log in doubt.

    `low` to `high` is where 80 % of such logs lie, `fits` the value that would, None where none does; in the log's
    unit.
    """

    job: str
    operation: str
    material: str
    value: float
    low: float
    high: float
    fits: float | None
    explanation: str

    @property
    def guess(self) -> str:
        """Words for what may have happened, beside the log itself: “Written down in kg? 120 g would fit.”"""
        words = self.explanation.partition(f" on job {self.job}: ")[2]
        return words[:1].upper() + words[1:]

    def as_dict(self) -> dict[str, Any]:
        """Doubt as `backtest --json` prints it."""
        names = ("job", "operation", "material", "value", "explanation")
        return {name: getattr(self, name) for name in names}


@dataclass(frozen=True, slots=True)
class _Judged:
    z: float
    readable: bool
    expected: float  # in the material's unit
    sd: float  # of its logarithm, with the state's own uncertainty


def doubts(fitted: Fitted, trade: Trade, assume: Assumptions = USUAL) -> list[Doubt]:
    """Doubtful logs of a history, in the order they were written."""
    rows = fitted.log_rows
    doubtful = (np.abs(fitted.log_z) > assume.doubtful) | ~rows.readable
    found = []
    for at in np.flatnonzero(doubtful).tolist():
        term = fitted.lines.terms[rows.line[at]]
        log = Log(term.job, term.operation, term.material, float(rows.value[at]), float(rows.mixes[at]), term.again)
        found.append(_doubt(fitted.state, trade, term, log, assume))
    return found


def doubt(state: State, trade: Trade, term: Term, log: Log, assume: Assumptions = USUAL) -> Doubt | None:
    """Doubt about a log that was just written down, judged by the state as it stands; None where it fits.

    `term` is what the step needed of the material; for one mix of several, the share of need and mixes it stands for.
    """
    state = with_terms(state, trade, [term], assume)
    judged = _judge(state, trade, term, log, assume)
    if abs(judged.z) <= assume.doubtful and judged.readable:
        return None
    return _doubt(state, trade, term, log, assume)


def _judge(state: State, trade: Trade, term: Term, log: Log, assume: Assumptions) -> _Judged:
    """Distance of a log from what is expected, judged by a state that it has no part in."""
    found = lines(merged([term]), state.layout, trade)
    rows = log_rows([log], found, trade, state.timed_to)
    x = np.append(state.x, 0.0)
    now = pull(rows, found, x, np.append(state.spread, 0.0), assume)
    around = surroundings(rows, now, np.pad(state.covariance, (0, 1)))
    return _Judged(
        z=float(left_out(now.off, now.sd**2, around, np.zeros(1))[0]),
        readable=bool(rows.readable[0]),
        expected=float((paper(found, x) + rows.mixes * cup(found, x))[0]),
        sd=math.sqrt(float(now.sd[0] ** 2 + around[0])),
    )


def _doubt(state: State, trade: Trade, term: Term, log: Log, assume: Assumptions) -> Doubt:
    """Doubt with its sentence, where a log lies too far off or its scale could not have shown it."""
    unit = MINUTES if term.material == MINUTES else trade.materials[term.material].unit
    step = state.timed_to if unit == MINUTES else trade.materials[term.material].log_step
    judged = _judge(state, trade, term, log, assume)
    low, high = (judged.expected * math.exp(sign * _TEN * judged.sd) for sign in (-1.0, 1.0))
    if unit == "each":
        low, high = float(math.ceil(low)), float(math.ceil(high))
    slip, fits = next(_fitting(state, trade, term, log, unit, step, assume), (None, None))
    what = f"{number(log.value)}{_unit(unit, log.value)} "
    what += f"for {term.operation}" if unit == MINUTES else f"of {term.material} for {term.operation}"
    usual = f"usual here is {number(low)} to {number(high)}" if high > step else f"usual here is {number(step)} or less"
    if slip and fits is not None:
        guess = f"{slip.words}? {number(fits)}{_unit(unit, fits)} would fit ({usual})."
    elif not judged.readable:
        guess = f"less than its scale can show ({number(step)}{_unit(unit, step)}); {usual}."
    else:
        guess = f"{_unexplained(unit, log.value > judged.expected)} U{usual[1:]}."
    return Doubt(
        term.job, term.operation, term.material, log.value, low, high, fits, f"{what} on job {term.job}: {guess}"
    )


def _fitting(
    state: State, trade: Trade, term: Term, log: Log, unit: str, step: float, assume: Assumptions
) -> Iterator[tuple[EntryMistake, float]]:
    """Mistakes whose correction would fit, each with the corrected value.

    Wrong units first, the nearest of them first; then a point, then a batch.
    """
    kinds = [BY_UNIT[unit], () if unit == MINUTES else POINT, BATCH if log.mixes >= 1 else ()]
    for slips in kinds:
        near = []
        for slip in slips:
            value = _on_the_mark(log.value * slip.times, step)
            judged = _judge(state, trade, term, log._replace(value=value), assume)
            if abs(judged.z) <= _FITS and judged.readable:
                near.append((abs(judged.z), slip, value))
        yield from ((slip, value) for _, slip, value in sorted(near))


def _on_the_mark(value: float, step: float) -> float:
    """A corrected value as its scale would have shown it, where a mark is near; units were turned by rough figures."""
    if step <= 0:
        return value
    mark = max(round(value / step), 1) * step
    return mark if abs(mark / value - 1.0) <= _MARK else value


def _unexplained(unit: str, much: bool) -> str:
    if unit == MINUTES:
        return "was the timer left on?" if much else "was part of the work not timed?"
    return "far too much." if much else "far too little."


def _unit(unit: str, value: float) -> str:
    if unit == "each":
        return " piece" if value == 1 else " pieces"
    return " min" if unit == MINUTES else " m²" if unit == "m2" else f" {unit}"


def number(value: float) -> str:
    """Number for a sentence: three figures, no exponent. 0.1204 → 0.12, 46000 → 46000."""
    if value >= 100:
        return f"{value:.0f}"
    return f"{float(f'{value:.3g}'):f}".rstrip("0").rstrip(".")
