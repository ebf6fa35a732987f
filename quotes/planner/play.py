"""The bench played forward: one possible future of all boards on the rack, by the rule of the hands.

Discrete events: whoever is free next takes the board that the rule chooses, for as long as its step was drawn to take;
the board is free again when it has cured. A step is chosen by its planned minutes, which is what the shop knows. One
that may stop halts when the hours do and goes on with them; one that may not, resin that has been mixed, is finished
through lunch, a ring at the counter or the end of the day. What comes in meanwhile gets its plain day as it comes.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Sequence
from copy import copy
from dataclasses import replace
from datetime import date
from heapq import heappop, heappush
from itertools import accumulate
from math import inf
from typing import NamedTuple

from quotes.planner.draws import (
    DrawnArrival,
    DrawnArrivals,
    DrawnBoard,
    DrawnDays,
    DrawnSteps,
    DrawnTurnUp,
    MiddleOfArrivals,
    board_draws,
)
from quotes.planner.hands import DAYS_WITHOUT_PROMISE, Rank, ahead, choose, others, rank
from quotes.planner.hours import Spans, Stretch, Workdays, stretches
from quotes.planner.plain_day import plain_days
from quotes.planner.state import LOOK_AHEAD_DAYS, BenchState, StepAhead

OPEN_AFTER_STEPS = 2
"""Steps after which a board that comes in is open, so that something may turn up."""

NO_ODD_COIN = 1.0


class Begun(NamedTuple):
    """A step begun: the person's number, the hour, the board's number on the rack, the step's."""

    person: int
    at: float
    board: int
    step: int


class Course:
    """Steps of a board as the loop reads them, in hours, one list for each of their figures."""

    def __init__(self, steps: Sequence[StepAhead]) -> None:
        self.steps = tuple(steps)
        self.planned = [step.minutes / 60 for step in steps]
        self.cures = [step.cure_h for step in steps]
        self.seen = [(step.minutes / 60, step.sand_first_min / 60, step.coats, step.may_stop) for step in steps]
        self.ahead = ahead(self.planned, self.cures)
        self.own_h = sum(self.planned) + sum(self.cures)
        self.hands_h = [*reversed(list(accumulate(reversed(self.planned)))), 0.0]
        self._longer: dict[int, Course] = {}

    def with_more(self, at: int, steps: Sequence[StepAhead]) -> Course:
        """The course with what turned up, put in before step number `at`; `steps` are the same for every board."""
        longer = self._longer.get(at)
        if longer is None:
            longer = self._longer[at] = Course((*self.steps[:at], *steps, *self.steps[at:]))
        return longer


class BoardInPlay:
    """A board in one future, and the next step as the rule of the hands sees it."""

    __slots__ = (
        "at", "bonds", "came", "coin", "course", "drawn", "due", "may_stop", "number", "opens_after", "planned", "rush",
        "sand", "turn_up", "window",
    )  # fmt: skip

    def __init__(
        self,
        course: Course,
        drawn: DrawnSteps,
        number: int | None,
        came: float,
        due: float | None,
        rush: bool,
        bonds: float | None,
        turn_up: tuple[int, DrawnTurnUp] | None,
    ) -> None:
        """`came`, `due` and `bonds` in hours; `number` on the rack, None for one that came in later."""
        self.course, self.drawn, self.number, self.came, self.due = course, drawn, number, came, due
        self.rush, self.bonds = rush, bonds
        self.opens_after = -1 if turn_up is None else turn_up[0]
        self.turn_up = None if turn_up is None else turn_up[1]
        self.at = 0
        self.look_ahead()

    def look_ahead(self) -> None:
        """Reads the next step, if there is one."""
        if self.at == len(self.course.steps):
            return
        self.planned, self.sand, coats, self.may_stop = self.course.seen[self.at]
        self.window = self.bonds if coats else None
        self.coin = self.drawn.coins[self.at]

    def open(self, more: Sequence[StepAhead]) -> float:
        """Puts in what turns up where the board is open now; hours until the customer answers."""
        if self.turn_up is None or self.at != self.opens_after:
            return 0.0
        answer, added = self.turn_up
        at, self.turn_up = self.at, None
        self.course = self.course.with_more(at, more)
        self.drawn = DrawnSteps(*(row[:at] + new + row[at:] for row, new in zip(self.drawn, added, strict=True)))
        return answer


class OnRack(NamedTuple):
    """A board of the rack as the loop reads it, times in hours; `due` is when the day promised ends."""

    course: Course
    came: float
    due: float
    rush: bool
    free: float
    bonds: float | None
    turns_up_after: int | None


class Play:
    """A state made ready to be played, with its draws; boards in the order in which they came."""

    def __init__(self, state: BenchState, count: int) -> None:
        """`count` is the number of draws."""
        self.state = replace(state, people=tuple(sorted(state.people, key=lambda one: one.name)))
        self.known = state.known
        self.workdays = Workdays(self.state)
        self.now = self.workdays.hour(state.now)
        self.a_day_h = self.workdays.bench_hours_a_day()
        self.boards = sorted(state.boards, key=lambda board: (board.came, board.job))
        self.courses = [Course(board.steps) for board in self.boards]
        self.kinds = [Course(kind.steps) for kind in state.known.arrivals.kinds]
        self.rack = self._rack()
        self._middle = MiddleOfArrivals(state.known)
        self._draws = [board_draws(board, state.known, count) for board in self.boards]

    def promised(self, days: dict[str, date]) -> Play:
        """The play with other days promised for some jobs, and all draws as they are."""
        other = copy(self)
        other.state = self.state.promised(days)
        other.boards = [other.state.board(board.job) for board in self.boards]
        other.rack = other._rack()
        return other

    def _rack(self) -> list[OnRack]:
        """Boards as the loop reads them."""
        hour, number = self.workdays.hour, self.workdays.number
        return [
            OnRack(
                course=course,
                came=hour(board.came),
                due=24.0 * (1 + (DAYS_WITHOUT_PROMISE if board.promised is None else number(board.promised))),
                rush=board.rush,
                free=hour(board.free_from),
                bonds=None if board.bonds_until is None else hour(board.bonds_until),
                turns_up_after=board.turns_up_after,
            )
            for course, board in zip(self.courses, self.boards, strict=True)
        ]

    def future(self, number: int) -> Future:
        """Future of a draw number, not yet played."""
        arrivals = DrawnArrivals(self.known, self.workdays, self._middle, number)
        return Future(self, [drawn[number] for drawn in self._draws], self.days(number).spans, arrivals.of)

    def days(self, number: int) -> DrawnDays:
        """Hours of people in a draw number."""
        return DrawnDays(self.state, self.workdays, number)

    def middle(self, begun: list[Begun]) -> Future:
        """The future where all goes as planned and nothing comes in; its steps are taken into `begun`.

        The lost share makes each step longer."""
        slower = 1 / max(0.1, 1 - self.known.lost_share)
        drawn = [
            DrawnBoard(
                DrawnSteps(
                    tuple(hours * slower for hours in course.planned),
                    tuple(course.cures),
                    (NO_ODD_COIN,) * len(course.steps),
                ),
                None,
            )
            for course in self.courses
        ]
        return Future(self, drawn, self.workdays.spans, lambda day: [], begun)

    def plain_day(self, job: str) -> int:
        """Plain day of a job on the rack, in days from now: all others are ahead of it."""
        own = next(index for index, board in enumerate(self.boards) if board.job == job)
        queue = sum(course.hands_h[0] for index, course in enumerate(self.courses) if index != own)
        rush = self.boards[own].rush
        return plain_days(own_h=self.courses[own].own_h, queue_h=queue, a_day_h=self.a_day_h, rush=rush)


class Future:
    """One future: `ready` says in which hour each board on the rack is ready, in the order of `Play.boards`.

    Hours count from midnight of the state's day. `through`: (came, ready) of every board that was finished.
    """

    def __init__(
        self,
        play: Play,
        drawn: Sequence[DrawnBoard],
        spans: Callable[[int, int], Spans],
        arrivals: Callable[[int], list[DrawnArrival]],
        begun: list[Begun] | None = None,
    ) -> None:
        """`begun`, where it is given, takes in every step of the rack that is begun."""
        self._play, self._spans, self._arrivals = play, spans, arrivals
        self._odd = play.known.odd_choice
        people = len(play.state.people)
        self._free = [play.now] * people
        self._stretches: list[dict[int, list[Stretch]]] = [{} for _ in range(people)]
        self._waiting: list[tuple[float, int, BoardInPlay]] = []
        self._ranks: list[Rank] = []
        self._boards: list[BoardInPlay] = []
        self._queue_h = 0.0
        self._seen = 0
        self._next_day = 0
        self.ready: list[float] = [inf] * len(drawn)
        self.through: list[tuple[float, float]] = []
        self._begun = begun
        self._open = 0
        for number, each in enumerate(drawn):
            self._put_up(number, each)

    def _put_up(self, number: int, drawn: DrawnBoard) -> None:
        """Puts a board of the rack on the bench."""
        board, now = self._play.rack[number], self._play.now
        after, up = board.turns_up_after, drawn.turn_up
        turn_up = None if after is None or up is None else (after, up)
        one = BoardInPlay(board.course, drawn.steps, number, board.came, board.due, board.rush, board.bonds, turn_up)
        free = board.free
        if after == 0:
            free = max(free, now) + one.open(self._play.known.turn_up.steps)
            one.look_ahead()
        self._queue_h += one.course.hands_h[0]
        self._open += 1
        self._later(one, free)

    def _later(self, board: BoardInPlay, free: float) -> None:
        """Leaves a board until the hour its next step is free; a board without a further step is ready then."""
        if board.at < len(board.course.steps):
            self._seen += 1
            heappush(self._waiting, (free, self._seen, board))
            return
        self.through.append((board.came, free))
        if board.number is not None:
            self.ready[board.number] = max(free, self._play.now)
            self._open -= 1

    def run(self, until: float = inf) -> list[float]:
        """Plays until the rack is done, for a year at most; `until` an hour, whatever is done then. Gives `ready`."""
        free, waiting, boards, days, odd = self._free, self._waiting, self._boards, self._stretches, self._odd
        end_of_play = 24.0 * LOOK_AHEAD_DAYS if until == inf else until
        while self._open or until < inf:
            now = min(free)
            if now > end_of_play:
                break
            person, day = free.index(now), int(now // 24)
            if day >= self._next_day:
                self._come_in(day)
            for begin, end, after in days[person].get(day) or self._day(person, day):  # noqa: B007 - the one found
                if now < end:
                    break
            else:
                free[person] = 24.0 * (day + 1)
                continue
            if now < begin:
                free[person] = begin
                continue
            while waiting and waiting[0][0] <= now:
                self._set_free(heappop(waiting)[2], now)
            left = end - now + after
            index = choose(boards, now, left)
            if index is None:
                free[person] = min(waiting[0][0] if waiting else inf, 24.0 * (day + 1))
                continue
            if boards[index].coin < odd:
                index = self._something_else(index, now, left)
            del self._ranks[index]
            free[person] = self._work(person, boards.pop(index), now)
        return self.ready

    def _come_in(self, day: int) -> None:
        """Lets in what comes in until the end of a day."""
        for each in range(self._next_day, day + 1):
            for drawn in self._arrivals(each):
                if drawn.at > self._play.now:
                    up = drawn.board.turn_up
                    turn_up = None if up is None else (OPEN_AFTER_STEPS, up)
                    course = self._play.kinds[drawn.kind]
                    board = BoardInPlay(course, drawn.board.steps, None, drawn.at, None, drawn.rush, None, turn_up)
                    self._later(board, drawn.at)
        self._next_day = day + 1

    def _day(self, person: int, day: int) -> list[Stretch]:
        """Stretches of a person's day."""
        known = self._stretches[person].get(day)
        if known is None:
            known = self._stretches[person][day] = stretches(self._spans(person, day))
        return known

    def _set_free(self, board: BoardInPlay, now: float) -> None:
        """Puts a board among those that hands may choose, by its rank."""
        course = board.course
        if board.due is None:
            a_day_h = self._play.a_day_h
            days = plain_days(own_h=course.own_h, queue_h=self._queue_h, a_day_h=a_day_h, rush=board.rush)
            board.due = 24.0 * (now // 24 + days + 1)
            self._queue_h += course.hands_h[0]
        mine = rank(board.rush, board.due, course.ahead[board.at], board.came)
        index = bisect_right(self._ranks, mine)
        self._ranks.insert(index, mine)
        self._boards.insert(index, board)

    def _something_else(self, chosen: int, now: float, left: float) -> int:
        """What people take instead, one time in ten; the coin is spent, or the board would wait for ever."""
        board = self._boards[chosen]
        found = others(self._boards, chosen, now, left)
        if not found:
            return chosen
        drawn, board.coin = board.coin / self._odd, NO_ODD_COIN
        return found[int(drawn * len(found))]

    def _work(self, person: int, board: BoardInPlay, now: float) -> float:
        """Does the next step of a board; the hour in which the person is free again."""
        at, step = board.at, board.course.steps[board.at]
        if self._begun is not None and board.number is not None:
            self._begun.append(Begun(person, now, board.number, at))
        hours = board.drawn.hours[at]
        if board.window is not None and now > board.window:
            hours += board.sand
        end = self._stopping(person, now, hours) if step.may_stop else now + hours
        self._queue_h -= board.planned
        if step.bonds_h is not None:
            board.bonds = end + step.bonds_h
        elif step.cuts or step.coats:
            board.bonds = None
        free = end + board.drawn.cures[at]
        board.at = at + 1
        if board.at == board.opens_after:
            before = board.course.hands_h[board.at]
            free = max(free, end + board.open(self._play.known.turn_up.steps))
            self._queue_h += board.course.hands_h[board.at] - before
        board.look_ahead()
        self._later(board, free)
        return end

    def _stopping(self, person: int, now: float, hours: float) -> float:
        """When so many hours are done that stop with the hours of the person and go on with them."""
        for day in range(int(now // 24), int(now // 24) + LOOK_AHEAD_DAYS):
            for begin, end, _ in self._day(person, day):
                begin = max(begin, now)
                if hours <= end - begin:
                    return begin + hours
                hours -= max(0.0, end - begin)
        return inf
