"""What it cost to get things here, shared over the lines of a delivery. PURE.

Freight and duty that is not given back are part of what stock costs, a discount makes it cheaper, tax that is given
back is no part of it (IAS 2 Inventories, paragraphs 10 and 11). Invariant: the shares add up to what is shared,
exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from shop.measures.apportion import apportion
from shop.measures.money import STORED_STEP


def landed(costs: Sequence[Decimal], extra: Decimal, weights: Sequence[Decimal] | None = None) -> list[Decimal]:
    """What each line costs with its share of `extra` (below zero for a discount), shared by cost or by `weights`.

    Raises ValueError as `apportion` does, or when a discount would make a line cost less than nothing.
    """
    shares = apportion(extra, weights or costs, STORED_STEP)
    total = [cost + share for cost, share in zip(costs, shares, strict=True)]
    if min(total, default=Decimal(0)) < 0:
        raise ValueError("A discount must not be more than what the line cost.")
    return total
