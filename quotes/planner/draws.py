"""Draws of what is not known: minutes, cures, hours lost, days away, what turns up, what comes in.

Common random numbers: each draw is keyed by its number and by what it belongs to: a job and how many steps follow, a
person, or what comes in. So the same state gives the same draws, one more board or step never changes those of another,
and two states can be held against each other future by future. Only `random.Random` with a name as seed is used, whose
numbers are those of every machine and every run.

A step's minutes and cure are log-normal round their middle; the difficulty of a job is one for all its steps.
Source: A. M. Law, Simulation Modeling and Analysis (2015), ch. 11.2, common random numbers.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from math import exp
from operator import mul
from random import Random
from typing import NamedTuple

from quotes.planner.hours import Spans, Workdays, without
from quotes.planner.state import BenchState, BoardAhead, KindOfJob, KnownOfShop, StepAhead

GAPS_A_DAY = 4
"""Gaps in which the lost share of a day comes: the counter, the phone, small jobs. A figure of ours."""

MOST_LOST = 0.9

Row = tuple[float, ...]


class DrawnSteps(NamedTuple):
    """Drawn hours hands-on, hours of cure and coins (a number below one) of steps, one after the other."""

    hours: Row
    cures: Row
    coins: Row


class Middle(NamedTuple):
    """Hours hands-on and hours of cure of steps, the middle of each."""

    hours: Row
    cures: Row

    @classmethod
    def of(cls, steps: Sequence[StepAhead]) -> Middle:
        """Middle hours of steps."""
        return cls(tuple(step.minutes / 60 for step in steps), tuple(step.cure_h for step in steps))


class DrawnTurnUp(NamedTuple):
    """What turns up on a board: hours until the customer answers, and the steps it adds."""

    answer_h: float
    steps: DrawnSteps


class DrawnBoard(NamedTuple):
    """One draw of a board: its steps, and what turns up, if anything does."""

    steps: DrawnSteps
    turn_up: DrawnTurnUp | None


class DrawnArrival(NamedTuple):
    """A job that comes in: at which hour, its kind's number, whether it is a rush, its draw."""

    at: float
    kind: int
    rush: bool
    board: DrawnBoard


def board_draws(board: BoardAhead, known: KnownOfShop, count: int) -> list[DrawnBoard]:
    """So many draws of one board, from the first number on."""
    job = board.job
    difficulty = _column(f"{job}|job", lambda rng: exp(rng.gauss(0, known.job_sd_log)), count)
    steps = _steps_by_number(job, board.steps, known, difficulty)
    if board.turns_up_after is None or not known.turn_up.chance:
        return [DrawnBoard(drawn, None) for drawn in steps]
    up = known.turn_up
    chances = _column(f"{job}|turns up", Random.random, count)
    answers = _column(f"{job}|answer", lambda rng: up.answer_h * exp(rng.gauss(0, up.answer_sd_log)), count)
    added = _steps_by_number(f"{job}|turned up", up.steps, known, difficulty)
    return [
        DrawnBoard(drawn, DrawnTurnUp(answer, more) if chance < up.chance else None)
        for drawn, chance, answer, more in zip(steps, chances, answers, added, strict=True)
    ]


def _column(seed: str, one: Callable[[Random], float], count: int) -> list[float]:
    """Numbers of one kind, one a draw."""
    rng = Random(seed)  # noqa: S311 - a draw, no secret
    return [one(rng) for _ in range(count)]


def _steps_by_number(
    whose: str, steps: Sequence[StepAhead], known: KnownOfShop, difficulty: Sequence[float]
) -> list[DrawnSteps]:
    """Steps of one board by draw number, each step keyed by how many follow it; `difficulty` is a factor for each."""
    if not steps or not difficulty:
        return [DrawnSteps((), (), ())] * len(difficulty)
    columns: tuple[list[Row], list[Row], list[Row]] = ([], [], [])
    for index, step in enumerate(steps):
        drawn = _step_by_number(f"{whose}|{len(steps) - index}", step, known, difficulty)
        for column, figures in zip(columns, zip(*drawn, strict=True), strict=True):
            column.append(figures)
    by_draw = zip(*(zip(*column, strict=True) for column in columns), strict=True)
    return [DrawnSteps(*row) for row in by_draw]


def _step_by_number(
    whose: str, step: StepAhead, known: KnownOfShop, difficulty: Sequence[float]
) -> list[tuple[float, float, float]]:
    """Hours hands-on, hours of cure and coin of one step by draw number; `difficulty` is a factor for each."""
    rng = Random(whose)  # noqa: S311
    gauss, coin, minutes_sd, cure_sd = rng.gauss, rng.random, known.minutes_sd_log, known.cure_sd_log
    middle_h, cure_h = step.minutes / 60, step.cure_h
    rows = [
        (factor * middle_h * exp(gauss(0.0, minutes_sd)), cure_h and cure_h * exp(gauss(0.0, cure_sd)), coin())
        for factor in difficulty
    ]
    if not known.again_chance:
        return rows
    again = Random(f"{whose}|again").random  # noqa: S311
    return [
        (took * times, cured * times, each)
        for took, cured, each in rows
        for times in [1 + (again() < known.again_chance)]
    ]


class DrawnDays:
    """Hours of people in one draw, day by day: less what is lost, and no day at all where somebody is away."""

    def __init__(self, state: BenchState, workdays: Workdays, number: int) -> None:
        self._known, self._workdays = state.known, workdays
        self._rngs = [Random(f"{number}|hours of|{one.name}") for one in state.people]  # noqa: S311
        self._days: list[list[Spans]] = [[] for _ in state.people]

    def spans(self, person: int, day: int) -> Spans:
        """Hours at the bench of a person on a day, in hours after midnight of the first day."""
        days = self._days[person]
        while len(days) <= day:
            days.append(self._drawn(person, len(days)))
        return days[day]

    def _drawn(self, person: int, day: int) -> Spans:
        """Hours of the next day; as many numbers are drawn for every day, so that an absence moves no other."""
        known, rng = self._known, self._rngs[person]
        away, lost = rng.random(), rng.gauss(known.lost_share, known.lost_share_sd)
        starts = [rng.random() for _ in range(GAPS_A_DAY)]
        spans = self._workdays.spans(person, day)
        if not spans or (day > 0 and away < known.away_chance):
            return []
        total = sum(end - begin for begin, end in spans)
        gap = min(MOST_LOST, lost) * total / GAPS_A_DAY
        if gap > 0:
            for start in starts:
                total -= gap
                spans = without(spans, start * total, gap)
        return spans


class MiddleOfArrivals:
    """Middle hours of each kind of job that comes in, and of what may turn up."""

    def __init__(self, known: KnownOfShop) -> None:
        self.kinds = [Middle.of(kind.steps) for kind in known.arrivals.kinds]
        self.turn_up = Middle.of(known.turn_up.steps)


class DrawnArrivals:
    """What comes in, in one draw, day by day: a Poisson number on each day worked, over its opening hours."""

    def __init__(self, known: KnownOfShop, workdays: Workdays, middle: MiddleOfArrivals, number: int) -> None:
        self._known, self._workdays, self._middle = known, workdays, middle
        self._rng = Random(f"{number}|comes in")  # noqa: S311

    def of(self, day: int) -> list[DrawnArrival]:
        """Arrivals of a day; to be asked for one day after the other."""
        opening, rate, rng = self._workdays.opening(day), self._known.arrivals.jobs_a_day, self._rng
        if opening is None or not rate:
            return []
        begin, end = opening
        found, at = [], rng.expovariate(rate)
        while at < 1:
            found.append(self._arrival(begin + at * (end - begin)))
            at += rng.expovariate(rate)
        return found

    def _arrival(self, at: float) -> DrawnArrival:
        """One job that comes in, at an hour."""
        known, rng = self._known, self._rng
        rush = rng.random() < known.arrivals.rush_share
        kind = _kind(known.arrivals.kinds, rng.random())
        difficulty = rng.gauss(0, known.job_sd_log)
        steps = _steps_drawn(self._middle.kinds[kind], known, difficulty, rng)
        up = None
        if rng.random() < known.turn_up.chance:
            answer = known.turn_up.answer_h * exp(rng.gauss(0, known.turn_up.answer_sd_log))
            up = DrawnTurnUp(answer, _steps_drawn(self._middle.turn_up, known, difficulty, rng))
        return DrawnArrival(at, kind, rush, DrawnBoard(steps, up))


def _kind(kinds: Sequence[KindOfJob], drawn: float) -> int:
    """Number of the kind on which a number below one falls; shares are taken relative to their sum."""
    left = drawn * sum(kind.share for kind in kinds)
    for index, kind in enumerate(kinds):
        left -= kind.share
        if left < 0:
            return index
    return len(kinds) - 1


def _steps_drawn(middle: Middle, known: KnownOfShop, difficulty: float, rng: Random) -> DrawnSteps:
    """One draw of steps; `difficulty` is a logarithm."""
    gauss, coin = rng.gauss, rng.random
    minutes_sd, cure_sd = known.minutes_sd_log, known.cure_sd_log
    hours = [each * exp(gauss(difficulty, minutes_sd)) for each in middle.hours]
    cures = [each * exp(gauss(0.0, cure_sd)) if each else 0.0 for each in middle.cures]
    if known.again_chance:
        again = [1 + (coin() < known.again_chance) for _ in hours]
        hours, cures = [list(map(mul, each, again)) for each in (hours, cures)]
    return DrawnSteps(tuple(hours), tuple(cures), tuple([coin() for _ in hours]))
