"""The life of a made-up shop, minute by minute: jobs come and are promised, hands work, the counter rings.

Hands keep to the rule of the plan most of the time, told here anew; else they take who came first, the shortest, or
whatever lies on top. Mixed resin is finished whatever rings; some who rang wait until then.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date
from math import exp
from random import Random
from typing import NamedTuple

from quotes.planner import BenchState
from tests.planner.shops.added_up import added_up
from tests.planner.shops.knows import MONDAY, BoardThere, Knows
from tests.planner.shops.truth import HiddenShop

DAY = 1440
RING = 12
"""Minutes that a ring at the counter takes, on the average."""

Ask = Callable[[BenchState], tuple[date, float]]


class Promised(NamedTuple):
    """A promise and what came of it, in days from the day it was given; `added_up` is the day of hours added up.

    `chance`: what was said of it."""

    days: int
    done: int
    added_up: int
    chance: float
    rack: int


@dataclass(eq=False)
class Hand:
    """A person on a day; minutes that rings still take, the board in hand."""

    person: int
    hours: tuple[tuple[int, int], ...] = ()
    rings: dict[int, int] = field(default_factory=dict)
    owed: int = 0
    board: BoardThere | None = None


class Life:
    """One shop from its first day on."""

    def __init__(self, shop: HiddenShop, ask: Ask, ask_roughly: Ask) -> None:
        """`ask` gives the day of a job that counts and its chance, `ask_roughly` that of one that comes after those."""
        self.shop, self.ask, self.ask_roughly = shop, ask, ask_roughly
        self.rng = Random(f"life {shop.seed} {shop.load} {shop.trouble}")
        self.knows = Knows(shop, *self._days_off())
        self.hands = [Hand(person) for person in range(shop.people)]
        self.sick = [0] * shop.people
        self.boards: list[BoardThere] = []
        self.asked: list[tuple[BoardThere, Promised]] = []
        self.busy = self.idle = self.wanted = 0
        self.came = 0

    def _days_off(self) -> tuple[frozenset[int], dict[int, frozenset[int]]]:
        """Days closed and holidays of each person, all known long before."""
        rng = self.rng
        closed = {7 * week + rng.randrange(7) for week in range(2, 200) if rng.random() < 0.12}
        off = {}
        for person in range(self.shop.people):
            begins = range(rng.randint(20, 60), 1400, 90)
            off[person] = frozenset(begin + day for begin in begins for day in range(rng.choice([2, 3, 5])))
        return frozenset(closed), off

    def run(self, jobs: int) -> list[Promised]:
        """What came of the promises of the first so many jobs."""
        self.wanted, day = jobs, 0
        while len(self.asked) < jobs or any(board.done is None for board, _ in self.asked):
            self._day(day)
            day += 1
        return [told._replace(done=int(board.done or 0) // DAY - board.came // DAY) for board, told in self.asked]

    def _day(self, day: int) -> None:
        hours = () if day in self.knows.closed else self.shop.week[day % 7]
        if not hours:
            return
        self._who_is_there(day, hours)
        begin, end = hours[0][0], hours[-1][1]
        rate = self.shop.rate * self.shop.busy[day % 7]
        comes, at = set(), begin + self.rng.expovariate(rate / (end - begin))
        while at < end:
            comes.add(int(at))
            at += self.rng.expovariate(rate / (end - begin))
        for minute in range(begin, DAY):
            if minute in comes:
                self._comes_in(DAY * day + minute)
            for hand in self.hands:
                self._tick(hand, day, minute)
            if minute >= end and not any(hand.board for hand in self.hands):
                break

    def _who_is_there(self, day: int, hours: tuple[tuple[int, int], ...]) -> None:
        """Hours and rings of everybody today; whoever falls ill may be away a second day."""
        rng, shop = self.rng, self.shop
        share = shop.lost[day % 7] * rng.gammavariate(1 / shop.lost_spread**2, shop.lost_spread**2)
        for hand in self.hands:
            if self.sick[hand.person]:
                self.sick[hand.person] -= 1
                away = True
            else:
                away = rng.random() < shop.trouble.away / 1.25
                self.sick[hand.person] = int(away and rng.random() < 0.25)
            hand.hours = () if away or day in self.knows.off[hand.person] else hours
            hand.owed, hand.rings = 0, {}
            for begin, end in hand.hours:
                at = begin + rng.expovariate(1 / RING)
                while at < end:
                    if rng.random() < min(0.8, share):
                        hand.rings[int(at)] = max(1, round(rng.expovariate(1 / RING)))
                    at += rng.expovariate(1 / RING)

    def _comes_in(self, now: int) -> None:
        rng, shop = self.rng, self.shop
        kind = rng.choices(shop.kinds, shop.shares)[0]
        board = BoardThere(
            job=str(self.came),
            came=now,
            rush=rng.random() < shop.rush,
            steps=list(kind),
            difficulty=exp(rng.gauss(0, shop.job_spread)),
            opens_after=rng.choice([2, 2, 2, min(4, len(kind) - 1)]),
            turns_up=rng.random() < shop.turns_up,
            free=now,
        )
        self.came += 1
        self.boards.append(board)
        away = [hand.person for hand in self.hands if not hand.hours]
        state = self.knows.state(now, self.boards, away, board.job)
        counts = len(self.asked) < self.wanted
        day, chance = (self.ask if counts else self.ask_roughly)(state)
        board.promised = (day - MONDAY.date()).days
        if counts:
            plain = added_up(self.knows, now, board, self.boards)
            told = Promised(board.promised - now // DAY, 0, plain, chance, len(self.boards))
            self.asked.append((board, told))

    def _tick(self, hand: Hand, day: int, minute: int) -> None:
        """One minute of one person."""
        ring = hand.rings.get(minute, 0)
        if hand.board and not hand.board.steps[hand.board.at].may_stop:
            if self.rng.random() < self.shop.rings_wait:
                hand.owed += ring
            self._work(hand, DAY * day + minute)
            return
        hand.owed += ring
        left = sum(end - max(begin, minute) for begin, end in hand.hours if end > minute)
        if hand.board and not left:
            hand.board.held = False
            hand.board = None
        if not any(begin <= minute < end for begin, end in hand.hours):
            return
        if hand.owed:
            hand.owed -= 1
            return
        if hand.board is None:
            self._take(hand, DAY * day + minute, left)
        if hand.board:
            self._work(hand, DAY * day + minute)
        else:
            self.idle += 1

    def _take(self, hand: Hand, now: int, left: int) -> None:
        """Takes the next board in hand, if there is one."""
        free = [board for board in self.boards if not board.held and board.free <= now]
        ahead = [(board, self.knows.ahead(board)) for board in free]
        fits = [(b, minutes) for b, minutes in ahead if minutes[0] <= left or b.steps[b.at].may_stop]
        if not fits:
            return
        board = hand.board = self._chosen(fits, now)
        board.held = True
        if board.left is None:
            step = board.steps[board.at]
            pace = board.difficulty * exp(self.rng.gauss(0, self.shop.spread[step.word]))
            late = step.coats and board.bonds is not None and now > board.bonds
            board.sanded = step.sand_min if late else 0.0
            board.left, board.worked = max(1.0, step.minutes * pace) + board.sanded, 0.0

    def _chosen(self, fits: Sequence[tuple[BoardThere, list[float]]], now: int) -> BoardThere:
        """By the rule, or not."""
        rng = self.rng
        if rng.random() < self.shop.odd:
            how = rng.randrange(3)
            if how == 0:
                return min(fits, key=lambda one: one[0].came)[0]
            return min(fits, key=lambda one: one[1][0])[0] if how == 1 else rng.choice(fits)[0]

        def order(one: tuple[BoardThere, list[float]]) -> tuple[bool, bool, float, int]:
            board, minutes = one
            closes = board.steps[board.at].coats and board.bonds is not None and 0 <= board.bonds - now <= 180
            still = sum(minutes) + 60 * sum(step.cure_h for step in board.steps[board.at :])
            promised = board.came // DAY + 30 if board.promised is None else board.promised
            return not closes, not board.rush, DAY * (promised + 1) - now - 2.2 * still, board.came

        return min(fits, key=order)[0]

    def _work(self, hand: Hand, now: int) -> None:
        board = hand.board
        assert board is not None
        assert board.left is not None
        self.busy += 1
        board.left -= 1
        board.worked += 1
        if board.left <= 0:
            hand.board, board.held = None, False
            self._finished(board, now + 1)

    def _finished(self, board: BoardThere, now: int) -> None:
        """A step is done, or has to be done again once it has cured."""
        rng, shop, step = self.rng, self.shop, board.steps[board.at]
        self.knows.learn(step, board.worked - board.sanded)
        board.left = None
        board.free = now + 60 * step.cure_h * shop.cure_pace * exp(rng.gauss(0, shop.cure_spread))
        if rng.random() < shop.trouble.again:
            return
        board.at += 1
        if step.bonds_h is not None:
            board.bonds = now + 60 * step.bonds_h
        elif step.cuts or step.coats:
            board.bonds = None
        if board.turns_up and board.at == board.opens_after:
            board.steps[board.at : board.at] = shop.found
            board.free = max(board.free, self._answered(now))
        if board.at == len(board.steps):
            board.done = board.free
            self.boards.remove(board)

    def _answered(self, now: int) -> float:
        """When the customer answers: not by night."""
        at = now + 60 * self.shop.answer_h * exp(self.rng.gauss(0, self.shop.answer_spread))
        day, minute = divmod(at, DAY)
        return DAY * (day + (minute > 1260)) + 480 if minute < 480 or minute > 1260 else at
