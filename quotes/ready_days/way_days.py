"""Ready day of a way: the day that holds eight in ten, and what a yes to it does to the days promised to others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property
from typing import Any

from django.conf import settings

from quotes.models import Extra, Way, WayPart
from quotes.planner import BenchState, ReadyDay, ReadyDays, WrongState, forecast
from quotes.planner.play import OPEN_AFTER_STEPS
from quotes.planner.promise import A_TENTH, TO_PROMISE, held_against
from quotes.planner.state import BoardAhead
from quotes.ready_days.boards import way_line
from quotes.ready_days.rack_state import RackState, bench_now, tomorrow
from shop.models import Profile

TOLD_AT_MOST = 5


@dataclass(frozen=True)
class DayAsked:
    """A way's ready day with the state that it was asked of, so that it can be worked out again."""

    state: BenchState
    ready: ReadyDay
    draws: int
    touched: tuple[dict[str, Any], ...]

    @property
    def day(self) -> date:
        """Day asked about, or the one that holds eight in ten."""
        return self.ready.promised or self.ready.q80

    @property
    def holds(self) -> bool:
        """Whether the day holds eight in ten, as chances are said."""
        return self.ready.chance is not None and self.ready.chance >= TO_PROMISE

    def to_json(self) -> dict[str, Any]:
        """What a way keeps of it; see `Way.ready`."""
        return {
            "even": self.ready.q50.isoformat(),
            "likely": self.ready.q80.isoformat(),
            "nine": self.ready.q90.isoformat(),
            "chance": self.ready.chance,
            "digest": self.state.digest(),
            "draws": self.draws,
            "touched": list(self.touched),
        }


class BenchAsked:
    """The bench at a moment, asked for the ready days of ways; what is on the rack without them is played once."""

    def __init__(self, at: datetime, profile: Profile | None = None, *, to_promise: bool = False) -> None:
        """`to_promise`: a day is promised now, with all draws; a quote being written has half of them."""
        self.at, self.profile = at, profile
        self.draws: int = settings.READY_DAY_DRAWS if to_promise else max(1, settings.READY_DAY_DRAWS // 2)

    @cached_property
    def bench(self) -> RackState:
        """The bench as its rows have it. Raises WrongState."""
        return bench_now(self.at, self.profile)

    @cached_property
    def without(self) -> ReadyDays:
        """Days of what is on the rack, without a further yes."""
        return forecast(self.bench.state, self.draws)

    def day_of(
        self, way: Way, parts: Sequence[WayPart], *, day: date | None = None, begun_now: bool = False
    ) -> DayAsked:
        """Ready day of a way with its parts: work begins tomorrow, or at once with `begun_now`.

        `day` is one that is promised already, whose chance is asked. Raises WrongState with a sentence.
        """
        board = self._board(way, parts, day, begun_now)
        others = tuple(one for one in self.bench.state.boards if one.job != board.job)
        state = replace(self.bench.state, boards=(*others, board), ask=(board.job,))
        found = forecast(state, self.draws)
        if day is None and not found.within_a_year(found.ready(board.job).q80):
            raise WrongState(
                f"As the bench stands, tag {board.job} is not ready within a year: look at hours and steps."
            )
        return DayAsked(state, found.ready(board.job), self.draws, tuple(self._touched(board.job, found)))

    def sure_day_of(self, way: Way, parts: Sequence[WayPart]) -> DayAsked:
        """The day that holds eight in ten also once it is promised, for work begun now. Raises WrongState.

        A board with a day is worked by that day: its chance is asked again, and the next day taken where it fell.
        """
        found = self.day_of(way, parts, begun_now=True)
        again = self.day_of(way, parts, day=found.day, begun_now=True)
        if again.holds or again.ready.q80 <= found.day:
            return again
        return self.day_of(way, parts, day=again.ready.q80, begun_now=True)

    def _board(self, way: Way, parts: Sequence[WayPart], day: date | None, begun_now: bool) -> BoardAhead:
        """A way as a board on the rack; more work on a job goes before what is ahead of it, another way instead."""
        takein = way.board.takein
        name, now = str(takein.tag), self.bench.now
        shop = self.bench.moment_of
        line = way_line(way, parts, shop.celsius)
        there = next((one for one in self.bench.state.boards if one.job == name), None)
        if there is not None:
            there = self.bench.if_answered(name)
            steps = line.steps if self._instead(name) else (*line.steps, *there.steps)
            return replace(there, steps=steps, promised=day, bonds_until=None, turns_up_after=None)
        return BoardAhead(
            job=name,
            came=shop.local(takein.received_at),
            promised=day,
            rush=bool(way.board.quote.rush_percent),
            free_from=now if begun_now else tomorrow(now),
            bonds_until=None,
            turns_up_after=OPEN_AFTER_STEPS if len(line.steps) >= OPEN_AFTER_STEPS else None,
            steps=line.steps,
        )

    def _instead(self, name: str) -> bool:
        """Whether a board on the rack waits for a yes to another way."""
        extras = self.bench.jobs[name].extras.all()
        return any(extra.open and extra.kind == Extra.Kind.ANOTHER for extra in extras)

    def _touched(self, asked: str, found: ReadyDays) -> list[dict[str, Any]]:
        """Promises that lose by a yes, those that lose most first."""
        if all(board.promised is None for board in self.bench.state.boards if board.job != asked):
            return []
        told: list[dict[str, Any]] = [
            {"job": self.bench.jobs[one.job].pk, "tag": one.job, "before": one.before, "after": one.after}
            for one in held_against(self.without, found)
            if one.job != asked and one.before - one.after >= A_TENTH
        ]
        return sorted(told, key=lambda one: one["after"] - one["before"])[:TOLD_AT_MOST]


def ready_day(
    asked: BenchAsked, way: Way, parts: Sequence[WayPart], *, stands: bool = False
) -> tuple[date | None, dict[str, Any]]:
    """(day, what a way keeps of it): by hand with its chance, else the one that holds eight in ten; None if unknown.

    With `stands` the day that the way has stays while it holds. Of a day by hand that is today nothing is worked out:
    the work is done while the customer waits.
    """
    by_hand = way.ready_on if way.ready_by_hand else None
    today = (asked.profile or Profile.objects.get()).day_of(asked.at)
    if by_hand == today:
        return by_hand, {}
    try:
        if stands and not by_hand and way.ready_on and way.ready_on >= today:
            found = asked.day_of(way, parts, day=way.ready_on)
            if found.holds:
                return found.day, found.to_json()
        found = asked.day_of(way, parts, day=by_hand)
    except WrongState as wrong:
        return by_hand, {"trouble": str(wrong)}
    return found.day, found.to_json()
