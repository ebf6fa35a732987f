"""Ready days: the day of each board that holds with a chance, over many futures of the bench.

A job that is asked about and has no day yet is given one while it is played: first the plain one, then the one that
holds eight in ten. Two rounds are enough. The same state gives the same days.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from math import ceil, inf
from typing import Any

from quotes.planner.play import Play
from quotes.planner.state import LOOK_AHEAD_DAYS, BenchState

DRAWS = 200
EVEN, NINE_IN_TEN = 0.5, 0.9
A_TENTH = 0.1  # by which chances are said; what moves one by less is not told
FIRST_ROUND = 4
"""Part of the draws, one in so many, that the first round takes: its day is only where the second begins."""

TO_PROMISE = 0.73
"""Least chance of the day that holds eight in ten.

Days are whole, and what is not ready on a Friday is on a Monday: the first day with four futures in five holds nine
promises in ten, and days are given away. From this chance on some 88 in a hundred were kept, in the sample states and
in the shops of our own that `tests/planner/shops` lets live; the chance itself was said as 88 on the average.
"""


@dataclass(frozen=True)
class ReadyDay:
    """When a job is ready: the days that hold five, eight and nine in ten, the day promised, the chance that it holds.

    For an asked job without a day, the day promised is the one that holds eight in ten. No promise, no chance.
    """

    job: str
    q50: date
    q80: date
    q90: date
    promised: date | None
    chance: float | None

    def to_json(self) -> dict[str, Any]:
        """The neutral form of an answer."""
        days = {name: getattr(self, name).isoformat() for name in ("q50", "q80", "q90")}
        return {"job": self.job, **days, "chance": self.chance}


@dataclass(frozen=True)
class ReadyDays:
    """Days of every board by draw, in days from that of the state; `digest` is that of the state asked about."""

    play: Play
    days: dict[str, list[int]]
    draws: int
    digest: str

    def ready(self, job: str) -> ReadyDay:
        """Ready day of a job."""
        days, date_of = self.days[job], self.play.workdays.date
        q80 = date_of(quantile(days, TO_PROMISE))
        board = self.play.state.board(job)
        promised = q80 if board.promised is None and job in self.play.state.ask else board.promised
        chance = None if promised is None else self.chance(job, promised)
        return ReadyDay(job, date_of(quantile(days, EVEN)), q80, date_of(quantile(days, NINE_IN_TEN)), promised, chance)

    def chance(self, job: str, day: date) -> float:
        """Chance that a job is ready on a day or before."""
        number = min(self.play.workdays.number(day), LOOK_AHEAD_DAYS - 1)
        return sum(ready <= number for ready in self.days[job]) / self.draws

    def within_a_year(self, day: date) -> bool:
        """Whether a day is one that was played to: what a year does not finish has none."""
        return self.play.workdays.number(day) < LOOK_AHEAD_DAYS


@dataclass(frozen=True)
class Touched:
    """What a yes to one job does to the promise of another: the chance that it is kept, without and with the yes."""

    job: str
    before: float
    after: float


def quantile(days: list[int], share: float) -> int:
    """The least of the days, by number, that at least this share of them do not pass."""
    return sorted(days)[max(0, ceil(share * len(days) - 1e-9) - 1)]


def forecast(state: BenchState, draws: int = DRAWS) -> ReadyDays:
    """Futures of a state, so many in number, and the days on which every board is ready in each."""
    digest = state.digest()
    play = Play(state, draws)
    undated = [job for job in state.ask if state.board(job).promised is None]
    if undated:
        date_of = play.workdays.date
        play = play.promised({job: date_of(play.plain_day(job)) for job in undated})
        days = _played(play, max(1, draws // FIRST_ROUND))
        play = play.promised({job: date_of(quantile(days[job], TO_PROMISE)) for job in undated})
    return ReadyDays(Play(state, 0), _played(play, draws), draws, digest)


def _played(play: Play, draws: int) -> dict[str, list[int]]:
    """Days by job and draw number, in days from the first; a job that a year does not finish is ready after it."""
    found: list[list[int]] = [[] for _ in play.boards]
    for number in range(draws):
        for days, hour in zip(found, play.future(number).run(), strict=True):
            days.append(LOOK_AHEAD_DAYS if hour == inf else int(hour // 24))
    return {board.job: days for board, days in zip(play.boards, found, strict=True)}


def touched_by_yes(state: BenchState, job: str, draws: int = DRAWS) -> list[Touched]:
    """What a yes to a job on the rack does to every other promise, over so many draws in number."""
    return held_against(forecast(state.without(job), draws), forecast(state, draws))


def held_against(without: ReadyDays, with_it: ReadyDays) -> list[Touched]:
    """Chance of every promise on a rack, without and with a yes to one job more."""
    return [
        Touched(board.job, without.chance(board.job, board.promised), with_it.chance(board.job, board.promised))
        for board in without.play.boards
        if board.promised is not None
    ]
