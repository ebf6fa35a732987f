"""Backtest of a shop's own past: each job foretold from what was known before it, and what that was worth.

Invariant: nothing that happened on or after a job's first day helps to foretell it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from quotes.costing.learning.forecast import Forecast, forecast
from quotes.costing.learning.history import Cell, History, Term, Trade
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.state import State, untaught
from quotes.costing.stats.assumptions import USUAL, Assumptions
from quotes.costing.stats.normal import LogNormal


@dataclass(frozen=True, slots=True)
class ActualUse:
    """Real use of a job: material cost in currency without tax, minutes hands-on; 0 where nobody wrote it down.

    `material_cost` is that of the cells `written` (None: of all). `stock` is the cost of all the material (None: that
    cost), with what was booked as planned and not weighed: that says nothing of materials, but belongs to the total, of
    which hands are most.
    """

    material_cost: float
    minutes: float
    stock: float | None = None
    written: frozenset[Cell] | None = None

    def total(self, hourly: float) -> float:
        """Cost of material and hands in currency; 0 where minutes or all of the material are not known."""
        stock = self.material_cost if self.stock is None else self.stock
        return stock + self.minutes * hourly / 60.0 if stock > 0 and self.minutes > 0 else 0.0


@dataclass(frozen=True, slots=True)
class BacktestedJob:
    """A job: foretold from `learnt_from` earlier jobs, foretold from the trade alone, and its real use."""

    job: str
    learnt_from: int
    learned: Forecast
    trade: Forecast
    real: ActualUse


@dataclass(frozen=True, slots=True)
class ForecastError:
    """Errors of forecasts of one figure: mean absolute error of the median as a share, and how often ranges held.

    `trade_error` is that error of the trade defaults.
    """

    jobs: int
    error: float
    trade_error: float
    within_50: float
    within_80: float
    within_95: float


@dataclass(frozen=True, slots=True)
class BacktestSummary:
    """Forecast errors over all jobs looked back on.

    `worth` is what learning was worth: by how much less cost was misjudged, in currency.
    """

    material_cost: ForecastError
    minutes: ForecastError
    total: ForecastError
    worth: float


def backtest_jobs(
    history: History, real: Mapping[str, ActualUse], hourly: float, assume: Assumptions = USUAL, last: int | None = None
) -> list[BacktestedJob]:
    """Backtested jobs in the order of their first day; jobs done again or without steps are left out.

    `hourly` is the cost of a hands-on hour in currency. With `last`, only so many of the last jobs: each takes a fit.
    """
    by_job: dict[str, list[Term]] = defaultdict(list)
    for term in history.terms:
        if not term.again:
            by_job[term.job].append(term)
    nothing = untaught(history.trade, assume)
    looked = []
    found = [(job, terms) for job, terms in by_job.items() if job in real]
    found.sort(key=lambda one: min(term.day for term in one[1]))
    for job, terms in found if last is None else found[max(len(found) - last, 0) :]:
        known = fit(history.before(min(term.day for term in terms)), assume).state
        looked.append(
            BacktestedJob(
                job,
                known.jobs,
                _foretold(known, history.trade, terms, real[job].written, hourly, assume),
                _foretold(nothing, history.trade, terms, real[job].written, hourly, assume),
                real[job],
            )
        )
    return looked


def _foretold(
    state: State,
    trade: Trade,
    terms: Sequence[Term],
    written: frozenset[Cell] | None,
    hourly: float,
    assume: Assumptions,
) -> Forecast:
    """Forecast of a job, its material only of what was written down, so that like is held against like."""
    whole = forecast(state, trade, terms, hourly, assume)
    if written is None:
        return whole
    part = [term for term in terms if Cell(term.operation, term.material) in written]
    material = forecast(state, trade, part, hourly, assume).material_cost if part else LogNormal(0.0, 0.0)
    return replace(whole, material_cost=material)


def summary(looked: Sequence[BacktestedJob], hourly: float) -> BacktestSummary | None:
    """Forecast errors over all jobs; None where there is no job. `hourly` in currency a hands-on hour."""
    if not looked:
        return None
    totals = [one.real.total(hourly) for one in looked]
    worth = sum(
        abs(one.trade.total.quantile(0.5) - total) - abs(one.learned.total.quantile(0.5) - total)
        for one, total in zip(looked, totals, strict=True)
        if total > 0
    )
    return BacktestSummary(
        forecast_error([one.learned.material_cost for one in looked], [one.trade.material_cost for one in looked],
             [one.real.material_cost for one in looked]),
        forecast_error([one.learned.minutes for one in looked], [one.trade.minutes for one in looked],
             [one.real.minutes for one in looked]),
        forecast_error([one.learned.total for one in looked], [one.trade.total for one in looked], totals),
        worth,
    )  # fmt: skip


def forecast_error(learned: Sequence[LogNormal], trade: Sequence[LogNormal], real: Sequence[float]) -> ForecastError:
    """Errors of forecasts of one figure, all in its unit. A job where the figure was 0 in truth is left out."""
    found = [(one, other, value) for one, other, value in zip(learned, trade, real, strict=True) if value > 0]
    n = max(len(found), 1)

    def within(share: float) -> float:
        low, high = 0.5 - share / 2.0, 0.5 + share / 2.0
        return sum(one.quantile(low) <= value <= one.quantile(high) for one, _, value in found) / n

    return ForecastError(
        jobs=len(found),
        error=sum(abs(one.quantile(0.5) / value - 1.0) for one, _, value in found) / n,
        trade_error=sum(abs(other.quantile(0.5) / value - 1.0) for _, other, value in found) / n,
        within_50=within(0.5),
        within_80=within(0.8),
        within_95=within(0.95),
    )
