"""All that rows say of how a shop works, for the figures of a promise, read in ten queries."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from functools import cached_property
from typing import Any

from quotes.costing.stats.assumptions import MINUTES
from quotes.estimating import as_float
from quotes.models import Experience, Extra
from quotes.ready_days.hours_seen import HoursSeen, StepsSeen, hours_seen, steps_seen
from quotes.ready_days.jobs_seen import JobsSeen, jobs_seen
from quotes.ready_days.open_hours import OpenHours
from shop.models import Profile

WEEKS_BACK = 26
YEAR = timedelta(days=365)
LOST_LEAST, LOST_MOST = 0.05, 0.9
A_MOMENT_H = 0.1  # an answer at once


@dataclass(frozen=True)
class Seen:
    """All that rows say, read in ten queries."""

    at: datetime
    profile: Profile
    hours: OpenHours
    steps: StepsSeen
    days: HoursSeen
    jobs: JobsSeen
    answers_h: Sequence[float]
    minutes_spreads: Sequence[tuple[float, int]]

    @classmethod
    def of(cls, at: datetime) -> Seen:
        """What rows say at a moment."""
        profile = Profile.objects.get()
        today = profile.day_of(at)
        first = today - timedelta(weeks=WEEKS_BACK)
        hours = OpenHours.of_rows(profile, first, today)
        steps = steps_seen(profile, at, first)
        return cls(
            at, profile, hours, steps, hours_seen(hours, first, today, steps.work_left), jobs_seen(at - YEAR, at),
            _answers(at), _spreads(),
        )  # fmt: skip

    @property
    def today(self) -> date:
        """The shop's day."""
        return self.profile.day_of(self.at)

    @cached_property
    def lost_start(self) -> float:
        """Share of open hours that goes to other things, by the hands-on hours in a day that the keeper gave."""
        bench = as_float(self.profile.bench_hours_per_day) * self.hours.days_a_week
        lost = 1.0 - bench / self.hours.week if self.hours.week else LOST_LEAST
        return min(LOST_MOST, max(LOST_LEAST, lost))


def _answers(at: datetime) -> list[float]:
    """Hours from what turned up until the customer's answer. One query."""
    rows = Extra.objects.filter(kind=Extra.Kind.EXTRA, answered_at__gt=at - YEAR, answered_at__lte=at)
    found = rows.values_list("found_at", "answered_at")
    return [max(A_MOMENT_H, (answered - asked).total_seconds() / 3600) for asked, answered in found if answered]


def _spreads() -> list[tuple[float, int]]:
    """Learned spread of minutes of each operation, with the logs behind it. One query."""
    kept: dict[str, Any] = Experience.objects.readable().filter(pk=1).values_list("figures", flat=True).first() or {}
    return [
        (float(cell["spread"]), int(cell["logs"]))
        for cell in kept.get("cells", ())
        if cell["material"] == MINUTES and cell.get("spread") and cell.get("logs") and cell.get("believed", True)
    ]
