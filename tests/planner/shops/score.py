"""Of the days promised by made-up shops, how many were kept, and what hours added up need to be kept as often."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from contextlib import nullcontext
from datetime import date
from typing import NamedTuple

from quotes.planner import BenchState, forecast
from tests.planner.shops.added_up import Fitted, fitted
from tests.planner.shops.life import Ask, Life, Promised
from tests.planner.shops.truth import Trouble, made

SHOPS = 40
JOBS = 80
LOADS = (0.6, 0.95)
ROUGH_DRAWS = 8
"""Draws for jobs that come after those that count, so that hands have what they have in a shop that goes on."""

TROUBLES = {
    "as shops are": Trouble(),
    "minutes 15 % short at first": Trouble(believed=0.85),
    "one day in ten away": Trouble(away=0.1),
    "one step in thirty done again": Trouble(again=0.03),
}


class Lived(NamedTuple):
    """A shop's number, its load, how many people it has, what came of its promises."""

    number: int
    load: float
    people: int
    promises: list[Promised]

    @property
    def kept(self) -> float:
        return kept(self.promises)


def kept(promises: Sequence[Promised]) -> float:
    return sum(one.done <= one.days for one in promises) / len(promises)


def mean_days(promises: Sequence[Promised]) -> float:
    return sum(one.days for one in promises) / len(promises)


def said(promises: Sequence[Promised]) -> float:
    return sum(one.chance for one in promises) / len(promises)


def added_up_as_often(promises: Sequence[Promised]) -> Fitted:
    """Hours added up, with the factor and the days more that keep as many of these promises."""
    return fitted([(one.added_up, one.done) for one in promises], kept(promises))


def eight_in_ten(draws: int) -> Ask:
    """Asks the planner for the day that holds eight in ten and its chance."""

    def ask(state: BenchState) -> tuple[date, float]:
        day = forecast(state, draws).ready(state.ask[0])
        return day.q80, day.chance or 0.0

    return ask


def load_of(number: int) -> float:
    """Loads lie evenly over the shops, each with its neighbours far away."""
    low, high = LOADS
    return low + (high - low) * (number * 17 % SHOPS) / (SHOPS - 1)


def live(number: int, trouble: Trouble, draws: int, jobs: int) -> Lived:
    """One shop's life."""
    shop = made(number, load_of(number), trouble)
    promises = Life(shop, eight_in_ten(draws), eight_in_ten(ROUGH_DRAWS)).run(jobs)
    return Lived(number, shop.load, shop.people, promises)


def lives(numbers: Sequence[int], trouble: Trouble, draws: int, jobs: int, workers: int) -> Iterator[Lived]:
    """Lives of several shops, in so many processes."""
    asked = [(number, trouble, draws, jobs) for number in numbers]
    with ProcessPoolExecutor(workers) if workers > 1 else nullcontext() as pool:
        yield from map(_live, asked) if pool is None else pool.map(_live, asked)


def _live(asked: tuple[int, Trouble, int, int]) -> Lived:
    return live(*asked)
