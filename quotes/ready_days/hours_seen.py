"""Hours really spent on steps, day by day, against hours open: what of a day goes to other things.

A day of a person says something where they wrote down most of its minutes and where work was left at its end that could
have been done; on a day that ran out of work the hours are not lost. Nothing written down says nothing. A total of
hours stands for its days in the place of minutes by step. Jobs done at the counter in one go are other things
themselves.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import NamedTuple

from django.db.models import Q, Sum

from quotes.experience.gathering import MOSTLY
from quotes.models import BenchHours, Job, Step, StepTime
from quotes.ready_days.open_hours import OpenHours, days_from
from shop.models import Profile

PersonDay = tuple[int, date]
FREE_BEFORE_CLOSING = timedelta(hours=8)  # work that is free by four in the afternoon could have been done that day


class DayAtBench(NamedTuple):
    """A person's day that says something: hours open, and hours spent on steps."""

    person: int
    day: date
    open_h: float
    bench_h: float

    @property
    def lost(self) -> float:
        """Share that went to other things; below zero where more was done than the day is long."""
        return 1.0 - self.bench_h / self.open_h


class WeekdayHours(NamedTuple):
    """Days of one weekday that say something: how many, mean hours open, mean hours spent on steps."""

    weekday: int
    days: int
    open_h: float
    bench_h: float


@dataclass(frozen=True)
class StepsSeen:
    """Steps done lately: how many, how many of them a second time; days at whose end work was left."""

    done: int
    again: int
    work_left: frozenset[date]


@dataclass(frozen=True)
class HoursSeen:
    """Days that say something, and all days on which anybody of the bench did anything."""

    days: Sequence[DayAtBench]
    worked: frozenset[PersonDay]

    @property
    def by_weekday(self) -> list[WeekdayHours]:
        """Hours by weekday, those of which nothing is known left out."""
        found: dict[int, list[DayAtBench]] = defaultdict(list)
        for one in self.days:
            found[one.day.weekday()].append(one)
        return [
            WeekdayHours(weekday, len(days), sum(one.open_h for one in days) / len(days),
                         sum(one.bench_h for one in days) / len(days))
            for weekday, days in sorted(found.items())
        ]  # fmt: skip


def hours_seen(hours: OpenHours, first: date, last: date, work_left: Collection[date]) -> HoursSeen:
    """Days at the bench from one day to another, both included. Two queries."""
    whole, written = _minutes(hours, first, last)
    days = [
        DayAtBench(person, day, hours.of(person, day), whole[person, day] / 60)
        for person, day in sorted(whole)
        if day in work_left and hours.of(person, day) and written[person, day] >= MOSTLY * whole[person, day]
    ]
    return HoursSeen(days, frozenset(whole))


def hours_by_day(hours: OpenHours, first: date, last: date) -> dict[date, float]:
    """Hours of all of the bench spent on steps, by day, those left as planned too. Two queries."""
    found: dict[date, float] = defaultdict(float)
    for (_, day), minutes in _minutes(hours, first, last)[0].items():
        found[day] += minutes / 60
    return found


def _minutes(hours: OpenHours, first: date, last: date) -> tuple[dict[PersonDay, float], dict[PersonDay, float]]:
    """Minutes by person and day: all of them, and what of them was written down."""
    told = dict(_totals(hours, first, last))
    whole: dict[PersonDay, float] = defaultdict(float)
    written: dict[PersonDay, float] = defaultdict(float)
    each = [one for one in _times(first, last) if (one[0], one[1]) not in told]
    for person, day, is_written, minutes in [*each, *((*at, True, minutes) for at, minutes in told.items())]:
        key = hours.known_as(person)
        if key is not None:
            whole[key, day] += minutes
            written[key, day] += minutes if is_written else 0.0
    return whole, written


def _times(first: date, last: date) -> Iterator[tuple[int, date, bool, float]]:
    """Minutes by person and day, those that were written down and those left as planned apart."""
    rows = StepTime.objects.filter(day__gte=first, day__lte=last, replaced_at__isnull=True)
    rows = rows.filter(step__job__hands=Job.Hands.STEPS).order_by()
    for person, day, typed, minutes in rows.values_list("person_id", "day", "typed").annotate(Sum("minutes")):
        yield person, day, typed is not False, float(minutes)


def _totals(hours: OpenHours, first: date, last: date) -> Iterator[tuple[PersonDay, float]]:
    """Minutes by person and day from totals, each spread over the hours its days had; evenly where they had none."""
    rows = BenchHours.objects.standing().filter(to_day__gte=first, from_day__lte=last)
    for person, begins, ends, minutes in rows.values_list("person_id", "from_day", "to_day", "minutes"):
        days = days_from(begins, ends)
        key = hours.known_as(person)
        weights = [0.0 if key is None else hours.of(key, day) for day in days]
        if not sum(weights):
            weights = [1.0] * len(days)
        for day, weight in zip(days, weights, strict=True):
            if weight and first <= day <= last:
                yield (person, day), float(minutes) * weight / sum(weights)


def steps_seen(profile: Profile, at: datetime, first: date) -> StepsSeen:
    """Steps done from a day on, and the days at whose end a step was left that could have been done. One query."""
    since = at - timedelta(days=(profile.day_of(at) - first).days + 1)
    rows = Step.objects.filter(Q(done_at__gte=since) | Q(state__in=Step.AHEAD, job__state=Job.State.OPEN))
    rows = rows.exclude(state=Step.State.DROPPED).filter(job__hands=Job.Hands.STEPS).order_by("job_id", "position")
    done = again = 0
    left: set[date] = set()
    of, free = 0, None
    for job, agreed, earliest, started, ended, redo in rows.values_list(
        "job_id", "job__agreed_at", "earliest_at", "started_at", "done_at", "redo_of_id"
    ):
        if job != of:
            of, free = job, agreed
        begins, ends = earliest or free, started or ended or at
        if begins is not None:
            day = max(first, profile.day_of(begins + FREE_BEFORE_CLOSING))
            left.update(days_from(day, profile.day_of(ends) - timedelta(days=1)))
        free = ended
        done += ended is not None and redo is None
        again += ended is not None and redo is not None
    return StepsSeen(done, again, frozenset(left))
