"""Hours that people are at the bench, from rows: by weekday, less absences and closed days.

Where nobody has hours the bench has one pair of hands (`THE_BENCH`) on the shop's working days, 9 to 13 and 14 to 18.
Only the hours of now are kept: days that are past are held against them too.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, time, timedelta

from quotes.estimating.calendar import MONDAY_TO_FRIDAY
from shop.business.hands import USUAL
from shop.models import Absence, BenchShift, ClosedDay, Profile

THE_BENCH = 0


@dataclass(frozen=True)
class OpenHours:
    """Hours open of each person by weekday from Monday on, days away by person, closed days.

    `unplanned` are days away that were known on the day itself or later.
    """

    people: Mapping[int, tuple[float, ...]]
    closed: frozenset[date]
    away: Mapping[int, frozenset[date]]
    unplanned: Mapping[int, frozenset[date]]

    @classmethod
    def of_rows(cls, profile: Profile, first: date, last: date) -> OpenHours:
        """Hours from a day to another, both included. Three queries."""
        people = _shifts() or {THE_BENCH: _usual(profile.working_days or MONDAY_TO_FRIDAY)}
        away: dict[int, set[date]] = defaultdict(set)
        unplanned: dict[int, set[date]] = defaultdict(set)
        absences = Absence.objects.filter(first__lte=last, last__gte=first)
        for person, begins, ends, made_at in absences.values_list("person_id", "first", "last", "made_at"):
            days = days_from(max(first, begins), min(last, ends))
            away[person].update(days)
            if begins <= profile.day_of(made_at):
                unplanned[person].update(days)
        closed = ClosedDay.objects.filter(day__gte=first, day__lte=last).values_list("day", flat=True)
        return cls(people, frozenset(closed), _frozen(away), _frozen(unplanned))

    def usual(self, person: int, day: date) -> float:
        """Hours of a person on a day, whether or not they are away; 0 for who has none."""
        return self.people[person][day.weekday()] if person in self.people and day not in self.closed else 0.0

    def of(self, person: int, day: date) -> float:
        """Hours of a person on a day, 0 where they are away."""
        return 0.0 if day in self.away.get(person, ()) else self.usual(person, day)

    def on(self, day: date) -> float:
        """Hours of all people together on a day."""
        return sum(self.of(person, day) for person in self.people)

    @property
    def week(self) -> float:
        """Hours of all people in a week without absences."""
        return sum(map(sum, self.people.values()))

    @property
    def days_a_week(self) -> int:
        """Weekdays on which anybody is there."""
        return sum(any(hours[weekday] for hours in self.people.values()) for weekday in range(7))

    def known_as(self, person: int) -> int | None:
        """Whose hours a person's minutes are held against; None for who has no hours where others have."""
        return person if person in self.people else THE_BENCH if THE_BENCH in self.people else None


def days_from(first: date, last: date) -> list[date]:
    """Every day from one to another, both included."""
    return [first + timedelta(days=number) for number in range((last - first).days + 1)]


def _shifts() -> dict[int, tuple[float, ...]]:
    """Hours by weekday of each active person who has any. One query."""
    found: dict[int, list[float]] = defaultdict(lambda: [0.0] * 7)
    rows = BenchShift.objects.filter(person__is_active=True).order_by("pk")
    for person, weekday, begins, ends in rows.values_list("person_id", "weekday", "begins", "ends"):
        found[person][weekday] += _hours(ends) - _hours(begins)
    return {person: tuple(hours) for person, hours in found.items()}


def _hours(clock: time) -> float:
    return clock.hour + clock.minute / 60


def _usual(working_days: Collection[int]) -> tuple[float, ...]:
    usual = sum(_hours(ends) - _hours(begins) for begins, ends in USUAL)
    return tuple(usual if weekday in working_days else 0.0 for weekday in range(7))


def _frozen(days: Mapping[int, Collection[date]]) -> dict[int, frozenset[date]]:
    return {person: frozenset(own) for person, own in days.items()}
