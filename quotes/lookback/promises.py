"""Days promised of jobs that are ready, read from rows.

The promise that counts is the one that stood last before the board was ready; of a job from before promises were kept
it is the day on the job, without a chance. Jobs done at the counter in one go had no day to keep.
"""

from __future__ import annotations

from collections import defaultdict
from datetime import date, datetime
from typing import NamedTuple

from quotes.lookback.kept import PastPromise
from quotes.models import Job, Promise, WayPart
from quotes.models.job import JobQuerySet
from shop.models import Profile


class DayGiven(NamedTuple):
    """A day told to a customer, its chance (None: not known), and when."""

    day: date
    chance: float | None
    at: datetime


def day_kept(job: Job, profile: Profile) -> bool | None:
    """Whether a job was ready on the day that stands on it; None where it had none, or is not wholly done."""
    if job.state not in Job.DONE or job.hands != Job.Hands.STEPS or not (job.promised_on and job.finished_at):
        return None
    return profile.day_of(job.finished_at) <= job.promised_on


def past_promises(profile: Profile, since: datetime | None = None) -> list[PastPromise]:
    """Promises of the jobs ready since a moment (None: of all), the last one ready first. Three queries."""
    jobs = Job.objects.filter(state__in=Job.DONE, hands=Job.Hands.STEPS, finished_at__isnull=False)
    if since is not None:
        jobs = jobs.filter(finished_at__gte=since)
    given = _given(jobs)
    recipes = _recipes(jobs)
    found = []
    for pk, tag, title, way, agreed_at, promised_on, ready_at in jobs.order_by("-finished_at", "-pk").values_list(
        "pk", "takein__tag", "way__title", "way_id", "agreed_at", "promised_on", "finished_at"
    ):
        assert ready_at is not None
        told = given.get(pk) or ([DayGiven(promised_on, None, agreed_at)] if promised_on else [])
        before = [one for one in told if one.at <= ready_at]
        if before:
            found.append(PastPromise(
                job=pk, name=f"{tag}, {title}", first=before[0].day, stood=before[-1].day, chance=before[-1].chance,
                given_at=before[-1].at, ready_at=ready_at, ready=profile.day_of(ready_at), recipes=recipes.get(way, ()),
            ))  # fmt: skip
    return found


def _given(jobs: JobQuerySet) -> dict[int, list[DayGiven]]:
    """Days promised with chance and moment, by job in the order they were given. One query."""
    found: dict[int, list[DayGiven]] = defaultdict(list)
    rows = Promise.objects.filter(job__in=jobs.order_by().values("pk")).order_by("at", "pk")
    for job, day, chance, at in rows.values_list("job_id", "day", "chance", "at"):
        found[job].append(DayGiven(day, chance, at))
    return found


def _recipes(jobs: JobQuerySet) -> dict[int, tuple[str, ...]]:
    """Names of the recipes by way. One query."""
    found: dict[int, dict[str, None]] = defaultdict(dict)
    rows = WayPart.objects.filter(way__in=jobs.order_by().values("way")).order_by("pk")
    for way, name in rows.values_list("way_id", "recipe_version__recipe__name"):
        found[way][name] = None
    return {way: tuple(names) for way, names in found.items()}
