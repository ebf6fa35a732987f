"""Jobs of the last year as a promise's figures ask for them: what came in, what rushed, what turned up.

A job done at the counter in one go takes no place on the bench and is left out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import fsum

from django.db.models import Exists, OuterRef, Q, QuerySet

from quotes.models import Extra, Job
from quotes.ready_days.open_hours import OpenHours, days_from
from shop.models import Profile

LAST_JOBS = 20  # that stand for what usually comes in
ARRIVALS_LOOKED_AT = timedelta(days=90)


@dataclass(frozen=True)
class JobsSeen:
    """Jobs agreed and ended since a moment: when each was agreed, how many were rushes, how many had something turn up.

    `mean_minutes` are the planned hands-on minutes of the last ones agreed; None where none was.
    """

    agreed_at: Sequence[datetime]
    rushes: int
    ended: int
    turned_up: int
    mean_minutes: float | None

    @property
    def agreed(self) -> int:
        """How many were agreed."""
        return len(self.agreed_at)

    def lately(self, profile: Profile, hours: OpenHours, today: date) -> tuple[int, int]:
        """Days worked before today in the last ninety, from the first job on where the shop is younger, and the jobs
        agreed in them."""
        days = [profile.day_of(at) for at in self.agreed_at]
        if not days:
            return 0, 0
        first = max(min(days), today - ARRIVALS_LOOKED_AT)
        worked = sum(hours.on(day) > 0 for day in days_from(first, today - timedelta(days=1)))
        return worked, sum(first <= day < today for day in days) if worked else 0


def last_jobs(since: datetime, until: datetime) -> QuerySet[Job, int]:
    """Keys of the last jobs agreed, to be asked within another query."""
    jobs = Job.objects.filter(agreed_at__gt=since, agreed_at__lte=until, hands=Job.Hands.STEPS)
    return jobs.order_by("-agreed_at", "-pk").values_list("pk", flat=True)[:LAST_JOBS]


def jobs_seen(since: datetime, until: datetime) -> JobsSeen:
    """Jobs agreed or ended from a moment to another. One query."""
    turned_up = Extra.objects.filter(job=OuterRef("pk"), kind__in=(Extra.Kind.EXTRA, Extra.Kind.ABSORBED))
    rows = Job.objects.filter(Q(agreed_at__gt=since) | Q(finished_at__gt=since), hands=Job.Hands.STEPS)
    found = list(
        rows.filter(agreed_at__lte=until)
        .order_by("agreed_at", "pk")
        .values_list(
            "agreed_at", "state", "finished_at", "way__minutes", "way__board__quote__rush_percent", Exists(turned_up)
        )
    )
    agreed = [row for row in found if row[0] > since]
    ended = [row for row in found if row[1] != Job.State.OPEN and row[2] is not None and row[2] > since]
    minutes = [float(row[3]) for row in agreed if row[3]][-LAST_JOBS:]
    return JobsSeen(
        agreed_at=[row[0] for row in agreed],
        rushes=sum(row[4] > 0 for row in agreed),
        ended=len(ended),
        turned_up=sum(row[5] for row in ended),
        mean_minutes=fsum(minutes) / len(minutes) if minutes else None,
    )
