"""What it cost to get things here, shared over the lines of a delivery. PURE.

Freight and duty that is not given back are part of what stock costs, a discount makes it cheaper, tax that is given
back is no part of it (IAS 2 Inventories, paragraphs 10 and 11). Invariant: the shares add up to what is shared,
exactly.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from inventory.stock import valuation


def shared(extra: Decimal, weights: Sequence[Decimal]) -> list[Decimal]:
    """`extra` (money; below zero for a discount) shared in proportion to the weights to 1/10 000, nothing lost.

    Raises ValueError unless all weights are zero or more and some are above it.
    """
    if any(weight < 0 for weight in weights) or not sum(weights):
        raise ValueError("There must be something to share by: weights of zero or more, not all zero.")
    return valuation.shared(extra, weights)


def landed(costs: Sequence[Decimal], extra: Decimal, weights: Sequence[Decimal] | None = None) -> list[Decimal]:
    """What each line costs with its share of `extra`, shared by cost or by `weights`.

    Raises ValueError as `shared` does, or when a discount would make a line cost less than nothing.
    """
    total = [cost + share for cost, share in zip(costs, shared(extra, weights or costs), strict=True)]
    if min(total, default=Decimal(0)) < 0:
        raise ValueError("A discount must not be more than what the line cost.")
    return total
