"""The bench ahead as it would have been seen, written by hand for tests that read it."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from quotes.models import Job, Outlook
from tests.conftest import NOW, TODAY


def in_days(number: int) -> date:
    return TODAY + timedelta(days=number)


def at_nine(number: int) -> datetime:
    return datetime.combine(in_days(number), time(9), ZoneInfo("Europe/Dublin"))


def seen(*jobs: Job, chance: float | None = 0.86, ready: int = 3, **more) -> Outlook:
    """The outlook with some jobs ready in so many days; four weeks of days with 8 h open, 6 at the bench, 4 planned."""
    told = {
        str(job.pk): {
            "day": job.promised_on and job.promised_on.isoformat(),
            "chance": chance if job.promised_on else None,
            "before": None,
            "likely": in_days(ready).isoformat(),
        }
        for job in Job.objects.filter(pk__in=[job.pk for job in jobs])
    }
    days = [
        {"day": in_days(number).isoformat(), "open_h": 8.0, "bench_h": 6.0, "planned_h": 5.5 if number < 3 else 4.0}
        for number in range(28)
    ]
    kept = {"worked_at": NOW, "draws": 200, "jobs": told, "days": days, **more}
    return Outlook.objects.update_or_create(pk=1, defaults=kept)[0]
