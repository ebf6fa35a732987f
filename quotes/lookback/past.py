"""What ended jobs took against what was quoted: by operation and material, by recipe, and over all. For the shop only.

Idea: a quoted line and a booked one are the same kind of row, and every question is another way of adding rows up.
Quoted is the frozen estimate of the ways sold; expected is the same estimate by what is known now; real is what was
booked, at the cost of its lots and the rates of its day.
Invariant: rows of a job add up to its own truth; the number of queries does not grow with jobs.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from math import fsum
from typing import Any, NamedTuple

from django.db.models import Q, Sum

from quotes.bench import done_ways
from quotes.costing import REGISTRY, risk
from quotes.costing.job.afresh import Knowledge, afresh, carried_afresh
from quotes.costing.job.sundries import SUNDRIES
from quotes.costing.learning.holding import RangesHeld, held
from quotes.costing.learning.variances import Variance, variance
from quotes.costing.money.risk import JustLines
from quotes.costing.parts.serving import shares_of
from quotes.costing.snapshot import Carried, PlannedStep, SnapshotLine
from quotes.estimating import taught
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
_NARROW = 0.01  # sd as a share: a range narrower than this is no range to a reader
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
class Compared:
    """One operation and material of a job: quoted, expected by what is known now, and real.

    In the material's unit and in currency without tax. `likely` is between what eight in ten such jobs would use of it,
    None where it is counted.
    """

    operation: str
    name: str
    unit: str
    again: bool
    quoted_qty: float
    quoted_cost: float
    expected_qty: float
    expected_cost: float
    real_qty: float
    real_cost: float
    likely: tuple[float, float] | None = None

    @property
    def quoted_price(self) -> float | None:
        """Per unit; None where nothing was quoted."""
        return self.quoted_cost / self.quoted_qty if self.quoted_qty else None

    @property
    def real_price(self) -> float | None:
        """Per unit; None where nothing was booked."""
        return self.real_cost / self.real_qty if self.real_qty else None

    @property
    def variance(self) -> Variance:
        """By price and by quantity; what was not quoted, or not used, differs by its quantity alone."""
        quoted, real = self.quoted_price, self.real_price
        return variance(
            planned_price=(real if quoted is None else quoted) or 0.0,
            planned_qty=self.quoted_qty,
            real_price=(quoted if real is None else real) or 0.0,
            real_qty=self.real_qty,
        )


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
                job=job, part=pk, operation=line.operation, material=_material(line),
                name=NAMES.get(_material(line)) or line.name, unit=line.unit, again=False, qty=line.expected,
                cost=line.cost,
            )  # fmt: skip
        for one in part.again:
            yield JobAmount(job, pk, one.operation, CARRIED, NAMES[CARRIED], "piece", True, 1.0, one.cost)


def _material(line: SnapshotLine) -> str:
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
        yield step, JobAmount(job, part, operation, key, name, unit, redo is not None, _float(qty), _float(cost))
    times = StepTime.objects.filter(step__job__in=jobs, replaced_at__isnull=True)
    figures = times.values_list(*columns, "minutes", "wage_per_hour", "overhead_per_hour")
    for *at, minutes, wage, overhead in figures.order_by("step__job", "step__position", "pk"):
        step, job, part, operation, redo = at
        for kind, rate in ((HANDS, wage), (OVERHEAD, overhead)):
            row = JobAmount(job, part, operation, kind, NAMES[kind], "min", redo is not None, _float(minutes), 0.0)
            yield step, row._replace(cost=_float(minutes / AN_HOUR * rate))


def _written(jobs: Sequence[Job]) -> dict[int, float]:
    """The share of each job's planned minutes whose real minutes somebody wrote down."""
    planned: dict[int, float] = defaultdict(float)
    known: dict[int, float] = defaultdict(float)
    times = StepTime.objects.filter(step__job__in=jobs, replaced_at__isnull=True)
    for job, minutes, plan, typed in times.values_list("step__job", "minutes", "step__plan__minutes", "typed"):
        planned[job] += float(plan or 0)
        known[job] += float(plan or 0) if timed([typed], _float(minutes), float(plan or 0)) else 0.0
    return {job.pk: known[job.pk] / planned[job.pk] if planned[job.pk] else 0.0 for job in jobs}


def _bought(done: Mapping[int, set[int | None]], sold: Mapping[int, Sequence[int]]) -> dict[int, _Bought]:
    """What was bought in for the lines by hand: it costs what it costs, quoted where its way was sold."""
    asked = {way for ways in [*done.values(), *sold.values()] for way in ways if way}
    costs: dict[int, list[tuple[str, float]]] = defaultdict(list)
    for way, words, cost in WayLine.objects.filter(way__in=asked, cost__gt=0).values_list("way", "words", "cost"):
        costs[way].append((words, _float(cost)))
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
    cost = _float(truth.comebacks.cost)
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
    """The same part by what is known now, its needs by the shop's own figures of now."""
    lines = afresh(standard.lines(part.plan), now)
    return part._replace(lines=lines, again=carried_afresh(part.again, lines, now))


def _likely(parts: Iterable[_Part], bought: Sequence[JobAmount]) -> tuple[float, float] | None:
    """Between what eight in ten such jobs would cost, by their parts and what is bought in."""
    found = [part for part in parts if part.lines]
    if not found:
        return None
    cost, fixed = risk(found).cost, fsum(row.cost for row in bought)
    return cost.quantile(0.1) + fixed, cost.quantile(0.9) + fixed


def _said(parts: Sequence[_Part], bought: Sequence[JobAmount]) -> tuple[float, float, float] | None:
    if not any(part.lines for part in parts):
        return None
    cost, fixed = risk([JustLines(part.lines) for part in parts]).cost, fsum(row.cost for row in bought)
    return cost.quantile(0.1) + fixed, cost.quantile(0.5) + fixed, cost.quantile(0.9) + fixed


# --- one job ----------------------------------------------------------------------------------------------------------


def compared(past: Past) -> list[Compared]:
    """A job by operation and material, what made the largest difference first, then in the order of the quote."""
    sums: dict[tuple[str, str, str, bool], list[float]] = {}
    words: dict[tuple[str, str, str, bool], JobAmount] = {}
    for side, rows in enumerate((past.quoted, past.expected, past.real)):
        for row in rows:
            operation = "" if row.material == OVERHEAD else row.operation
            key = (operation, row.material, row.name if row.material == BOUGHT else "", row.again)
            words.setdefault(key, row)
            found = sums.setdefault(key, [0.0] * 6)
            found[2 * side] += row.qty
            found[2 * side + 1] += row.cost
    likely = _likely_uses(past.lines_now)
    made = []
    for key, row in words.items():
        quoted, quoted_cost, expected, expected_cost, real, real_cost = sums[key]
        between = None if row.again else likely.get(key[:2])
        made.append(
            Compared(operation_name(key[0]), row.name, row.unit, row.again, quoted, quoted_cost, expected, expected_cost,
                     real, real_cost, likely=between)
        )  # fmt: skip
    return sorted(made, key=lambda row: -round(abs(row.variance.total), 2))


def _likely_uses(lines: Iterable[SnapshotLine]) -> dict[tuple[str, str], tuple[float, float]]:
    """By operation and material between what eight in ten such jobs would use, in its unit; none of what is counted."""
    alike: dict[tuple[str, str], list[SnapshotLine]] = defaultdict(list)
    for line in lines:
        material = _material(line)
        key = ("" if material == OVERHEAD else line.operation, material)
        alike[key].append(replace(line, unit_cost=line.unit_cost._replace(value=1.0)))
    uses = {key: risk([JustLines(found)]).cost for key, found in alike.items()}
    return {key: (use.quantile(0.1), use.quantile(0.9)) for key, use in uses.items() if use.sd > _NARROW * use.mean}


def operation_name(key: str) -> str:
    """An operation in words."""
    if key == TURNED_UP:
        return "What turned up"
    known = REGISTRY.get(key)
    return known.name if known else key.replace("-", " ").capitalize()


# --- over all ---------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class RecipeEarned:
    """What one recipe brought: its share of prices without tax and of cost.

    `earned` is what its prices left over all but wages and `minutes` what hands took, of jobs whose minutes are known.
    """

    name: str
    jobs: int
    net: float
    cost: float
    earned: float
    minutes: float

    @property
    def gain(self) -> float:
        """What is left of the prices."""
        return self.net - self.cost

    @property
    def per_hour(self) -> float | None:
        """What an hour of hands earned; None without minutes."""
        return self.earned / self.minutes * 60 if self.minutes else None


@dataclass(frozen=True, slots=True)
class Overall:
    """Over the jobs looked back on. `off` is the mean distance of real from quoted cost, `lean` their sums' (per cent).

    `earned` is what prices left over all but wages, `minutes` what hands took and `wage` the mean wage that was paid
    for an hour, over the `timed` jobs: those whose minutes were written down.
    """

    jobs: int
    judged: int
    off: float | None
    lean: float | None
    ranges: RangesHeld
    kinds: list[RecipeEarned]
    net: float
    cost: float
    again: float
    comebacks: float
    timed: int
    minutes: float
    earned: float
    wage: float

    @property
    def lean_percent(self) -> float | None:
        """How much more, or less, all of them cost than quoted, without its sign."""
        return None if self.lean is None else abs(self.lean)

    @property
    def per_hour(self) -> float | None:
        """What an hour of hands earned."""
        return self.earned / self.minutes * 60 if self.minutes else None

    @property
    def untimed(self) -> int:
        """How many jobs say nothing about an hour: nobody wrote down their minutes."""
        return self.jobs - self.timed


def overall(past: Sequence[Past]) -> Overall:
    """All jobs together; those that were stopped or not timed say nothing about how far off quotes are."""
    judged = [one for one in past if one.off_percent is not None]
    quoted, real = (fsum(_float(getattr(one.truth, name)) for one in judged) for name in ("quoted_cost", "real_cost"))
    ranged = [one.held for one in past if one.held is not None]
    known = [one.truth for one in past if one.truth.hands_known]
    minutes = fsum(_float(truth.all_real.minutes) for truth in known)
    return Overall(
        jobs=len(past),
        judged=len(judged),
        off=fsum(abs(one.off_percent or 0.0) for one in judged) / len(judged) if judged else None,
        lean=(real / quoted - 1.0) * 100 if quoted else None,
        ranges=held(sum(ranged), len(ranged)),
        kinds=kinds(past),
        net=fsum(_float(one.truth.net) for one in past),
        cost=fsum(_float(one.truth.all_real.cost) for one in past),
        again=fsum(row.cost for one in past for row in one.real if row.again and row.material != COMEBACK),
        comebacks=fsum(_float(one.truth.comebacks.cost) for one in past),
        timed=len(known),
        minutes=minutes,
        earned=fsum(_float(truth.net - truth.all_real.outlay) for truth in known),
        wage=fsum(_float(truth.all_real.labour) for truth in known) / minutes * 60 if minutes else 0.0,
    )


def kinds(past: Sequence[Past]) -> list[RecipeEarned]:
    """By recipe, what earns least first. A job of several repairs is shared: real cost as it was booked on each, price
    and what belongs to no single repair by their quoted cost. Jobs that were stopped are left out."""
    sums: dict[str, list[float]] = defaultdict(lambda: [0.0] * 5)
    for one in past:
        if one.stopped or not one.kinds:
            continue
        for name, figures in _shared(one).items():
            sums[name] = [a + b for a, b in zip(sums[name], (1.0, *figures), strict=True)]
    found = [RecipeEarned(name, round(jobs), *figures) for name, (jobs, *figures) in sums.items()]
    return sorted(found, key=lambda kind: (kind.per_hour is None, kind.per_hour or 0.0, kind.name))


def _shared(one: Past) -> dict[str, tuple[float, float, float, float]]:
    """Net and cost of one job by recipe; what is left over all but wages, and minutes, where its minutes are known."""
    share = _weights(one)
    back, net = one.truth.comebacks, _float(one.truth.net)
    cost, wages, minutes = dict.fromkeys(share, 0.0), dict.fromkeys(share, 0.0), dict.fromkeys(share, 0.0)
    for row in one.real:
        own = one.repairs.get(row.part or 0)
        for name, part in share.items() if own is None else [(own, 1.0)]:
            cost[name] += part * row.cost
            if row.material == HANDS:
                wages[name] += part * row.cost
                minutes[name] += part * row.qty
    for name, part in share.items():
        wages[name] += part * _float(back.labour)
        minutes[name] += part * _float(back.minutes)
    known = float(one.truth.hands_known)
    return {
        name: (part * net, cost[name], known * (part * net - cost[name] + wages[name]), known * minutes[name])
        for name, part in share.items()
    }


def _weights(one: Past) -> dict[str, float]:
    """Each recipe's share of a job, by quoted cost; alike where nothing was quoted."""
    weight = dict.fromkeys(one.kinds, 0.0)
    for row in one.quoted:
        if row.part is not None and row.part in one.repairs:
            weight[one.repairs[row.part]] += row.cost
    whole = fsum(weight.values())
    return {name: value / whole if whole else 1.0 / len(weight) for name, value in weight.items()}


def _float(number: Decimal | None) -> float:
    return float(str(number or 0))
