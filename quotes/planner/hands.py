"""How hands choose the next step: the one rule of the plan of the day, the forecast and the screen.

    1. a coat whose bond closes within three hours
    2. a rush
    3. the least slack: end of the day promised − now − what is still ahead, hands and cures counted 2.2-fold
    4. who came first

A step is begun only where its planned minutes end today, unless it may stop over night. A board without a day counts as
promised in 30 days. What is the same for all boards (now) is left out of the slack that is compared.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

CLOSES_WITHIN_H = 3.0
"""Hours before a bond closes from which its coat goes first. A figure of ours."""

AHEAD_FACTOR = 2.2
"""Factor on hours of hands and cure ahead: waiting, nights and hours lost come on top. Tried in simulated shops."""

DAYS_WITHOUT_PROMISE = 30
"""Days after which a board without a day counts as promised."""

Rank = tuple[bool, float, float]
"""Sorts boards: no rush, slack in hours less what all share, hour in which it came."""


class Choosable(Protocol):
    """A board whose next step is free: its planned hours, the hour until which it bonds by itself, sanding if later."""

    planned: float
    window: float | None
    sand: float
    may_stop: bool


def ahead(planned: Sequence[float], cures: Sequence[float]) -> list[float]:
    """Hours still ahead from each step on, hands and cures counted 2.2-fold; hours in, one more out: the end is 0."""
    found = [0.0]
    for hours, cure in zip(reversed(planned), reversed(cures), strict=True):
        found.append(found[-1] + AHEAD_FACTOR * (hours + cure))
    return found[::-1]


def rank(rush: bool, due: float, ahead: float, came: float) -> Rank:
    """Rank of a board: `due` is the hour in which the day promised ends, `ahead` hours still ahead, `came` an hour."""
    return (not rush, due - ahead, came)


def choose(ready: Sequence[Choosable], now: float, left: float) -> int | None:
    """Which of the boards that are free, in order of rank, goes next; `left` are hours at the bench until the day ends.

    None where no step fits into the day.
    """
    first = None
    for index, board in enumerate(ready):
        planned, window = board.planned, board.window
        if window is not None:
            if now > window:
                planned += board.sand
            elif window - now <= CLOSES_WITHIN_H and (planned <= left or board.may_stop):
                return index
        if first is None and (planned <= left or board.may_stop):
            first = index
    return first


def others(ready: Sequence[Choosable], chosen: int, now: float, left: float) -> list[int]:
    """Which other boards hands might take instead, by number; `left` are hours at the bench until the day ends."""
    return [
        index
        for index, board in enumerate(ready)
        if index != chosen
        and (
            board.may_stop
            or (board.planned if board.window is None or now <= board.window else board.planned + board.sand) <= left
        )
    ]
