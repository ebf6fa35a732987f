"""What a job really was: quoted against real cost, and what an hour of hands earned. For the shop only.

Real cost = lot cost of what was used + minutes at the wage and overhead of their day + what was bought in.
Earned per hour = (price without tax - materials - overhead - bought in) / hands-on hours, comebacks counted in.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from django.db.models import Sum

from quotes.bench import charges
from quotes.models import Extra, Job, StepTime, StepUse, WayLine
from shop.money import round_money

ZERO = Decimal(0)
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


@dataclass(frozen=True)
class Truth:
    """Quoted and real, side by side."""

    net: Decimal
    quoted_cost: Decimal
    quoted_minutes: Decimal
    quoted_per_hour: float | None
    real: Spent
    comebacks: Spent
    currency: str

    @property
    def all_real(self) -> Spent:
        return self.real.plus(self.comebacks)

    @property
    def real_cost(self) -> Decimal:
        return round_money(self.all_real.cost, self.currency)

    @property
    def difference(self) -> Decimal:
        """Real less quoted cost: above zero, it cost more."""
        return self.real_cost - self.quoted_cost

    @property
    def difference_percent(self) -> Decimal | None:
        return None if not self.quoted_cost else (self.difference / self.quoted_cost * 100).quantize(Decimal("0.1"))

    @property
    def gain(self) -> Decimal:
        """What is left of the price without tax."""
        return self.net - self.real_cost

    @property
    def earned_per_hour(self) -> Decimal | None:
        """What an hour of hands earned; None before any minutes are written down."""
        spent = self.all_real
        if not spent.minutes:
            return None
        return round_money((self.net - spent.outlay) / spent.minutes * AN_HOUR, self.currency)


def job_truth(job: Job) -> Truth:
    """The job's own truth as it stands now; complete once it is finished."""
    bill = charges(job)
    extras = list(job.extras.filter(state=Extra.State.AGREED, way__isnull=False).select_related("way"))
    sold = [job.way, *(extra.way for extra in extras if extra.way and extra.kind == Extra.Kind.EXTRA)]
    done = {job.way_id} | {extra.way_id for extra in extras if extra.kind != Extra.Kind.ANOTHER}
    quoted = sum((way.cost or ZERO for way in sold), ZERO)
    minutes = sum((Decimal(str(way.minutes)) for way in sold), ZERO)
    real = _spent(job, done)
    comebacks = Spent(ZERO, ZERO, ZERO, ZERO, ZERO)
    for comeback in job.comebacks.filter(billed=False):
        comebacks = comebacks.plus(_spent(comeback, {comeback.way_id}))
    per_hour = job.way.totals.get("earned_per_hour")
    return Truth(bill.totals().net, quoted, minutes, per_hour, real, comebacks, bill.currency)


def _spent(job: Job, ways: Collection[int | None]) -> Spent:
    uses = StepUse.objects.filter(step__job=job, undone_at__isnull=True).aggregate(cost=Sum("cost"))
    times = list(StepTime.objects.filter(step__job=job, replaced_at__isnull=True))
    bought = WayLine.objects.filter(way__in=ways).aggregate(cost=Sum("cost"))
    return Spent(
        materials=uses["cost"] or ZERO,
        labour=sum((time.minutes * time.wage_per_hour / AN_HOUR for time in times), ZERO),
        overhead=sum((time.minutes * time.overhead_per_hour / AN_HOUR for time in times), ZERO),
        bought=bought["cost"] or ZERO,
        minutes=sum((time.minutes for time in times), ZERO),
    )
