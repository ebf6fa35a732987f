"""Who is at the bench when: hours of the week as they were set, absences, closed days."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, time, timedelta

from quotes.estimating import MONDAY_TO_FRIDAY
from quotes.planner.state import LOOK_AHEAD_DAYS, PersonHours, Span
from quotes.ready_days.open_hours import THE_BENCH, days_from
from shop.business.hands import USUAL
from shop.models import Absence, BenchShift, ClosedDay, Profile, User


def people_at_the_bench(today: date, profile: Profile) -> tuple[PersonHours, ...]:
    """Everybody with hours of their own, by key; where nobody has any, one pair of hands on the working days.

    Absences of the coming year are theirs. Two queries.
    """
    weeks: dict[int, list[list[Span]]] = {}
    for shift in BenchShift.objects.filter(person__is_active=True).order_by("person", "weekday", "begins"):
        week = weeks.setdefault(shift.person_id, [[] for _ in range(7)])
        week[shift.weekday].append((minute_of(shift.begins), minute_of(shift.ends)))
    if not weeks:
        days = set(profile.working_days or MONDAY_TO_FRIDAY)
        usual = tuple(USUAL_DAY if day in days else () for day in range(7))
        return (PersonHours(str(THE_BENCH), usual, _all_away(today)),)
    away = _away(weeks, today, today + timedelta(days=LOOK_AHEAD_DAYS))
    return tuple(
        PersonHours(str(person), tuple(tuple(spans) for spans in week), frozenset(away.get(person, ())))
        for person, week in weeks.items()
    )


def _all_away(today: date) -> frozenset[date]:
    """Days on which everybody who works here is away. Two queries."""
    people = list(User.objects.filter(is_active=True).values_list("pk", flat=True))
    away = _away(people, today, today + timedelta(days=LOOK_AHEAD_DAYS))
    days = [away.get(person, set()) for person in people]
    return frozenset(set.intersection(*days)) if days else frozenset()


def closed_days(first: date, last: date) -> frozenset[date]:
    """Days on which the shop is closed, from one to another. One query."""
    return frozenset(ClosedDay.objects.filter(day__gte=first, day__lte=last).values_list("day", flat=True))


def minute_of(clock: time) -> int:
    """Minutes after midnight."""
    return clock.hour * 60 + clock.minute


USUAL_DAY: tuple[Span, ...] = tuple((minute_of(begins), minute_of(ends)) for begins, ends in USUAL)


def _away(people: Iterable[int], first: date, last: date) -> dict[int, set[date]]:
    """Days away by person."""
    found: dict[int, set[date]] = {}
    for row in Absence.objects.filter(person__in=list(people), first__lte=last, last__gte=first):
        begin, end = max(row.first, first), min(row.last, last)
        found.setdefault(row.person_id, set()).update(days_from(begin, end))
    return found
