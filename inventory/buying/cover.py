"""Which need will find what it asks for. PURE: exact Decimals, days, no rows.

Idea: needs are served in order of their day, each from what is in date on that day, what goes off first first; so no
other order would cover more. What lies there but is out of date by then is told apart from what is not there at all.
Invariant: for each need, covered + stale + missing = quantity, and no lot gives more than it holds.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from decimal import Decimal
from typing import NamedTuple

NOTHING = Decimal(0)


class Stock(NamedTuple):
    """What a lot holds and the last day it may be used (None: it does not go off)."""

    quantity: Decimal
    good_until: date | None = None


class Need(NamedTuple):
    """Something wanted on a day; `key` is the caller's own."""

    key: int
    quantity: Decimal
    day: date


class Cover(NamedTuple):
    """What a need will find: in date, there but out of date (the last of it since `since`), and not there."""

    key: int
    covered: Decimal
    stale: Decimal
    missing: Decimal
    since: date | None

    @property
    def short(self) -> Decimal:
        """What will not be there in date."""
        return self.stale + self.missing


def cover(stock: Iterable[Stock], needs: Iterable[Need], today: date) -> list[Cover]:
    """What each need will find, in order of their days; one that is overdue is served today."""
    lots = sorted(stock, key=lambda lot: lot.good_until or date.max)
    left = [lot.quantity for lot in lots]
    covers = []
    for need in sorted(needs, key=lambda need: (need.day, need.key)):
        day = max(need.day, today)
        fresh = [i for i, lot in enumerate(lots) if lot.good_until is None or lot.good_until >= day]
        old = [i for i, lot in enumerate(lots) if i not in fresh]
        covered, _ = _take(left, fresh, need.quantity)
        stale, last = _take(left, old, need.quantity - covered)
        since = None if last is None else lots[last].good_until
        covers.append(Cover(need.key, covered, stale, need.quantity - covered - stale, since))
    return covers


def _take(left: list[Decimal], which: list[int], wanted: Decimal) -> tuple[Decimal, int | None]:
    """Take up to `wanted` out of those lots in turn: how much there was, and the last lot it came from."""
    taken, last = NOTHING, None
    for i in which:
        part = min(left[i], wanted - taken)
        if part > 0:
            left[i] -= part
            taken += part
            last = i
    return taken, last
