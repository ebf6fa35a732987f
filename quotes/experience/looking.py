"""Finished jobs looked back on: what was quoted and expected then, what it really took, and where the difference lies.

What was expected is read from the frozen snapshot, so it is what the shop believed on that day and not what it would say
now. Real cost = lot cost of what was used + minutes at the wage and overhead of their day. A range is judged only where
two thirds of the planned minutes were written down.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from decimal import Decimal
from math import fsum
from typing import Any, NamedTuple

from django.db.models import Sum

from quotes.costing import risk
from quotes.costing.learning.normal import LogNormal
from quotes.costing.learning.variances import Variance, variance
from quotes.experience.gathering import MOSTLY
from quotes.experience.rows import FINISHED, timed
from quotes.models import Extra, Job, StepTime, StepUse, WayLine, WayPart

LAST_JOBS = 200


@dataclass(frozen=True)
class LineVariance:
    """One material, or the hands of one operation: planned and real quantity and price, and what each made of the cost."""

    name: str
    unit: str
    labour: bool
    planned_qty: float
    planned_price: float
    real_qty: float
    real_price: float
    variance: Variance


class Comebacks(NamedTuple):
    """What came back and was put right at the shop's cost: money without tax, and hands-on minutes."""

    cost: float = 0.0
    outlay: float = 0.0
    minutes: float = 0.0


@dataclass(frozen=True)
class LookedBack:
    """One finished job. Money in the shop's currency without tax; `cost` and `minutes` are what was expected.

    `real_cost` compares with `cost`: neither holds what was `bought` in for lines by hand, nor what `comebacks` at the
    shop's cost took later; gain and earning count both.
    """

    job: Job
    kind: str
    finished_at: datetime
    learnt_from: int
    price: float
    cost: LogNormal
    minutes: LogNormal
    real_cost: float
    real_minutes: float
    outlay: float
    written: float
    bought: float
    comebacks: Comebacks
    lines: tuple[LineVariance, ...] = field(repr=False)

    @property
    def judged(self) -> bool:
        """Whether enough was written down to say if the range held."""
        return self.written >= MOSTLY

    @property
    def inside(self) -> bool | None:
        """Whether the real cost lay in the 80 % range; None where it cannot be judged."""
        return self.cost.quantile(0.1) <= self.real_cost <= self.cost.quantile(0.9) if self.judged else None

    @property
    def off_percent(self) -> float:
        """By how much the real cost lay above (+) or below (−) what was expected."""
        return (self.real_cost / self.cost.mean - 1.0) * 100.0 if self.cost.mean else 0.0

    @property
    def gain(self) -> float:
        """What is left of the price after everything, comebacks too."""
        return self.price - self.whole_cost

    @property
    def whole_cost(self) -> float:
        return self.real_cost + self.bought + self.comebacks.cost

    @property
    def whole_outlay(self) -> float:
        """All but the wages of the hands."""
        return self.outlay + self.bought + self.comebacks.outlay

    @property
    def whole_minutes(self) -> float:
        return self.real_minutes + self.comebacks.minutes

    @property
    def earned_per_hour(self) -> float | None:
        """What an hour of hands earned; None without minutes."""
        return (self.price - self.whole_outlay) / self.whole_minutes * 60.0 if self.whole_minutes else None


@dataclass(frozen=True)
class Kind:
    """All finished jobs of one kind together."""

    name: str
    jobs: int
    price: float
    real_cost: float
    earned_per_hour: float | None

    @property
    def gain(self) -> float:
        return self.price - self.real_cost

    @property
    def loses(self) -> bool:
        return self.gain < 0


@dataclass(frozen=True)
class OverAll:
    """Over all jobs: how many can be judged, how often the 80 % range held, how far off costs were, by kind of job."""

    jobs: int
    judged: int
    inside: int
    mean_error_percent: float | None
    kinds: tuple[Kind, ...]

    @property
    def inside_percent(self) -> float | None:
        return 100.0 * self.inside / self.judged if self.judged else None


def finished_jobs_looked_back(last: int = LAST_JOBS) -> list[LookedBack]:
    """The last finished jobs, newest first; a comeback is counted to the job it came back from. Seven queries."""
    jobs = list(
        Job.objects.filter(state__in=FINISHED, comeback_of__isnull=True)
        .select_related("takein__board", "way")
        .order_by("-finished_at", "-pk")[:last]
    )
    ways = _ways(jobs)
    snapshots: dict[int, list[Mapping[str, Any]]] = defaultdict(list)
    parts = WayPart.objects.filter(way__in={way for found in ways.values() for way in found}).order_by("pk")
    for way, snapshot in parts.values_list("way_id", "snapshot"):
        snapshots[way].append(snapshot)
    back = dict(Job.objects.filter(comeback_of__in=jobs, billed=False).values_list("pk", "comeback_of_id"))
    keys = [*(job.pk for job in jobs), *back]
    uses, times, bought = _uses(keys), _times(keys), _bought({way for found in ways.values() for way in found})
    again: dict[int, list[Comebacks]] = defaultdict(list)
    for comeback, origin in back.items():
        again[origin].append(_spent(uses[comeback], times[comeback]))
    found = []
    for job in jobs:
        made = [snapshot for way in ways[job.pk] for snapshot in snapshots[way] if snapshot.get("lines")]
        if made:
            extra = fsum(bought.get(way, 0.0) for way in ways[job.pk])
            comebacks = Comebacks(*(fsum(column) for column in zip(*again[job.pk], strict=True)))
            found.append(_looked(job, made, ways[job.pk], uses[job.pk], times[job.pk], extra, comebacks))
    return found


def over_all(looked: Sequence[LookedBack]) -> OverAll:
    """The jobs together; kinds that lose money come first."""
    judged = [one for one in looked if one.judged]
    by_kind: dict[str, list[LookedBack]] = defaultdict(list)
    for one in looked:
        by_kind[one.kind].append(one)
    kinds = [_kind(name, jobs) for name, jobs in by_kind.items()]
    return OverAll(
        jobs=len(looked),
        judged=len(judged),
        inside=sum(bool(one.inside) for one in judged),
        mean_error_percent=fsum(abs(one.off_percent) for one in judged) / len(judged) if judged else None,
        kinds=tuple(sorted(kinds, key=lambda kind: (kind.gain, kind.name))),
    )


def tags(jobs: Iterable[str]) -> dict[str, str]:
    """The tags of jobs, by their key in a history. One query."""
    wanted = [int(job) for job in jobs]
    return {str(pk): tag for pk, tag in Job.objects.filter(pk__in=wanted).values_list("pk", "takein__tag")}


def _kind(name: str, jobs: Sequence[LookedBack]) -> Kind:
    minutes = fsum(one.whole_minutes for one in jobs)
    price, outlay = fsum(one.price for one in jobs), fsum(one.whole_outlay for one in jobs)
    return Kind(
        name, len(jobs), price, fsum(one.whole_cost for one in jobs),
        (price - outlay) / minutes * 60.0 if minutes else None,
    )  # fmt: skip


def _ways(jobs: Sequence[Job]) -> dict[int, dict[int, float]]:
    """By job the ways it was done by, and the price without tax of each; extras at the shop's cost have none."""
    ways = {job.pk: {job.way_id: _float(job.way.net)} for job in jobs}
    extras = Extra.objects.filter(job__in=jobs, state=Extra.State.AGREED, way__isnull=False).exclude(
        kind=Extra.Kind.ANOTHER
    )
    for job, way, kind, net in extras.values_list("job_id", "way_id", "kind", "net"):
        ways[job][way] = _float(net) if kind == Extra.Kind.EXTRA else 0.0
    return ways


Uses = list[tuple[str, str, str, Decimal, Decimal]]
Times = list[tuple[int, str, Decimal, Decimal, Decimal, float]]


def _uses(jobs: Sequence[int]) -> dict[int, Uses]:
    found: dict[int, Uses] = defaultdict(list)
    rows = StepUse.objects.filter(step__job__in=jobs, undone_at__isnull=True).order_by("pk")
    names = ("step__job_id", "material__key", "material__name", "material__unit", "used", "cost")
    for job, *row in rows.values_list(*names):
        found[job].append(tuple(row))
    return found


def _times(jobs: Sequence[int]) -> dict[int, Times]:
    found: dict[int, Times] = defaultdict(list)
    rows = StepTime.objects.filter(step__job__in=jobs, replaced_at__isnull=True).order_by("pk")
    names = (
        "step__job_id", "step_id", "step__operation", "minutes", "wage_per_hour", "overhead_per_hour",
        "step__plan__minutes",
    )  # fmt: skip
    for job, *row in rows.values_list(*names):
        found[job].append(tuple(row))
    return found


def _bought(ways: set[int | None]) -> dict[int, float]:
    rows = WayLine.objects.filter(way__in=ways).order_by().values("way_id").annotate(cost=Sum("cost"))
    return {row["way_id"]: _float(row["cost"]) for row in rows}


def _spent(uses: Uses, times: Times) -> Comebacks:
    """What hands and shelf gave to one job."""
    materials = fsum(_float(cost) for *_, cost in uses)
    minutes = fsum(_float(one[2]) for one in times)
    wages = fsum(_float(spent) * _float(wage) / 60.0 for _, _, spent, wage, _, _ in times)
    overhead = fsum(_float(spent) * _float(rate) / 60.0 for _, _, spent, _, rate, _ in times)
    return Comebacks(materials + wages + overhead, materials + overhead, minutes)


def _looked(
    job: Job, snapshots: Sequence[Mapping[str, Any]], ways: Mapping[int, float], uses: Uses, times: Times,
    bought: float, comebacks: Comebacks,
) -> LookedBack:  # fmt: skip
    expected, spent = risk(snapshots), _spent(uses, times)
    assert job.finished_at is not None
    return LookedBack(
        job=job,
        kind=" and ".join(dict.fromkeys(snapshot["recipe_name"] for snapshot in snapshots)),
        finished_at=job.finished_at,
        learnt_from=max((snapshot.get("experience") or {}).get("jobs", 0) for snapshot in snapshots),
        price=fsum(ways.values()),
        cost=expected.cost,
        minutes=expected.minutes,
        real_cost=spent.cost,
        real_minutes=spent.minutes,
        outlay=spent.outlay,
        written=_written(times),
        bought=bought,
        comebacks=comebacks,
        lines=(*_material_lines(snapshots, uses), *_labour_lines(snapshots, times)),
    )


def _written(times: Times) -> float:
    """The share of the planned minutes whose real minutes were written down."""
    planned = fsum(float(one[5] or 0) for one in times)
    known = fsum(float(plan or 0) for _, _, spent, _, _, plan in times if timed(_float(spent), float(plan or 0)))
    return known / planned if planned else 0.0


def _material_lines(snapshots: Sequence[Mapping[str, Any]], uses: Uses) -> list[LineVariance]:
    planned: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    real: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    names: dict[str, tuple[str, str]] = {}
    for snapshot in snapshots:
        for line in snapshot["lines"]:
            if line["material"]:
                names[line["material"]] = line["name"], line["use"]["unit"]
                planned[line["material"]][0] += line["use"]["value"]
                planned[line["material"]][1] += line["cost"]
    for key, name, unit, used, cost in uses:
        names[key] = name, unit
        real[key][0] += _float(used)
        real[key][1] += _float(cost)
    return [_line(*names[key], False, planned[key], real[key]) for key in names]


def _labour_lines(snapshots: Sequence[Mapping[str, Any]], times: Times) -> list[LineVariance]:
    """Hands by operation: quantities in hours, prices per hour (wage and overhead)."""
    planned: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    real: dict[str, list[float]] = defaultdict(lambda: [0.0, 0.0])
    for snapshot in snapshots:
        for line in snapshot["lines"]:
            if line["kind"] in ("labour", "overhead"):
                planned[line["operation"]][0] += line["use"]["value"] / 60.0 if line["kind"] == "labour" else 0.0
                planned[line["operation"]][1] += line["cost"]
    for _, operation, spent, wage, rate, _ in times:
        hours = _float(spent) / 60.0
        real[operation][0] += hours
        real[operation][1] += hours * (_float(wage) + _float(rate))
    return [_line(name, "h", True, planned[name], real[name]) for name in {**planned, **real}]


def _line(name: str, unit: str, labour: bool, planned: Sequence[float], real: Sequence[float]) -> LineVariance:
    """Quantities and costs as unit prices; what was not planned has its real price, what was not used its planned one."""
    planned_price = planned[1] / planned[0] if planned[0] else (real[1] / real[0] if real[0] else 0.0)
    real_price = real[1] / real[0] if real[0] else planned_price
    found = variance(planned_price=planned_price, planned_qty=planned[0], real_price=real_price, real_qty=real[0])
    return LineVariance(name, unit, labour, planned[0], planned_price, real[0], real_price, found)


def _float(number: Decimal | None) -> float:
    return 0.0 if number is None else float(str(number))
