"""The week: days with their hours, boards with their ready day and its chance, what comes and what will be short.

Reading only, in a fixed number of queries. Hours and ready days are those of the bench as it was last seen (`Outlook`);
closed days, days away, deliveries and what is short are those of now.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any, NamedTuple

from inventory.buying.orders import Coming, awaited
from quotes.bench.plan.chances import KeptChance, chance_of, kept_chances
from quotes.bench.plan.reserving import Lacking, by_material, short_steps
from quotes.models import Job, Outlook, TakeIn
from quotes.planner.promise import EVEN
from quotes.ready_days.outlook import outlook
from shop.models import Absence, ClosedDay
from shop.text.formats import day as day_words

SHOWN = timedelta(days=7)
FARTHEST = timedelta(days=21)  # that far ahead a week may begin: the bench is seen for four weeks
SMALL_JOB_H = 1.0  # hours of hands that a small job asks for; our own choice, no source
LEAST_FREE_H = 0.1  # hours; less is called full
SURE = 0.75  # the chance from which a day is taken as kept: eight in ten, rounded


class DayLoad(NamedTuple):
    """Hours of all people together on a day: open, at the bench, planned; what is left is free."""

    open_h: float
    bench_h: float
    planned_h: float

    @property
    def free_h(self) -> float:
        return max(self.bench_h - self.planned_h, 0.0)


class WeekBoard(NamedTuple):
    """A board on the bench with the day that holds eight in ten and the chance of the day promised, where known."""

    job: Job
    ready: date | None
    kept: KeptChance | None

    @property
    def takein(self) -> TakeIn:
        return self.job.takein

    @property
    def name(self) -> str:
        return f"{self.takein.brought_by.name}, {self.takein.board.name}"

    @property
    def by(self) -> date:
        """The day it stands under: promised, else ready."""
        return self.job.promised_on or self.ready or date.max

    @property
    def days_words(self) -> str:
        """Thu 3 Dec, promised Mon 7 Dec; what of it is known."""
        promised = self.job.promised_on
        said = [day_words(self.ready)] if self.ready else []
        return ", ".join([*said, f"promised {day_words(promised)}"] if promised else [*said, "no day promised"])

    @property
    def mark(self) -> str:
        """The shape that goes with the chance on a screen."""
        chance = self.kept.chance if self.kept else 0.0
        return "done" if chance >= SURE else "wait" if chance >= EVEN else "late"


class WeekDelivery(NamedTuple):
    """What is expected of an order."""

    coming: Coming

    @property
    def expected_on(self) -> date:
        return self.coming.order.expected_on

    @property
    def words(self) -> str:
        """2 × 5 kg tin of Laminating resin from Corncrake Composites."""
        pack = self.coming.order.pack
        return f"{math.ceil(self.coming.left / pack.content)} × {pack.words} of {pack.material} from {pack.supplier}"


class WeekShortage(NamedTuple):
    """A material that a board will not find, from the day it is first needed."""

    takein: TakeIn
    lacking: Lacking


@dataclass
class WeekDay:
    """A day with all that is known of it; `load` is None where the bench has not been seen that far."""

    day: date
    works: bool
    load: DayLoad | None = None
    closed: ClosedDay | None = None
    away: list[Absence] = field(default_factory=list)
    deliveries: list[WeekDelivery] = field(default_factory=list)
    short: list[WeekShortage] = field(default_factory=list)

    @property
    def note(self) -> str:
        """Why nobody is at the bench; empty where somebody is, or may be."""
        if self.closed or (not self.works and not self.load):
            return "closed"
        return "nobody" if self.load and not self.load.open_h else ""

    @property
    def free_words(self) -> str:
        """2.5 h free, or full."""
        free = self.load.free_h if self.load else 0.0
        return f"{free:.1f} h free" if free >= LEAST_FREE_H else "full"


@dataclass(frozen=True)
class WeekAhead:
    """Seven days, the boards ready or promised until their end, those after, and the next day for a small job."""

    days: list[WeekDay]
    boards: list[WeekBoard]
    later: list[WeekBoard]
    small_job_on: date | None
    outlook: Outlook


def begins(asked: str, today: date) -> date:
    """The day a week begins that was asked for; today for what is none, never before it or farther than three weeks."""
    try:
        day = date.fromisoformat(asked)
    except ValueError:
        return today
    return min(max(day, today), today + FARTHEST)


def week_ahead(first: date, *, today: date, working_days: Sequence[int]) -> WeekAhead:
    """The seven days from `first`. What is overdue stands on today. Some twelve queries, whatever the rows."""
    seen = outlook()
    last = first + SHOWN - timedelta(days=1)
    jobs = list(_on_the_bench())
    loads = _loads(seen)
    closed = {row.day: row for row in ClosedDay.objects.filter(day__gte=today, day__lte=today + FARTHEST + SHOWN)}
    every = (first + timedelta(days=number) for number in range(SHOWN.days))
    days = {day: WeekDay(day, day.weekday() in working_days, loads.get(day), closed.get(day)) for day in every}
    for row in Absence.objects.filter(first__lte=last, last__gte=first).select_related("person"):
        for day in days.values():
            if row.first <= day.day <= row.last:
                day.away.append(row)
    for coming in awaited(today):
        if found := days.get(max(coming.order.expected_on, today)):
            found.deliveries.append(WeekDelivery(coming))
    for shortage in _short(jobs, today):
        if found := days.get(max(shortage.lacking.first, today)):
            found.short.append(shortage)
    boards = boards_of(jobs, seen)
    here = [one for one in boards if one.by <= last and (one.by >= first or first == today)]
    later = [one for one in boards if one.by > last] if first == today else []
    return WeekAhead(list(days.values()), here, later, _small_job_on(loads, closed, today), seen)


def _on_the_bench() -> Iterable[Job]:
    jobs = Job.objects.filter(state=Job.State.OPEN).select_related("takein__board", "takein__brought_by")
    return jobs.only(
        "state", "promised_on", "takein__tag", "takein__board__name", "takein__brought_by__name",
    )  # fmt: skip


def boards_of(jobs: Iterable[Job], seen: Outlook) -> list[WeekBoard]:
    """Boards with what is known of their day, the first day first."""
    chances, told = kept_chances(seen), seen.jobs
    boards = [WeekBoard(job, _ready(told.get(str(job.pk))), chance_of(job, chances)) for job in jobs]
    return sorted(boards, key=lambda one: (one.by, one.takein.tag))


def _ready(told: Mapping[str, Any] | None) -> date | None:
    return date.fromisoformat(told["likely"]) if told else None


def _loads(seen: Outlook) -> dict[date, DayLoad]:
    return {
        date.fromisoformat(row["day"]): DayLoad(row["open_h"], row["bench_h"], row["planned_h"]) for row in seen.days
    }


def _short(jobs: Sequence[Job], today: date) -> list[WeekShortage]:
    takeins = {job.pk: job.takein for job in jobs}
    found = short_steps(jobs, today=today)
    rows = [WeekShortage(takeins[job], one) for job, short in found.items() for one in by_material(short)]
    return sorted(rows, key=lambda row: (row.lacking.first, row.takein.tag))


def _small_job_on(loads: Mapping[date, DayLoad], closed: Mapping[date, ClosedDay], today: date) -> date | None:
    """The first day after today that is open and has an hour of hands free."""
    free = (day for day, load in sorted(loads.items()) if load.free_h >= SMALL_JOB_H)
    return next((day for day in free if day > today and day not in closed), None)
