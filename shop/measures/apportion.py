"""An amount shared out in whole steps, exactly: the one way to do it. PURE.

Each share is cut down to a whole step; the steps that are then missing go, one each, to the largest remainders cut
off, of equal ones to the earlier. So the shares add up to the amount, none is a whole step off its exact part, and
what weighs nothing gets nothing. Known as the method of largest remainders, or Hamilton's method: M. L. Balinski and
H. P. Young, Fair Representation, Yale University Press 1982 (from memory).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction


def apportion(total: Decimal, weights: Sequence[Decimal | float], step: Decimal) -> list[Decimal]:
    """Shares of `total` in whole steps in proportion to the weights, exactly; below zero as above it, with its sign.

    Raises ValueError unless all weights are zero or more and some are above it, and the total is of whole steps.
    """
    exact = [Fraction(weight) for weight in weights]
    whole, steps = sum(exact), Fraction(total) / Fraction(step)
    if not whole or min(exact) < 0:
        raise ValueError("There must be something to share by: weights of zero or more, not all zero.")
    if steps.denominator != 1:
        raise ValueError(f"{total} is not of whole steps of {step}.")
    sign, many = (-1 if steps < 0 else 1), abs(int(steps))
    return [sign * step * share + 0 for share in whole_numbers([many * one / whole for one in exact], many)]


def in_steps(parts: Sequence[Decimal], total: Decimal, step: Decimal) -> list[Decimal]:
    """Shares moved from exact parts to a whole step next to each, so that they add up to `total`.

    Raises ValueError for a total that they cannot reach.
    """
    steps = [Fraction(part) / Fraction(step) for part in parts]
    many = Fraction(total) / Fraction(step)
    if many.denominator != 1:
        raise ValueError(f"{total} is not the sum of these parts")
    return [step * one + 0 for one in whole_numbers(steps, int(many))]


def whole_numbers(exact: Sequence[Fraction | float], total: int) -> list[int]:
    """Whole numbers next to the exact ones that add up to `total`. Raises ValueError for a total out of reach."""
    cut = [math.floor(one) for one in exact]
    missing = total - sum(cut)
    if not 0 <= missing <= len(cut):
        raise ValueError(f"{total} is not the sum of these parts")
    order = sorted(range(len(cut)), key=lambda at: cut[at] - exact[at])
    for at in order[:missing]:
        cut[at] += 1
    return cut
