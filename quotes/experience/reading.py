"""What screens ask of the shop's experience. Reads only, each in a few queries that do not grow with the history."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from functools import cached_property
from typing import Any, NamedTuple

from quotes.costing.learning.history import Cell, Range, Term, Trade
from quotes.costing.learning.model.evidence import shown_in_words
from quotes.costing.learning.model.layout import SET_UP
from quotes.costing.learning.model.state import State, untaught
from quotes.costing.learning.questions import questions
from quotes.costing.learning.rework import ReworkRate
from quotes.costing.stats.assumptions import MINUTES
from quotes.costing.stats.normal import quantile
from quotes.estimating import learned_cell, shop_inputs
from quotes.experience.gathering import planned_term
from quotes.experience.refit import cell_key, experience, hourly, trade_from_dict
from quotes.experience.rows import FIRST_DAY, defaults_now, plan_lines
from quotes.experience.standard import MadeNow, PartPlan, Standard, plans_made
from quotes.models import Experience, Job, Step, WayPart
from shop.platform.acts import internal

USUAL_JOBS = 20  # the last finished ones stand for what the shop usually does
_TOLD = 0.8  # of the range it started with, from which the shop's set-ups are spoken of
_MANY_QUESTIONS = 400  # steps ahead that are weighed against each other at most


@dataclass(frozen=True)
class Present:
    """The present state with where it started, and the row it was kept in."""

    state: State
    trade: Trade
    row: Experience

    @cached_property
    def cells(self) -> dict[Cell, dict[str, Any]]:
        """What estimates take of each cell: with the hands and the brand of the last jobs."""
        found = self.row.figures.get("cells", ())
        return {Cell(one["operation"], one["material"]): one for one in found}

    @property
    def set_up_words(self) -> str:
        """What setting up takes beside work by size, in a sentence; empty where the jobs say next to nothing of it."""
        at, state = self.state.layout.index.get(SET_UP), self.state
        if at is None or math.sqrt(state.covariance[at, at]) > _TOLD * state.layout.prior_sd[at]:
            return ""
        times, near = math.exp(state.x[at]), math.exp(quantile(0.9) * math.sqrt(state.covariance[at, at]))
        return (
            f"Setting up takes {times:.2f} times what it would by the trade, beside what goes by the size of the work "
            f"(eight in ten: {times / near:.2f} to {times * near:.2f})."
        )

    @property
    def words(self) -> str:
        """Learned from 20 finished jobs, 214 logs and 12 counts."""
        row = self.row
        return f"Learned from {row.jobs} finished jobs, {row.logs} logs and {row.counts} counts."


def current_state() -> Present:
    """The present state; the trade defaults of no cell at all before anything was learned. One query."""
    row = experience()
    trade = trade_from_dict(row.trade)
    return Present(State.from_dict(row.state) if row.state else untaught(trade), trade, row)


class LearnedFigure(NamedTuple):
    """One factor as it is shown: use over need.

    `trade` is its default with the 5 to 95 % range, `own` this shop's own mean (None without logs), `used` what is used
    with its 80 % range, `job_low` to `job_high` that of a single job. `sure` is how much narrower the range is than the
    default's (0 nothing learned, 1 known exactly).
    """

    operation: str
    material: str
    trade: Range
    own: float | None
    used: float
    low: float
    high: float
    job_low: float
    job_high: float
    logs: int
    counts: int
    sure: float

    @property
    def labour(self) -> bool:
        return self.material == MINUTES

    @property
    def words(self) -> str:
        """“trade 1.30, your 7 logs 1.44, used 1.41 (eight in ten: 1.22 to 1.63)”."""
        return shown_in_words(self.trade.mid, self.own, self.used, self.low, self.high, self.logs, self.counts)


def own_figures(present: Present | None = None) -> list[LearnedFigure]:
    """Every factor the shop's jobs have met, by operation and material; what was learned most first asks `sure`."""
    present = present or current_state()
    cells = sorted(present.trade.factors)
    return [_own_figure(present, cell) for cell in cells]


def own_figure(operation: str, material: str, present: Present | None = None) -> LearnedFigure | None:
    """One factor; `material` is a key or “minutes”. None for what no job has met."""
    present = present or current_state()
    cell = Cell(operation, material)
    return _own_figure(present, cell) if cell in present.trade.factors else None


def _own_figure(present: Present, cell: Cell) -> LearnedFigure:
    trade = present.trade.factors[cell]
    shown = present.state.figure(cell)
    before = untaught(replace(present.trade, factors={cell: trade})).layout.prior_sd[0]
    now = present.cells.get(cell)
    met = learned_cell(now).at(now.get("part", 0.0)) if now else None
    used, sd = (trade.mid * met.used, met.sd) if met else (shown.used, shown.sd)
    own = trade.mid * met.own if met and met.own is not None else shown.own
    near, wide = (math.exp(quantile(0.9) * width) for width in (sd, math.hypot(sd, shown.spread)))
    return LearnedFigure(
        cell.operation, cell.material, trade, own, used, used / near, used * near, used / wide, used * wide,
        shown.logs, shown.counts, max(0.0, 1.0 - sd / before),
    )  # fmt: skip


class LogPoint(NamedTuple):
    """One log of an operation in a finished job: need on paper, what it took, and the factor without cup losses."""

    job: int
    day: date
    need: float
    value: float
    mixes: float
    factor: float
    doubtful: bool


def logged_points(operation: str, material: str, row: Experience | None = None) -> list[LogPoint]:
    """The logs behind a figure, oldest first, as they stood when it was last learned; at most 400. One query."""
    found = (row or experience()).points.get(cell_key(operation, material), ())
    return [
        LogPoint(int(job), FIRST_DAY + timedelta(days=math.floor(day)), need, value, mixes, factor, doubtful)
        for job, day, need, value, mixes, factor, doubtful in found
    ]


class LogWanted(NamedTuple):
    """The step whose log would teach most, and by how much the sd of the usual jobs' cost would fall, in currency."""

    step: Step
    material: str
    narrowing: float

    @property
    def labour(self) -> bool:
        return self.material == MINUTES


def question_of_the_day(on: date) -> LogWanted | None:
    """The question that was put for a day, while its step is still ahead; None where none was put. Two queries."""
    asked = experience().asked
    if asked.get("on") != on.isoformat() or asked.get("waved"):
        return None
    step = Step.objects.select_related("job__takein__board").filter(pk=asked["step"]).first()
    if step is None or not step.ahead:
        return None
    return LogWanted(step, asked["material"], asked["narrowing"])


@internal
def ask(*, on: date) -> LogWanted | None:
    """Puts the question of a day, once: of all steps ahead the log that would teach most. Put again it stays the same.

    No question before the first job is finished, nor where nothing would be learned.
    """
    row = Experience.objects.readable().select_for_update().filter(pk=1).first()
    if row is None or not row.state or row.asked.get("on") == on.isoformat():
        return question_of_the_day(on)
    row.asked = {"on": on.isoformat(), **_best_question(row, on)}
    row.save(update_fields=["asked"])
    return question_of_the_day(on)


@internal
def wave_away(*, on: date) -> None:
    """The question of a day is not asked any more; the next day may bring another."""
    row = Experience.objects.select_for_update().filter(pk=1).first()
    if row is not None and row.asked.get("on") == on.isoformat():
        row.asked = {**row.asked, "waved": True}
        row.save(update_fields=["asked"])


def _best_question(row: Experience, on: date) -> dict[str, object]:
    trade, state = trade_from_dict(row.trade), State.from_dict(row.state)
    ahead_of = Step.objects.on_the_bench().filter(part__isnull=False, redo_of=None)
    steps = list(ahead_of.order_by("pk")[:_MANY_QUESTIONS])
    boards = WayPart.objects.select_related("way__board__takein__board")
    parts = boards.in_bulk([key for step in steps for key in step.repairs if key])
    now, standard = defaults_now(), Standard.learned(row)
    ahead = [term for step in steps for term in _terms_ahead(step, parts, trade, now, standard)]
    last = Job.objects.filter(finished_at__isnull=False, comeback_of__isnull=True).order_by("-finished_at")[:USUAL_JOBS]
    usual = [
        term
        for job in last.prefetch_related("way__parts__way__board__takein__board")
        for part in job.way.parts.all()
        for line in plan_lines(PartPlan.of(part), standard, now)
        for term in planned_term(str(job.pk), line, trade)
    ]
    found = questions(state, trade, ahead, usual, hourly(shop_inputs(day=on)))
    if not found or found[0].narrowing <= 0:
        return {"step": None, "material": "", "narrowing": 0.0}
    best = found[0]
    return {"step": int(best.term.job), "material": best.term.material, "narrowing": best.narrowing}


def _terms_ahead(
    step: Step, parts: Mapping[int, WayPart], trade: Trade, now: Mapping[str, Range], standard: Standard
) -> Sequence[Term]:
    """What a step ahead needs, under the step's own key, so that the answer names the step; over all it serves."""
    found = []
    for repair, plan in step.own_plans:
        index, lines = plan.index, plan_lines(PartPlan.of(parts[repair or 0]), standard, now)
        found += [line for line in lines if line.index == index and not line.pooled]
    return [term for line in found for term in planned_term(str(step.pk), line, trade)]


def again_of(operation: str, row: Experience | None = None) -> ReworkRate | None:
    """How often an operation was done again, as it stood when it was last learned; None for what no job has met."""
    kept = (row or experience()).figures.get("again", {}).get(operation)
    return ReworkRate(operation, *kept) if kept else None


def tags(jobs: Iterable[str]) -> dict[str, str]:
    """The tags of jobs, by their key in a history. One query."""
    wanted = [int(job) for job in jobs]
    return {str(pk): tag for pk, tag in Job.objects.filter(pk__in=wanted).values_list("pk", "takein__tag")}


def made_now(parts: Collection[int]) -> MadeNow:
    """What the plans of parts are made of by the figures that it was learned under; see `standard.plans_made`."""
    row = experience()
    return plans_made(Standard.learned(row), parts, row.figures.get("losses", {}))
