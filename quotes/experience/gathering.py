"""The shop's own rows as the learning takes them: needs on paper, logs, deliveries, counts, totals of hours.

One log stands for all of an operation in a job, as in the neutral form; it is given where at least two thirds of the
need were written down. A step whose use was set by the smallest mix that can be metered teaches nothing. What was the
customer's own came off no shelf, so the history does not know it; of a step that took both, the shop's share of the
need. What was written off, sold, or used in the store for a reason that is no job counts as if it still lay on the
shelf.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from inventory.models import Material as StockMaterial
from inventory.stock.prices import prices_on
from quotes.costing.learning.backtest import ActualUse
from quotes.costing.learning.history import Cell, History, HistoryMaterial, Hours, Log, Range, Term, Trade
from quotes.costing.learning.rework import ReworkRate, rework_rates
from quotes.costing.parts.usage import POOLED
from quotes.costing.stats.assumptions import MINUTES
from quotes.costing.steps.mixing import CUP_LOSS
from quotes.experience.rows import (
    FIRST_DAY,
    DoneStep,
    PlanLine,
    Used,
    day_number,
    defaults_now,
    done_steps,
    each,
    lines_of_parts,
    plan_lines,
)
from quotes.experience.shelf_counts import COUNTED_TO, counts_of, receipts_of
from quotes.experience.standard import PLAN, PartPlan, Standard
from quotes.models import BenchHours, Job, WayPart

MOSTLY = 2 / 3  # of a need that must have been written down for its log to stand; 0.5 to 1
STEPS = {"g": 0.1, "mL": 0.1, "m": 0.01, "m2": 0.001, "each": 1.0}  # what a scale or a rule shows at the bench
PART_OF_A_PIECE = 0.25  # what is written down of a disc or a pair of gloves that serves several jobs; common practice


@dataclass(frozen=True)
class Gathered:
    """A shop's history, from how many finished jobs it comes, and by job what those of it that were written down took.

    `charged` are steps that were done again for the customer, who pays for it: no price is to carry that.
    """

    history: History
    jobs: int
    real: Mapping[str, ActualUse]
    charged: frozenset[str] = frozenset()

    def again(self, hourly: float) -> dict[str, ReworkRate]:
        """By operation how often it was done again at the shop's own cost. `hourly` is the cost of a hands-on hour."""
        history = self.history
        own = [term for term in history.terms if term.operation != POOLED]  # what steps share is no step
        return rework_rates(own, history.logs, history.trade, hourly, self.charged)


@dataclass(slots=True)
class _Entry:
    """What one step, or one repair for what its steps share, needed and took of one material."""

    line: PlanLine
    step: DoneStep
    need: float
    used: float
    mixes: float
    written: bool
    brand: str


def gather(*, day: date) -> Gathered:
    """All that was ever written down, with the prices of `day`. About a dozen queries, one more for 500 repairs."""
    steps = done_steps()
    entries = list(_entries(steps))
    rows = {row.key: row for row in StockMaterial.objects.only("key", "unit", "kind")}
    trade = _trade_of([entry.line for entry in entries], rows, day)
    entries = [entry for entry in entries if _still_counted_so(entry.line, trade)]
    terms, logs = _terms_and_logs(entries, trade)
    receipts = receipts_of(trade)
    history = History(
        trade=trade,
        terms=tuple(terms),
        logs=tuple(logs),
        receipts=tuple(receipt for _, receipt in receipts),
        counts=tuple(counts_of(trade, receipts)),
        hours=tuple(_hours()),
    )
    charged = frozenset(str(entry.step.pk) for entry in entries if entry.step.charged)
    return Gathered(history, len({step.job for step in steps if step.finished}), _real(entries, trade), charged)


def _still_counted_so(line: PlanLine, trade: Trade) -> bool:
    if line.material == MINUTES:
        return True
    material = trade.materials.get(line.material)
    return material is not None and material.unit == line.unit


def _entries(steps: Sequence[DoneStep]) -> Iterator[_Entry]:
    by_part: dict[int, list[DoneStep]] = defaultdict(list)
    for step in steps:
        if not step.put_in:  # a sanding put in later has no need on paper of its own
            by_part[step.part].append(step)
    for part, lines in lines_of_parts(by_part):
        yield from (entry for entry in _of_part(lines, by_part[part]) if entry.need > 0)


def _of_part(lines: Sequence[PlanLine], steps: Sequence[DoneStep]) -> Iterator[_Entry]:
    first = [step for step in steps if not step.redo]
    shared = {line.material for line in lines if line.pooled}
    both = shared & {line.material for line in lines if not line.pooled}
    for line in lines:
        if line.pooled:
            if first:
                yield _shared_entry(line, first, known=line.material not in both)
            continue
        for step in steps:
            if step.index == line.index:
                yield _entry(line, step, lines, known=line.material not in both)


def _entry(line: PlanLine, step: DoneStep, lines: Sequence[PlanLine], *, known: bool) -> _Entry:
    """One line at its step; a material that has several lines at one step is shared among them by need."""
    need, bound = _need(line)
    if line.material == MINUTES:
        return _Entry(line, step, need, step.minutes, 0.0, step.timed, "")
    used = step.used.get(line.material, Used())
    alike = [one.need for one in lines if (one.index, one.material, one.pooled) == (line.index, line.material, False)]
    share = line.need / math.fsum(alike)
    written = used.written and not used.own and not bound and known
    line = line._replace(mixes=line.mixes * used.ours)
    return _Entry(line, step, need * used.ours, used.amount * share, used.mixes * share, written, used.brand)


def _need(line: PlanLine) -> tuple[float, bool]:
    """The need on paper, and whether the smallest mix set it instead: then as much as gives that mix."""
    lost = line.mixes * line.loss
    if line.set_by_least or (line.smallest and line.least > lost):
        return (line.least - lost) / line.base.mid, True
    return line.need, line.smallest


def _shared_entry(line: PlanLine, steps: Sequence[DoneStep], *, known: bool) -> _Entry:
    """What the steps of a repair share, at the step that takes it from the shelf."""
    anchor = next((step for step in steps if step.index == line.index), steps[0])
    found = [step.used[line.material] for step in steps if line.material in step.used]
    taken = Used(math.fsum(used.amount for used in found), own=math.fsum(used.own for used in found))
    written = bool(found) and known and not taken.own and not any(used.booked for used in found)
    brand = next((used.brand for used in found if used.brand), "")
    return _Entry(line, anchor, line.need * taken.ours, taken.amount, 0.0, written, brand)


def _terms_and_logs(entries: Sequence[_Entry], trade: Trade) -> tuple[list[Term], list[Log]]:
    """Each entry's need in the terms of its cell's default; one log for all of an operation in a job."""
    terms: list[Term] = []
    together: dict[tuple[str, str, str, bool], list[_Entry]] = defaultdict(list)
    brands: dict[str, str] = {}
    for entry in sorted(entries, key=lambda one: one.step.at):
        line, step = entry.line, entry.step
        if line.material != MINUTES:
            brands[line.material] = entry.brand or brands.get(line.material, "")
        terms.append(_term_of(line, entry.need, step, trade, brands.get(line.material, "")))
        together[str(step.job), line.operation, line.material, step.again].append(entry)
    logs = [log for key, found in together.items() if (log := _log(key, found)) is not None]
    return terms, logs


def _real(entries: Iterable[_Entry], trade: Trade) -> dict[str, ActualUse]:
    """By finished job what it took, at the prices of the trade: of the material what was written down, and all of it as
    it was booked; minutes only where two thirds of them were noted, for they have no parts to hold against each other.
    """
    by_job: dict[str, list[_Entry]] = defaultdict(list)
    for entry in entries:
        if entry.step.finished and not entry.step.again:
            by_job[str(entry.step.job)].append(entry)
    real = {}
    for job, found in by_job.items():
        labour = [entry for entry in found if entry.line.material == MINUTES]
        stock = [entry for entry in found if entry.line.material != MINUTES]
        kept = _kept(stock)
        weighed = [entry for entry in stock if _cell(entry) in kept]
        minutes = _minutes(labour)
        if weighed or minutes:
            real[job] = ActualUse(_worth(weighed, trade), minutes, _worth(stock, trade), kept)
    return real


def _cell(entry: _Entry) -> Cell:
    return Cell(entry.line.operation, entry.line.material)


def _kept(entries: Sequence[_Entry]) -> frozenset[Cell]:
    """The cells of a job of which everything was written down."""
    return frozenset(map(_cell, entries)) - {_cell(entry) for entry in entries if not entry.written}


def _worth(entries: Sequence[_Entry], trade: Trade) -> float:
    return math.fsum(entry.used * trade.price(entry.line.material, 60.0) for entry in entries)


def _minutes(entries: Sequence[_Entry]) -> float:
    """Minutes in all; 0 where less than two thirds of what was expected were noted."""
    expected = math.fsum(entry.need * entry.line.base.mid for entry in entries)
    noted = math.fsum(entry.need * entry.line.base.mid for entry in entries if entry.written)
    return math.fsum(entry.used for entry in entries) if expected and noted >= MOSTLY * expected else 0.0


def ask_terms(trade: Trade, *, day: date) -> list[Term]:
    """What the jobs on the bench need altogether, as a history asks for it; cells that no job has met are left out."""
    jobs = Job.objects.filter(state=Job.State.OPEN).order_by("pk")
    parts = WayPart.objects.filter(way__jobs__in=jobs).order_by("way__jobs__pk", "pk")
    today, now, standard = float(_whole(day)), defaults_now(), Standard.now()
    return [
        term
        for job, *plan in parts.values_list("way__jobs__pk", *PLAN)
        for line in plan_lines(PartPlan.of_row(*plan), standard, now)
        for term in planned_term(str(job), line, trade, day=today)
    ]


def planned_term(job: str, line: PlanLine, trade: Trade, *, day: float = 0.0) -> list[Term]:
    """A line not done yet as a term, by nobody in particular; nothing for a cell or material that no job has met."""
    usual = trade.factors.get(Cell(line.operation, line.material))
    if usual is None or not _still_counted_so(line, trade):
        return []
    need = line.need * line.base.mid / usual.mid
    set_up = need * line.set_up_part
    return [Term(job, line.operation, day, "", line.material, need, float(line.mixes), set_up=set_up)]


def _term_of(line: PlanLine, need: float, step: DoneStep, trade: Trade, brand: str) -> Term:
    """A plan line as a term: needs worked out with another default of the same cell are brought to the present one."""
    usual = trade.factors[Cell(line.operation, line.material)]
    need *= line.base.mid / usual.mid
    return Term(
        job=str(step.job),
        operation=line.operation,
        day=day_number(step.at),
        worker=step.worker,
        material=line.material,
        need=need,
        mixes=float(line.mixes),
        brand=brand,
        again=step.again,
        step=str(step.pk),
        set_up=need * line.set_up_part,
    )


def _log(key: tuple[str, str, str, bool], entries: Sequence[_Entry]) -> Log | None:
    """The log of one operation and material in a job, once the job is finished and most of it was written down.

    What was written down stands for the rest; what was booked as planned says nothing of it.
    """
    if not all(entry.step.finished for entry in entries):
        return None
    need = math.fsum(entry.need for entry in entries)
    written = math.fsum(entry.need for entry in entries if entry.written)
    if not written or written < MOSTLY * need:
        return None
    scale = need / written
    entries = [entry for entry in entries if entry.written]
    value = math.fsum(entry.used for entry in entries) * scale
    job, operation, material, again = key
    mixes = math.fsum(entry.mixes for entry in entries) * scale
    return Log(job, operation, material, round(value, 6), round(mixes, 6), again)


def _trade_of(lines: Iterable[PlanLine], rows: Mapping[str, StockMaterial], day: date) -> Trade:
    """Materials as they are used and priced on a day, and of each cell the default of the last snapshot that has it."""
    factors: dict[Cell, Range] = {}
    losses: dict[str, float] = {}
    used: set[str] = set()
    in_parts: set[str] = set()
    for line in lines:
        if line.material != MINUTES and (line.material not in rows or each(rows[line.material].unit) != line.unit):
            continue  # a material that is now counted otherwise: its old needs say nothing in the new unit
        factors[Cell(line.operation, line.material)] = line.base
        if line.material != MINUTES:
            used.add(line.material)
            if line.in_parts:
                in_parts.add(line.material)
            if line.mixes and line.loss > 0:
                losses[line.material] = line.loss
    prices = prices_on(day, used) if used else {}
    materials = {
        key: HistoryMaterial(
            key=key,
            unit=each(rows[key].unit),
            price=float(prices[key].per_unit) if key in prices else 0.0,
            group=rows[key].kind,
            loss=cup_range(losses[key]) if key in losses else None,
            log_step=PART_OF_A_PIECE if key in in_parts else STEPS[each(rows[key].unit)],
            count_step=COUNTED_TO[each(rows[key].unit)],
            in_parts=key in in_parts,
        )
        for key in sorted(used)
    }
    return Trade(materials, factors, set_ups=True)


def cup_range(loss: float) -> Range:
    """What a cup keeps, from low to high in the proportions of the trade's figure."""
    return Range(loss, loss * CUP_LOSS.low / CUP_LOSS.value, loss * CUP_LOSS.high / CUP_LOSS.value)


def _hours() -> Iterator[Hours]:
    """Totals of hours by person, in order; the last day reaches to its end."""
    rows = (
        BenchHours.objects.standing()
        .order_by("person_id", "from_day")
        .values_list("from_day", "to_day", "person_id", "minutes")
    )
    for first, last, person, minutes in rows:
        yield Hours(float(_whole(first)), _whole(last) + 0.99999, str(person), float(minutes))


def _whole(day: date) -> int:
    """A day as whole days since the first day."""
    return (day - FIRST_DAY).days
