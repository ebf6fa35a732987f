"""The old way to a day: minutes of all others over the hours of a day, then the own steps on an empty bench."""

from __future__ import annotations

from collections.abc import Sequence
from math import floor
from typing import NamedTuple

from tests.planner.shops.knows import BoardThere, Knows

OPENS = 540


def added_up(knows: Knows, now: int, board: BoardThere, boards: Sequence[BoardThere]) -> int:
    """Days from today until a board is ready by this reckoning; boards ahead of it by all their minutes."""
    a_day = knows.bench_minutes()
    queue = sum(sum(knows.ahead(other)) for other in boards if other is not board)
    day = _open(knows, now // 1440)
    for _ in range(int(queue // a_day)):
        day = _open(knows, day + 1)
    used = queue % a_day
    mine = a_day / knows.shop.people
    used /= knows.shop.people
    for step, minutes in zip(board.steps, knows.ahead(board), strict=True):
        if used >= mine:
            day, used = _open(knows, day + 1), 0.0
        while used + minutes > mine:
            minutes -= mine - used
            day, used = _open(knows, day + 1), 0.0
        used += minutes
        later, at = divmod(1440 * day + OPENS + used + 60 * step.cure_h, 1440)
        if step.cure_h:
            free = _open(knows, int(later))
            used = max(0.0, at - OPENS) if free == later else 0.0
            day = free
    return day - now // 1440


def _open(knows: Knows, day: int) -> int:
    """The first day worked from a day on."""
    while day in knows.closed or not knows.shop.week[day % 7]:
        day += 1
    return day


class Fitted(NamedTuple):
    """A constant factor and days more: the mean of the days promised and the share that was kept."""

    factor: float
    more: float
    mean: float
    kept: float


def fitted(lived: Sequence[tuple[int, int]], share: float) -> Fitted:
    """The factor and the days more, of all that keep at least this share of (plain days, days it took), with the least
    mean of days promised: fitted afterwards, to what came."""
    found = []
    for factor in (0.6 + 0.1 * each for each in range(35)):
        for more in (0.25 * each for each in range(60)):
            days = [floor(factor * plain + more) for plain, _ in lived]
            kept = sum(took <= day for day, (_, took) in zip(days, lived, strict=True)) / len(lived)
            if kept >= share:
                found.append(Fitted(factor, more, sum(days) / len(days), kept))
                break
    return min(found, key=lambda one: one.mean)
