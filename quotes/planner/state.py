"""State of a shop as the planner sees it: who is at work when, what is known, the boards on the rack, who asks.

Invariant: a state is frozen and says everything; the same state gives the same days. Its digest is kept with a promise,
so that the promise can be worked out again. The neutral form is told in `quotes.planner.reading`.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from hashlib import blake2b
from typing import Any

WEEKDAYS = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
LOOK_AHEAD_DAYS = 366

Span = tuple[int, int]
"""From and to, in minutes after midnight."""


class WrongState(ValueError):
    """What is wrong with a state of the shop, as a sentence."""


@dataclass(frozen=True)
class StepAhead:
    """A step still to do: minutes hands-on (the middle), hours of cure before the next step may start.

    `bonds_h`: hours after it until which the next coat bonds by itself; `sand_first_min`: minutes of sanding where this
    coat comes later than that. `coats`: it is a coat; `cuts`: it cuts back, which settles the bond.
    """

    name: str
    minutes: float
    cure_h: float
    bonds_h: float | None = None
    sand_first_min: float = 0.0
    coats: bool = False
    cuts: bool = False
    may_stop: bool = False


@dataclass(frozen=True)
class BoardAhead:
    """A board on the rack: the day promised, from when its next step is free, and the steps still to do.

    `turns_up_after`: after so many more steps something may still turn up; None if that is over.
    """

    job: str
    came: datetime
    promised: date | None
    rush: bool
    free_from: datetime
    bonds_until: datetime | None
    turns_up_after: int | None
    steps: tuple[StepAhead, ...]


@dataclass(frozen=True)
class PersonHours:
    """A person at the bench: hours of each weekday from Monday on, days away."""

    name: str
    hours: tuple[tuple[Span, ...], ...]
    away: frozenset[date] = frozenset()


@dataclass(frozen=True)
class TurnUp:
    """What may turn up once a board is open: its chance, hours until an answer (middle, sd of its logarithm)."""

    chance: float
    answer_h: float
    answer_sd_log: float
    steps: tuple[StepAhead, ...]


@dataclass(frozen=True)
class KindOfJob:
    """A kind of job that comes in: its share among all, and its steps."""

    share: float
    steps: tuple[StepAhead, ...]


@dataclass(frozen=True)
class Arrivals:
    """What comes in later: jobs a day on days worked, the share of rushes among them, kinds of job."""

    jobs_a_day: float
    rush_share: float
    kinds: tuple[KindOfJob, ...]


@dataclass(frozen=True)
class KnownOfShop:
    """What the shop knows of itself: shares of a day, chances, spreads as sd of the logarithm.

    `again_chance` is the chance that a step is done again: it then takes its minutes and its cure twice.
    """

    lost_share: float
    lost_share_sd: float
    away_chance: float
    odd_choice: float
    minutes_sd_log: float
    job_sd_log: float
    cure_sd_log: float
    turn_up: TurnUp
    arrivals: Arrivals
    again_chance: float = 0.0


@dataclass(frozen=True)
class BenchState:
    """The whole state of a shop at one moment, local time, and the jobs whose day is asked."""

    now: datetime
    people: tuple[PersonHours, ...]
    closed: frozenset[date]
    known: KnownOfShop
    boards: tuple[BoardAhead, ...]
    ask: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for wrong in self._wrongs():
            raise WrongState(wrong)

    def _wrongs(self) -> Iterator[str]:
        """Sentences on what does not fit together."""
        for what, names in (("person", [one.name for one in self.people]), ("job", [one.job for one in self.boards])):
            twice = sorted({name for name in names if names.count(name) > 1})
            if twice:
                yield f"Two of them are called {what} “{twice[0]}”: each needs its own name."
        unknown = [job for job in self.ask if job not in {board.job for board in self.boards}]
        if unknown:
            yield f"Job “{unknown[0]}” is asked about, and no such job is on the rack."
        if not any(self._at_work(self.now.date() + timedelta(days=ahead)) for ahead in range(LOOK_AHEAD_DAYS)):
            yield f"Nobody is at work within a year of {self.now.date().isoformat()}: give somebody hours."

    def _at_work(self, day: date) -> bool:
        """Whether anybody has hours on a day."""
        return day not in self.closed and any(one.hours[day.weekday()] and day not in one.away for one in self.people)

    def too_long(self) -> list[tuple[str, str]]:
        """(job, step) of what takes longer than any day at the bench, so that it is never begun."""
        longest = max(sum(end - begin for begin, end in spans) for one in self.people for spans in one.hours)
        return [
            (board.job, step.name)
            for board in self.boards
            for step in board.steps
            if step.minutes > longest and not step.may_stop
        ]

    def cautions(self) -> list[str]:
        """Sentences on what is odd in a state and taken as it stands."""
        return [
            f"Job “{job}”, step “{step}” takes longer than any day at the bench: it is never begun."
            for job, step in self.too_long()
        ] + [
            f"Job “{board.job}” is promised for {board.promised.isoformat()}, which is past."
            for board in self.boards
            if board.promised is not None and board.promised < self.now.date()
        ]

    def board(self, job: str) -> BoardAhead:
        """The board of a job on the rack."""
        return next(board for board in self.boards if board.job == job)

    def without(self, job: str) -> BenchState:
        """The state as it is when a job is not taken."""
        boards = tuple(board for board in self.boards if board.job != job)
        return replace(self, boards=boards, ask=tuple(name for name in self.ask if name != job))

    def promised(self, days: dict[str, date]) -> BenchState:
        """The state with other days promised for some jobs."""
        boards = tuple(replace(board, promised=days.get(board.job, board.promised)) for board in self.boards)
        return replace(self, boards=boards)

    def to_json(self) -> dict[str, Any]:
        """The neutral form, with people, boards and closed days in an order of their own."""
        return {
            "now": _moment(self.now),
            "people": [_hands(one) for one in sorted(self.people, key=lambda one: one.name)],
            "closed": sorted(day.isoformat() for day in self.closed),
            "known": _known(self.known),
            "jobs": [_board(one) for one in sorted(self.boards, key=lambda one: one.job)],
            "ask": list(self.ask),
        }

    def digest(self) -> str:
        """Hash of the neutral form: equal for equal states, in whatever order they name people and boards."""
        told = json.dumps(self.to_json(), sort_keys=True, separators=(",", ":"))
        return blake2b(told.encode(), digest_size=16).hexdigest()


def _moment(at: datetime) -> str:
    return at.isoformat(timespec="minutes")


def _clock(minute: int) -> str:
    return f"{minute // 60:02d}:{minute % 60:02d}"


def _hands(one: PersonHours) -> dict[str, Any]:
    hours = {
        weekday: [[_clock(begin), _clock(end)] for begin, end in spans]
        for weekday, spans in zip(WEEKDAYS, one.hours, strict=True)
        if spans
    }
    return {"name": one.name, "hours": hours, "away": sorted(day.isoformat() for day in one.away)}


def _steps(steps: tuple[StepAhead, ...]) -> list[dict[str, Any]]:
    """Steps in the neutral form."""
    return [
        {
            "step": step.name,
            "minutes": step.minutes,
            "cure_h": step.cure_h,
            "bonds_h": step.bonds_h,
            "sand_first_min": step.sand_first_min,
            "coats": step.coats,
            "cuts": step.cuts,
            "may_stop": step.may_stop,
        }
        for step in steps
    ]


def _board(board: BoardAhead) -> dict[str, Any]:
    """A board in the neutral form."""
    return {
        "job": board.job,
        "came": _moment(board.came),
        "promised": board.promised and board.promised.isoformat(),
        "rush": board.rush,
        "free_from": _moment(board.free_from),
        "bonds_until": board.bonds_until and _moment(board.bonds_until),
        "turns_up_after": board.turns_up_after,
        "steps": _steps(board.steps),
    }


def _known(known: KnownOfShop) -> dict[str, Any]:
    """What the shop knows of itself in the neutral form."""
    up, arrivals = known.turn_up, known.arrivals
    return {
        **{name: getattr(known, name) for name in KNOWN_FIGURES},
        "again_chance": known.again_chance,
        "turn_up": {
            "chance": up.chance,
            "answer_h": up.answer_h,
            "answer_sd_log": up.answer_sd_log,
            "steps": _steps(up.steps),
        },
        "arrivals": {
            "jobs_a_day": arrivals.jobs_a_day,
            "rush_share": arrivals.rush_share,
            "kinds": [{"share": kind.share, "steps": _steps(kind.steps)} for kind in arrivals.kinds],
        },
    }


KNOWN_FIGURES = (
    "lost_share",
    "lost_share_sd",
    "away_chance",
    "odd_choice",
    "minutes_sd_log",
    "job_sd_log",
    "cure_sd_log",
)
