"""What hands do today, person by person: the plan that was kept, with how its steps stand now laid over it.

Idea: the plan is the outlook's, by the rule of the hands. What was done since or is gone is left out; what is under
way, or bonds by itself not for long, comes first; what can be begun and is in nobody's plan of the day stands apart.
Reading only: nothing is played forward here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime
from typing import NamedTuple

from django.db.models import FloatField, Prefetch
from django.db.models.fields.json import KT
from django.db.models.functions import Cast
from django.utils import timezone

from quotes.bench.job.todays_step import CURES, DOING, NOW, TodaysStep, pressing_first, todays_step, with_cures
from quotes.bench.plan.order import heads
from quotes.models import Extra, Outlook, Step
from quotes.planner.hands import CLOSES_WITHIN_H
from shop.models import User

THE_BENCH = 0  # the person of a plan where nobody has hours
RULE = (
    f"First comes what bonds by itself for {CLOSES_WITHIN_H:.0f} hours or less, then a rush, then the board with the least "
    "time to spare until its day, then who came first. A step is begun only where it ends today, unless it may stop "
    "over night."
)

Jobs = Mapping[int, Sequence[Step]]
"""Steps of the jobs on the bench by the job's key, each with `plan_minutes` and `plan_wait_h`."""


@dataclass(frozen=True)
class PersonsDay:
    """What one person does next, in order; without a name: what goes before the plan of all."""

    name: str
    rows: list[TodaysStep]


@dataclass(frozen=True)
class BenchToday:
    """The plan of a day as it stands now: `day` is today, or the next one with work where today's is over.

    `also` can be begun and is in no plan of that day, `curing` waits for what is under it.
    """

    day: date
    today: date
    people: list[PersonsDay] = field(default_factory=list)
    also: list[TodaysStep] = field(default_factory=list)
    curing: list[TodaysStep] = field(default_factory=list)

    @property
    def of_today(self) -> bool:
        return self.day == self.today


class _Planned(NamedTuple):
    person: int
    begins: datetime
    minutes: float
    step: int | None  # None: of something that may turn up


def steps_on_the_bench() -> dict[int, list[Step]]:
    """Steps still ahead of every job on the bench, by job, in order. Two queries."""
    extras = Extra.objects.filter(state__in=Extra.UNANSWERED)
    rows = Step.objects.on_the_bench().select_related("job__takein__board", "job__takein__brought_by").defer("plan")
    rows = rows.prefetch_related(Prefetch("job__extras", extras, to_attr="unanswered")).annotate(
        plan_minutes=Cast(KT("plan__minutes"), FloatField()),
        plan_wait_h=Cast(KT("plan__earliest_start_h"), FloatField()),
    )
    found: dict[int, list[Step]] = {}
    for step in rows.order_by("job", "position"):
        found.setdefault(step.job_id, []).append(step)
    return found


def names_of(outlook: Outlook) -> dict[int, str]:
    """Names of the people of a plan, by key. One query; none where nobody has hours."""
    people = {one.person for one in _plan(outlook)} - {THE_BENCH}
    return dict(User.objects.filter(pk__in=people).values_list("pk", "name")) if people else {}


def planned_today(
    outlook: Outlook, jobs: Jobs, names: Mapping[int, str], at: datetime, own: int = THE_BENCH
) -> BenchToday:
    """What the plan has for today and is still ahead, or for the next day with work; the person `own` comes first.

    What was planned before today and not done is today's. No query.
    """
    ahead = {step.pk: step for steps in jobs.values() for step in steps if step.ahead}
    live = [(ahead[one.step], one) for one in _plan(outlook) if one.step in ahead]
    today = timezone.localdate(at)
    day = max(today, min((timezone.localdate(one.begins) for _, one in live), default=today))
    people: dict[int, list[TodaysStep]] = {}
    for step, one in live:
        if timezone.localdate(one.begins) <= day:
            row = todays_step(step, jobs[step.job_id], at)
            people.setdefault(one.person, []).append(replace(row, guide=one.begins, minutes=one.minutes))
    in_turn = sorted(people, key=lambda person: (person != own, names.get(person, "")))
    return BenchToday(
        day, today, [PersonsDay(names.get(each, "The bench"), pressing_first(people[each])) for each in in_turn]
    )


def bench_today(
    outlook: Outlook, jobs: Jobs, names: Mapping[int, str], at: datetime, own: int = THE_BENCH
) -> BenchToday:
    """The plan of the day with all that stands outside it, and what may be done while a board cures. No query.

    What is under way, or bonds not for long, and is in nobody's plan goes before the plan of all.
    """
    planned = planned_today(outlook, jobs, names, at, own)
    told = {row.step.pk for each in planned.people for row in each.rows}
    rows = _outside(outlook, jobs, told, at)
    first = [row for row in rows if row.standing == DOING or row.closes_soon]
    also = [row for row in rows if row not in first and row.standing == NOW and not _asks(row.step)]
    people = planned.people
    if len(people) == 1:
        people = [PersonsDay(people[0].name, pressing_first([*first, *people[0].rows]))]
    elif people and first:
        people = [PersonsDay("", pressing_first(first)), *people]
    else:
        also = pressing_first([*first, *also])
    people = [replace(each, rows=list(with_cures(each.rows, also, jobs))) for each in people]
    people, also = _one_loud(people, also)
    return replace(planned, people=people, also=also, curing=[row for row in rows if row.standing == CURES])


def _one_loud(people: Sequence[PersonsDay], also: Sequence[TodaysStep]) -> tuple[list[PersonsDay], list[TodaysStep]]:
    """The first step of all that can be begun is marked: the page says it first."""
    every = [row for each in people for row in each.rows] + [*also]
    first = next((row for row in every if row.may_begin or row.releases), None)

    def marked(rows: Sequence[TodaysStep]) -> list[TodaysStep]:
        return [replace(row, next_up=row is first) for row in rows]

    return [replace(each, rows=marked(each.rows)) for each in people], marked(also)


def _plan(outlook: Outlook) -> Iterator[_Planned]:
    for row in outlook.plan:
        yield _Planned(row["person"], datetime.fromisoformat(row["from"]), row["minutes"], row["step"])


def _outside(outlook: Outlook, jobs: Jobs, told: set[int], at: datetime) -> list[TodaysStep]:
    """What no other step of its board goes before and nobody has in the day's plan.

    As the plan has them on a later day; what is in none by its window, then by the day promised.
    """
    when = {one.step: one.begins for one in _plan(outlook)}
    found = [
        replace(todays_step(step, jobs[job], at), guide=when.get(step.pk))
        for job in jobs
        for step in heads(jobs[job])
        if step.pk not in told
    ]

    def order(row: TodaysStep) -> tuple[object, ...]:
        begins = row.guide.timestamp() if row.guide else 0.0
        ends = row.closes.timestamp() if row.closes else float("inf")
        return (row.guide is None, begins, ends, row.step.job.promised_on or date.max, row.step.job_id)

    return sorted(found, key=order)


def _asks(step: Step) -> bool:
    """Something turned up on its board that waits for a price or an answer."""
    return bool(step.job.unanswered)  # type: ignore[attr-defined]
