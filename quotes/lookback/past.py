"""What ended jobs took against what was quoted: by operation and material, by recipe, and over all. For the shop only.

Idea: a quoted line and a booked one are the same kind of row, and every question is another way of adding rows up.
Quoted is the frozen estimate of the ways sold; expected is the same estimate by what is known now; real is what was
booked, at the cost of its lots and the rates of its day.
Invariant: rows of a job add up to its own truth; the number of queries does not grow with jobs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import fsum
from typing import Any, NamedTuple

from django.db.models import Q, Sum

from quotes.bench import done_ways
from quotes.costing import cost_risk
from quotes.costing.job.reestimate import Knowledge, reestimate, reestimate_rework
from quotes.costing.job.sundries import SUNDRIES
from quotes.costing.money.cost_risk import JustLines
from quotes.costing.parts.repair_shares import shares_of
from quotes.costing.snapshot import Carried, PlannedStep, SnapshotLine
from quotes.estimating import as_float, taught
from quotes.experience.gathering import MOSTLY
from quotes.experience.rows import defaults_now, timed
from quotes.experience.standard import PLAN, PartPlan, Standard
from quotes.lookback.truth import AN_HOUR, Truth, agreed_extras, sold_ways, truths
from quotes.models import Extra, Job, Step, StepTime, StepUse, WayLine, WayPart

HANDS, OVERHEAD, BOUGHT, COMEBACK, CARRIED = "hands", "overhead", "bought", "comeback", "carried"  # what is no material
NAMES = {
    HANDS: "Hands", OVERHEAD: "Overheads", BOUGHT: "Bought in", COMEBACK: "Comebacks",
    CARRIED: "Carried for doing it again",
}  # fmt: skip
NARROW = 0.01  # sd as a share: a range narrower than this is no range to a reader
TURNED_UP = "extra"  # the operation of work that turned up and was priced by hand


class JobAmount(NamedTuple):
    """One amount of a job.

    Of which part, operation and material, how much in its unit, and what it cost without tax.
    """

    job: int
    part: int | None
    operation: str
    material: str
    name: str
    unit: str
    again: bool
    qty: float
    cost: float


@dataclass(frozen=True, slots=True)
class Past:
    """One ended job: its truth, its rows, and between what its cost was said to lie in 8 of 10 such jobs.

    `noted` is whether two thirds of the planned minutes were written down: minutes left as planned are always as
    quoted. `said` holds the 10, 50 and 90 % points of the cost, None where the quote keeps no range or they were not
    `noted`. `real_first` is what the quoted work cost once: without what turned up, was done again or came back, which
    no range is about. `repairs` names the recipe of each part.

    `lines_now` are the quoted lines by what is known now, at the prices of the quote, and `expected` their rows with
    what was bought in; `likely` is between what eight in ten such jobs would cost by that, None where nothing was
    estimated.
    """

    job: Job
    truth: Truth
    quoted: Sequence[JobAmount]
    real: Sequence[JobAmount]
    stopped: bool
    noted: bool
    repairs: Mapping[int, str]
    said: tuple[float, float, float] | None
    real_first: float
    lines_now: Sequence[SnapshotLine] = ()
    expected: Sequence[JobAmount] = ()
    likely: tuple[float, float] | None = None

    @property
    def kinds(self) -> tuple[str, ...]:
        """The recipes it was quoted by, each once."""
        return tuple(dict.fromkeys(self.repairs.values()))

    @property
    def held(self) -> bool | None:
        """Whether the range held; None where there is none."""
        return None if self.said is None else self.said[0] <= self.real_first <= self.said[2]

    @property
    def expected_cost(self) -> float | None:
        """What would be quoted now, in currency without tax; None where nothing was estimated."""
        return fsum(row.cost for row in self.expected) if self.lines_now else None

    @property
    def off_percent(self) -> float | None:
        """By how much it cost more than quoted; None where the two cannot be compared."""
        if self.stopped or not self.noted or not self.truth.quoted_cost:
            return None
        return float(self.truth.difference / self.truth.quoted_cost * 100)


def ended() -> Any:
    """The ended jobs that stand for themselves, the last first; a comeback at our cost counts against its first job."""
    jobs = Job.objects.exclude(state=Job.State.OPEN).exclude(comeback_of__isnull=False, billed=False)
    return jobs.select_related("takein__board", "takein__brought_by", "way").order_by("-finished_at", "-pk")


def looked_back(jobs: Sequence[Job]) -> list[Past]:
    """Each job with its truth and its rows, in eighteen queries however many there are, and two
    more where a figure was set since one was quoted."""
    extras = agreed_extras(jobs)
    found = truths(jobs, extras)
    sold = {job.pk: [way.pk for way in sold_ways(job, extras[job.pk])] for job in jobs}
    parts = _parts({way for ways in sold.values() for way in ways})
    quoted, real = _by_job(_quoted(sold, parts)), _by_job(booked_by_repair(jobs))
    written = _written(jobs)
    now, standard = _known_now(), Standard.now()
    bought = _bought({job.pk: done_ways(job, extras[job.pk]) for job in jobs}, sold)
    past = []
    for job in jobs:
        stopped = any(extra.kind == Extra.Kind.STOPPED for extra in extras[job.pk])
        noted = job.hands == Job.Hands.WHOLE or written[job.pk] >= MOSTLY
        own = [part for way in sold[job.pk] for part in parts[way]]
        lines = bought[job.pk]
        truth = found[job.pk]
        rows = [*real[job.pk], *lines.real, *_comebacks(job, truth)]
        first = fsum(row.cost for row in rows if not row.again and row.operation != TURNED_UP)
        today = {part.pk: _today(part, now, standard) for part in own}
        past.append(
            Past(
                job=job,
                truth=truth,
                quoted=[*quoted[job.pk], *lines.quoted],
                real=rows,
                stopped=stopped,
                noted=noted,
                repairs={part.pk: part.kind for part in own},
                said=None if stopped or not noted else _said(own, lines.quoted),
                real_first=first,
                lines_now=[line for part in today.values() for line in part.lines],
                expected=[*_rows(job.pk, today), *lines.quoted],
                likely=_likely(today.values(), lines.quoted),
            )
        )
    return past


# --- rows -------------------------------------------------------------------------------------------------------------


class _Part(NamedTuple):
    pk: int
    way: int
    kind: str
    again: Sequence[Carried]
    plan: PartPlan
    lines: Sequence[SnapshotLine]


@dataclass
class _Bought:
    quoted: list[JobAmount] = field(default_factory=list)
    real: list[JobAmount] = field(default_factory=list)


def _parts(ways: Iterable[int]) -> dict[int, list[_Part]]:
    found: dict[int, list[_Part]] = defaultdict(list)
    rows = WayPart.objects.filter(way__in=ways).order_by("pk")
    columns = ("pk", "way", "recipe_version__recipe__name", "snapshot__again", *PLAN)
    for pk, way, kind, again, *of in rows.values_list(*columns):
        plan = PartPlan.of_row(*of)
        found[way].append(_Part(pk, way, kind, tuple(map(Carried.from_json, again or ())), plan, plan.lines))
    return found


def _quoted(sold: Mapping[int, Sequence[int]], parts: Mapping[int, Sequence[_Part]]) -> Iterator[JobAmount]:
    for job, ways in sold.items():
        yield from _rows(job, {part.pk: part for way in ways for part in parts[way]})


def _rows(job: int, parts: Mapping[int, _Part]) -> Iterator[JobAmount]:
    """The lines of each part of a job as rows, and what it carries for work done again."""
    for pk, part in parts.items():
        for line in part.lines:
            yield JobAmount(
                job=job, part=pk, operation=line.operation, material=material_of(line),
                name=NAMES.get(material_of(line)) or line.name, unit=line.unit, again=False, qty=line.expected,
                cost=line.cost,
            )  # fmt: skip
        for one in part.again:
            yield JobAmount(job, pk, one.operation, CARRIED, NAMES[CARRIED], "piece", True, 1.0, one.cost)


def material_of(line: SnapshotLine) -> str:
    """Name under which a line is held against what was used."""
    return {"labour": HANDS, "overhead": OVERHEAD}.get(line.kind, line.material or "")


def booked_by_repair(jobs: Sequence[Job]) -> Iterator[JobAmount]:
    """What was booked; of a step that served several repairs each has its planned share. Three queries.

    Sundries are booked for the job and stand, as they were quoted, at the step that takes them first.
    """
    serves = Step.with_sundries.filter(job__in=jobs).exclude(Q(serves=[]) & ~Q(operation=SUNDRIES))
    apart = {pk: PlannedStep.from_json({"serves": own}) for pk, own in serves.values_list("pk", "plan__serves")}
    for step, row in _booked(jobs):
        plan = apart.get(step)
        material = None if row.material in (HANDS, OVERHEAD) else row.material
        for part, share in shares_of(plan, row.part, material).items() if plan else [(row.part, 1.0)]:
            at = _quoted_at(plan, part, row) if plan and row.operation == SUNDRIES else row.operation
            yield row._replace(part=part, operation=at, qty=row.qty * share, cost=row.cost * share)


def _quoted_at(plan: PlannedStep, part: int | None, row: JobAmount) -> str:
    """The operation at which a sundry stands in the lines of its repair."""
    taken = [one for own in plan.serves if own.part == part for one in own.materials]
    return next((one.operation for one in taken if one.material == row.material), row.operation)


def _booked(jobs: Sequence[Job]) -> Iterator[tuple[int, JobAmount]]:
    """What was booked, with the step it was booked on."""
    uses = StepUse.objects.filter(step__job__in=jobs, undone_at__isnull=True).order_by("step__job", "step__position")
    columns = ("step", "step__job", "step__part", "step__operation", "step__redo_of")
    material = ("material__key", "material__name", "material__unit")
    for *at, key, name, unit, qty, cost in uses.values_list(*columns, *material).annotate(Sum("used"), Sum("cost")):
        step, job, part, operation, redo = at
        yield step, JobAmount(job, part, operation, key, name, unit, redo is not None, as_float(qty), as_float(cost))
    times = StepTime.objects.filter(step__job__in=jobs, replaced_at__isnull=True)
    figures = times.values_list(*columns, "minutes", "wage_per_hour", "overhead_per_hour")
    for *at, minutes, wage, overhead in figures.order_by("step__job", "step__position", "pk"):
        step, job, part, operation, redo = at
        for kind, rate in ((HANDS, wage), (OVERHEAD, overhead)):
            row = JobAmount(job, part, operation, kind, NAMES[kind], "min", redo is not None, as_float(minutes), 0.0)
            yield step, row._replace(cost=as_float(minutes / AN_HOUR * rate))


def _written(jobs: Sequence[Job]) -> dict[int, float]:
    """The share of each job's planned minutes whose real minutes somebody wrote down."""
    planned: dict[int, float] = defaultdict(float)
    known: dict[int, float] = defaultdict(float)
    times = StepTime.objects.filter(step__job__in=jobs, replaced_at__isnull=True)
    for job, minutes, plan, typed in times.values_list("step__job", "minutes", "step__plan__minutes", "typed"):
        planned[job] += float(plan or 0)
        known[job] += float(plan or 0) if timed([typed], as_float(minutes), float(plan or 0)) else 0.0
    return {job.pk: known[job.pk] / planned[job.pk] if planned[job.pk] else 0.0 for job in jobs}


def _bought(done: Mapping[int, set[int | None]], sold: Mapping[int, Sequence[int]]) -> dict[int, _Bought]:
    """What was bought in for the lines by hand: it costs what it costs, quoted where its way was sold."""
    asked = {way for ways in [*done.values(), *sold.values()] for way in ways if way}
    costs: dict[int, list[tuple[str, float]]] = defaultdict(list)
    for way, words, cost in WayLine.objects.filter(way__in=asked, cost__gt=0).values_list("way", "words", "cost"):
        costs[way].append((words, as_float(cost)))
    found: dict[int, _Bought] = {}
    for job, ways in done.items():
        here = found[job] = _Bought()
        for rows, of in ((here.quoted, sold[job]), (here.real, ways)):
            for way in (way for way in of if way):
                rows += [
                    JobAmount(job, None, "", BOUGHT, words, "piece", False, 1.0, cost) for words, cost in costs[way]
                ]
    return found


def _comebacks(job: Job, truth: Truth) -> list[JobAmount]:
    cost = as_float(truth.comebacks.cost)
    return [JobAmount(job.pk, None, "", COMEBACK, NAMES[COMEBACK], "piece", True, 1.0, cost)] if cost else []


def _by_job(rows: Iterable[JobAmount]) -> dict[int, list[JobAmount]]:
    found: dict[int, list[JobAmount]] = defaultdict(list)
    for row in rows:
        found[row.job].append(row)
    return found


def _known_now() -> Knowledge:
    """What the shop's jobs taught, and its defaults as they are now. Two queries."""
    found = taught()
    return Knowledge(
        learned=found.get("learned", {}),
        losses=found.get("losses", {}),
        bases=found.get("bases", {}),
        defaults={name: (figures.mid, figures.low, figures.high) for name, figures in defaults_now().items()},
        again=found.get("again", {}),
    )


def _today(part: _Part, now: Knowledge, standard: Standard) -> _Part:
    """Part by what is known now, its needs by the shop's own figures of now."""
    lines = reestimate(standard.lines(part.plan), now)
    return part._replace(lines=lines, again=reestimate_rework(part.again, lines, now))


def _likely(parts: Iterable[_Part], bought: Sequence[JobAmount]) -> tuple[float, float] | None:
    """Between what eight in ten such jobs would cost, by their parts and what is bought in."""
    found = [part for part in parts if part.lines]
    if not found:
        return None
    cost, fixed = cost_risk(found).cost, fsum(row.cost for row in bought)
    return cost.quantile(0.1) + fixed, cost.quantile(0.9) + fixed


def _said(parts: Sequence[_Part], bought: Sequence[JobAmount]) -> tuple[float, float, float] | None:
    if not any(part.lines for part in parts):
        return None
    cost, fixed = cost_risk([JustLines(part.lines) for part in parts]).cost, fsum(row.cost for row in bought)
    return cost.quantile(0.1) + fixed, cost.quantile(0.5) + fixed, cost.quantile(0.9) + fixed
