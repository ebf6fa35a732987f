"""Hours at the bench: when each person is there, in hours after midnight of the state's own day.

A stretch is (from, to, after): after are the hours at the bench that follow it on that day.
"""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from quotes.planner.state import BenchState

Spans = list[tuple[float, float]]
Stretch = tuple[float, float, float]


class Workdays:
    """Days of a state's people by number, 0 for the day of the state; hours as people have them, nothing lost."""

    def __init__(self, state: BenchState) -> None:
        self.first = state.now.date()
        self._state = state
        self._midnight = datetime.combine(self.first, time.min)
        self._known: dict[tuple[int, int], Spans] = {}

    def hour(self, at: datetime) -> float:
        """Hours from midnight of the first day until a moment."""
        return (at - self._midnight).total_seconds() / 3600

    def number(self, day: date) -> int:
        """Number of a day: days after the first, below zero before it."""
        return (day - self.first).days

    def date(self, number: int) -> date:
        """Day of a number of days."""
        return self.first + timedelta(days=number)

    def spans(self, person: int, day: int) -> Spans:
        """Hours of a person on a day, in hours after midnight of the first day."""
        known = self._known.get((person, day))
        if known is None:
            on, one = self.date(day), self._state.people[person]
            there = on not in self._state.closed and on not in one.away
            week = one.hours[on.weekday()] if there else ()
            known = [(24 * day + begin / 60, 24 * day + end / 60) for begin, end in week]
            self._known[person, day] = known
        return known

    def opening(self, day: int) -> tuple[float, float] | None:
        """When the shop opens and closes on a day, in hours; None where nobody is there."""
        spans = [span for person in range(len(self._state.people)) for span in self.spans(person, day)]
        return (min(begin for begin, _ in spans), max(end for _, end in spans)) if spans else None

    def bench_hours_a_day(self) -> float:
        """Hours at the bench on a day of the calendar, all people together, less the share that is lost."""
        week = sum(end - begin for one in self._state.people for spans in one.hours for begin, end in spans) / 60
        return max(week / 7 * (1 - self._state.known.lost_share), 0.01)


def without(spans: Spans, start: float, length: float) -> Spans:
    """Hours less a gap: `start` hours at the bench into the day, `length` hours long."""
    left: Spans = []
    end, past = start + length, 0.0
    for begin, close in spans:
        here = close - begin
        if past < start:
            left.append((begin, begin + min(here, start - past)))
        if past + here > end:
            left.append((begin + max(0.0, end - past), close))
        past += here
    return left


def stretches(spans: Spans) -> list[Stretch]:
    """Hours of a day as stretches, each with the hours that follow it."""
    after, found = 0.0, []
    for begin, end in reversed(spans):
        found.append((begin, end, after))
        after += end - begin
    return found[::-1]
