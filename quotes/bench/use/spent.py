"""What jobs took so far, at the cost of its lots and the rates of its day: of hands, of the shelf, and bought in."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from quotes.models import Extra, Job, StepTime, StepUse, WayLine

AN_HOUR = Decimal(60)


@dataclass(frozen=True)
class Spent:
    """What hands and shelf gave: money without tax, and minutes."""

    materials: Decimal
    labour: Decimal
    overhead: Decimal
    bought: Decimal
    minutes: Decimal

    @property
    def cost(self) -> Decimal:
        return self.materials + self.labour + self.overhead + self.bought

    @property
    def outlay(self) -> Decimal:
        """All but the wages of the hands."""
        return self.materials + self.overhead + self.bought

    def plus(self, other: Spent) -> Spent:
        return Spent(
            self.materials + other.materials,
            self.labour + other.labour,
            self.overhead + other.overhead,
            self.bought + other.bought,
            self.minutes + other.minutes,
        )


def done_ways(job: Job, agreed: Iterable[Extra]) -> set[int | None]:
    """The ways that were done, also at our own cost; another way instead is the job's own by now."""
    return {job.way_id} | {extra.way_id for extra in agreed if extra.kind != Extra.Kind.ANOTHER}


def spent(ways: Mapping[int, Collection[int | None]]) -> dict[int, Spent]:
    """What each job took, by its key; `ways` are those that were done on each."""
    uses = StepUse.objects.filter(step__job__in=ways, undone_at__isnull=True).order_by()
    materials = dict(uses.values_list("step__job").annotate(Sum("cost")))
    times: dict[int, list[StepTime]] = defaultdict(list)
    for time in StepTime.objects.filter(step__job__in=ways, replaced_at__isnull=True).select_related("step"):
        times[time.step.job_id].append(time)
    lines = WayLine.objects.filter(way__in={way for done in ways.values() for way in done if way}).order_by()
    bought = dict(lines.values_list("way").annotate(Sum("cost")))
    return {
        job: Spent(
            materials=materials.get(job) or Decimal(0),
            labour=sum((time.minutes * time.wage_per_hour / AN_HOUR for time in times[job]), Decimal(0)),
            overhead=sum((time.minutes * time.overhead_per_hour / AN_HOUR for time in times[job]), Decimal(0)),
            bought=sum((bought.get(way) or Decimal(0) for way in done if way), Decimal(0)),
            minutes=sum((time.minutes for time in times[job]), Decimal(0)),
        )
        for job, done in ways.items()
    }
