"""Shares of each repair in a planned step of the bench that serves several.

Invariant: shares of one thing add up to 1.
"""

from __future__ import annotations

import math

from quotes.costing.snapshot import PlannedStep


def repairs_of(plan: PlannedStep, part: int | None) -> tuple[int | None, ...]:
    """Keys of the repairs that a plan serves; `part` is that of a plan of one repair."""
    return tuple(one.part for one in plan.serves) or (part,)


def shares_of(plan: PlannedStep, part: int | None, material: str | None = None) -> dict[int | None, float]:
    """Share (0 to 1) of each repair, by its key, in a material of the plan (None: in its hands-on time), as planned.

    What was not planned goes by the minutes, and those where none are planned alike.
    """
    own = plan.own(part)
    if len(own) == 1:
        return {own[0][0]: 1.0}
    minutes = [one.minutes for _, one in own]
    weights = minutes if material is None else [_planned(one, material) for _, one in own]
    if math.fsum(weights) <= 0:
        weights = minutes if math.fsum(minutes) > 0 else [1.0] * len(own)
    whole = math.fsum(weights)
    return {key: weight / whole for (key, _), weight in zip(own, weights, strict=True)}


def _planned(plan: PlannedStep, material: str) -> float:
    return math.fsum(one.planned for one in plan.materials if one.material == material)
