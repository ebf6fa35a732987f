"""What a job really was: quoted against real cost, and what an hour of hands earned. For the shop only.

Real cost = lot cost of what was used + minutes at the wage and overhead of their day + what was bought in.
Earned per hour = (price without tax - materials - overhead - bought in) / hands-on hours, comebacks counted in. A job
whose minutes nobody wrote down says nothing about it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import reduce

from quotes.bench import Spent, charged, done_ways, spent
from quotes.models import Extra, Job, Way
from quotes.totals import totals
from shop.countries import tax
from shop.measures.money import Tie, round_money
from shop.models import Profile

ZERO = Decimal(0)
AN_HOUR = Decimal(60)


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
    hands_known: bool = True  # False: nobody wrote minutes down, and those of `real` are the planned ones

    @property
    def all_real(self) -> Spent:
        """What was really spent, comebacks included."""
        return self.real.plus(self.comebacks)

    @property
    def real_cost(self) -> Decimal:
        """Cost that was really spent, in currency, comebacks included."""
        return round_money(self.all_real.cost, self.currency)

    @property
    def difference(self) -> Decimal:
        """Real less quoted cost: above zero, it cost more."""
        return self.real_cost - self.quoted_cost

    @property
    def gain(self) -> Decimal:
        """What is left of the price without tax."""
        return self.net - self.real_cost

    @property
    def earned_per_hour(self) -> Decimal | None:
        """What an hour of hands earned; None before any minutes are written down, and where they never were."""
        spent = self.all_real
        if not spent.minutes or not self.hands_known:
            return None
        return round_money((self.net - spent.outlay) / spent.minutes * AN_HOUR, self.currency)


def job_truth(job: Job) -> Truth:
    """The job's own truth as it stands now; complete once it is finished."""
    return truths([job])[job.pk]


def agreed_extras(jobs: Sequence[Job]) -> dict[int, list[Extra]]:
    """The agreed extras of each job with their ways, by its key. One query."""
    extras: dict[int, list[Extra]] = defaultdict(list)
    for extra in Extra.objects.filter(job__in=jobs, state=Extra.State.AGREED).select_related("way"):
        extras[extra.job_id].append(extra)
    return extras


def truths(jobs: Sequence[Job], extras: Mapping[int, Sequence[Extra]] | None = None) -> dict[int, Truth]:
    """The truth of each job, by its key, in seven queries however many there are. Jobs come with way and board.

    `extras` are the agreed ones by job, where they are at hand already.
    """
    extras = agreed_extras(jobs) if extras is None else extras
    came_back: dict[int, list[int]] = defaultdict(list)
    ways = {job.pk: done_ways(job, extras[job.pk]) for job in jobs}
    for pk, earlier, way in Job.objects.filter(comeback_of__in=jobs, billed=False).values_list(
        "pk", "comeback_of", "way"
    ):
        if earlier is not None:
            came_back[earlier].append(pk)
        ways.setdefault(pk, {way})
    took = spent(ways)
    tie = tax.profile(Profile.objects.get().tax_profile).tie
    return {
        job.pk: _truth(job, extras[job.pk], took[job.pk], [took[pk] for pk in came_back[job.pk]], tie) for job in jobs
    }


def sold_ways(job: Job, agreed: Iterable[Extra]) -> list[Way]:
    """The ways that were quoted for what was done: the job's own, and those of agreed extras."""
    return [job.way, *(extra.way for extra in agreed if extra.way and extra.kind == Extra.Kind.EXTRA)]


def _truth(job: Job, agreed: Sequence[Extra], real: Spent, comebacks: Sequence[Spent], tie: Tie) -> Truth:
    bill, sold = charged(job, agreed), sold_ways(job, agreed)
    net = totals(bill.lines, currency=bill.currency, prices_include_tax=bill.prices_include_tax, tie=tie).net
    quoted = sum((way.cost or ZERO for way in sold), ZERO)
    minutes = sum((Decimal(str(way.minutes)) for way in sold), ZERO)
    again = reduce(Spent.plus, comebacks, Spent(ZERO, ZERO, ZERO, ZERO, ZERO))
    known = job.hands != Job.Hands.UNKNOWN
    return Truth(net, quoted, minutes, job.way.totals.get("earned_per_hour"), real, again, bill.currency, known)
