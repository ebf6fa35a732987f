"""What a made-up shop knows of itself, and the state in which it asks for a day.

Of its chances and shares it knows the true ones roughly, of spreads and answers only what is usual. Its minutes for
each kind of step are a little off; how far all of them are off together it learns from the steps it has finished.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from math import exp, log
from random import Random

from quotes.planner import BenchState
from quotes.planner.state import (
    Arrivals,
    BoardAhead,
    KindOfJob,
    KnownOfShop,
    PersonHours,
    StepAhead,
    TurnUp,
)
from tests.planner.shops.truth import HiddenShop, TrueStep

MONDAY = datetime.fromisoformat("2026-03-02")
STEPS_BELIEVED = 15
"""As many finished steps as the first belief in the minutes weighs."""

WORD_OFF = 0.08
LEAST_LEFT = 0.15
"""Least share of a step that somebody who is at it sees ahead."""


def moment(minute: float) -> datetime:
    """A moment of a shop's life, whole minutes."""
    return MONDAY + timedelta(minutes=round(minute))


@dataclass(eq=False)
class BoardThere:
    """A board in the shop: times in minutes of the shop's life. `left`, `worked`: minutes of the step it is at,
    `sanded` those of them that are sanding because the coat comes late."""

    job: str
    came: int
    rush: bool
    steps: list[TrueStep]
    difficulty: float
    opens_after: int | None
    turns_up: bool
    promised: int | None = None
    at: int = 0
    free: float = 0.0
    bonds: float | None = None
    left: float | None = None
    worked: float = 0.0
    sanded: float = 0.0
    held: bool = False
    done: float | None = None


@dataclass
class Knows:
    """What a shop believes."""

    shop: HiddenShop
    closed: frozenset[int] = frozenset()
    off: dict[int, frozenset[int]] = field(default_factory=dict)
    steps: int = 0
    logs: float = 0.0

    def __post_init__(self) -> None:
        shop, rng = self.shop, Random(f"knows {self.shop.seed}")
        self._off = {word: exp(rng.gauss(0, WORD_OFF)) * shop.trouble.believed for word in sorted(shop.spread)}
        weights = [shop.open_minutes(day) for day in range(7)]
        lost = sum(share * weight for share, weight in zip(shop.lost, weights, strict=True)) / sum(weights)

        def roughly(true: float, by: float) -> float:
            return true * rng.uniform(1 - by, 1 + by)

        self._figures = {
            "lost_share": roughly(lost, 0.1),
            "lost_share_sd": 0.45 * lost,
            "away_chance": roughly(shop.trouble.away, 0.25),
            "again_chance": roughly(shop.trouble.again, 0.25),
        }
        self._rate, self._rush, self._chance = (
            roughly(shop.rate, 0.08),
            roughly(shop.rush, 0.3),
            roughly(shop.turns_up, 0.2),
        )

    @property
    def pace(self) -> float:
        """True minutes over believed ones, as learned from finished steps."""
        return exp(self.logs / (self.steps + STEPS_BELIEVED))

    def learn(self, step: TrueStep, took: float) -> None:
        """Takes in a finished step and the minutes it took, but for sanding a late coat."""
        self.steps += 1
        self.logs += log(took / (step.minutes * self._off[step.word]))

    def off_by(self) -> dict[str, float]:
        """Logarithm of the minutes believed over the true ones, by what is done."""
        return {word: log(off * self.pace) for word, off in self._off.items()}

    def minutes(self, step: TrueStep) -> float:
        """Minutes that the shop believes a step takes."""
        return step.minutes * self._off[step.word] * self.pace

    def ahead(self, board: BoardThere) -> list[float]:
        """Minutes believed of each step still ahead of a board; of the one it is at, what is left."""
        believed = [self.minutes(step) for step in board.steps[board.at :]]
        if believed and board.left is not None:
            believed[0] = max(believed[0] - board.worked, LEAST_LEFT * believed[0], 2.0)
        return believed

    def bench_minutes(self) -> float:
        """Minutes at the bench on a day worked, all people together, as the shop believes."""
        week = self.shop.people * sum(self.shop.open_minutes(day) for day in range(7))
        return week * (1 - self._figures["lost_share"]) / self.shop.days_a_week

    def state(self, now: int, boards: Sequence[BoardThere], away: Sequence[int], ask: str) -> BenchState:
        """The state at a minute, with who is away today, asked for one job."""
        today = now // 1440
        days_off = [
            self.off.get(person, frozenset()) | ({today} if person in away else set())
            for person in range(self.shop.people)
        ]
        return BenchState(
            now=moment(now),
            people=tuple(
                PersonHours(f"p{person}", self.shop.week, frozenset(map(_date, days)))
                for person, days in enumerate(days_off)
            ),
            closed=frozenset(map(_date, self.closed)),
            known=self._known(),
            boards=tuple(self._board(board) for board in boards),
            ask=(ask,),
        )

    def _known(self) -> KnownOfShop:
        shop = self.shop
        kinds = zip(shop.shares, shop.kinds, strict=True)
        return KnownOfShop(
            **self._figures,
            odd_choice=0.1,
            minutes_sd_log=0.28,
            job_sd_log=0.12,
            cure_sd_log=0.18,
            turn_up=TurnUp(self._chance, 8.0, 1.1, self._steps(shop.found)),
            arrivals=Arrivals(
                self._rate, self._rush, tuple(KindOfJob(share, self._steps(kind)) for share, kind in kinds)
            ),
        )

    def _steps(self, steps: Sequence[TrueStep], minutes: Sequence[float] | None = None) -> tuple[StepAhead, ...]:
        minutes = minutes or [self.minutes(step) for step in steps]
        return tuple(
            StepAhead(
                name=str(index),
                minutes=each,
                cure_h=step.cure_h,
                bonds_h=step.bonds_h,
                sand_first_min=step.sand_min,
                coats=step.coats,
                cuts=step.cuts,
                may_stop=step.may_stop,
            )
            for index, (step, each) in enumerate(zip(steps, minutes, strict=True))
        )

    def _board(self, board: BoardThere) -> BoardAhead:
        after = None if board.opens_after is None else board.opens_after - board.at
        return BoardAhead(
            job=board.job,
            came=moment(board.came),
            promised=None if board.promised is None else _date(board.promised),
            rush=board.rush,
            free_from=moment(board.free),
            bonds_until=None if board.bonds is None else moment(board.bonds),
            turns_up_after=after if after is not None and after > 0 else None,
            steps=self._steps(board.steps[board.at :], self.ahead(board)),
        )


def _date(day: int) -> date:
    return moment(1440 * day).date()
