"""A stored step of the bench that serves several repairs, told apart: what of it is each repair's own.

A plan that serves several keeps in `serves`, of each repair, its key as `part` and that repair's own step: its number
there, minutes, materials, mixes, what it does. A plan without is of one repair alone.
Invariant: shares of one thing add up to 1.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

Plan = Mapping[str, Any]
OWN = ("minutes", "does", "mixes", "materials")


def repairs_of(plan: Plan, part: int | None) -> tuple[int | None, ...]:
    """Keys of the repairs that a plan serves; `part` is that of a plan of one repair."""
    return tuple(one["part"] for one in plan.get("serves") or ()) or (part,)


def own_plans(plan: Plan, part: int | None) -> list[tuple[int | None, Plan]]:
    """Each repair that a plan serves with its own plan, numbered as the steps of that repair are."""
    return [
        (one["part"], {**plan, "serves": [], "index": one["step"], **{name: one[name] for name in OWN}})
        for one in plan.get("serves") or ()
    ] or [(part, plan)]


def shares_of(plan: Plan, part: int | None, material: str | None = None) -> dict[int | None, float]:
    """What of a material (None: of hands-on time) is each repair's, as it was planned.

    What was not planned goes by the minutes, and those where none are planned alike.
    """
    own = own_plans(plan, part)
    if len(own) == 1:
        return {own[0][0]: 1.0}
    minutes = [float(one.get("minutes") or 0.0) for _, one in own]
    weights = minutes if material is None else [_planned(one, material) for _, one in own]
    if math.fsum(weights) <= 0:
        weights = minutes if math.fsum(minutes) > 0 else [1.0] * len(own)
    whole = math.fsum(weights)
    return {key: weight / whole for (key, _), weight in zip(own, weights, strict=True)}


def _planned(plan: Plan, material: str) -> float:
    lines: Sequence[Plan] = plan.get("materials") or ()
    return math.fsum(line["planned"] for line in lines if line["material"] == material)
