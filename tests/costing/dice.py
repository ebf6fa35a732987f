"""The risk of a way by throwing dice: an independent check of what the product says in closed form."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from quotes.costing.money.cost_risk import Costed, Uncertain, uncertain
from quotes.costing.stats.assumptions import USUAL

DRAWS = 200_000


def thrown(parts: Sequence[Costed], seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Cost, materials and minutes of a way, by throwing every factor, scatter, cup, difficulty and step done again."""
    dice = np.random.default_rng(seed)
    hard = {
        True: dice.standard_normal(DRAWS) * USUAL.difficulty_labour,
        False: dice.standard_normal(DRAWS) * USUAL.difficulty_material,
    }
    cells: dict[str, np.ndarray] = {}
    materials, labour, minutes = np.zeros(DRAWS), np.zeros(DRAWS), np.zeros(DRAWS)
    for part in parts:
        for one, times in doings(part, dice):
            if one.sd == 0:
                factor = np.ones(DRAWS)
            else:
                z = cells.setdefault(one.cell, dice.standard_normal(DRAWS))
                factor = np.exp(z * one.sd + hard[one.labour])
            use = one.median * factor
            if one.labour:
                labour += times * use
                minutes += times * one.minutes * factor
            elif one.piece:
                materials += times * one.piece * np.maximum(1, np.ceil(use / one.piece - 1e-9))
            else:
                cup = one.loss * (1 + USUAL.cup_spread / math.sqrt(max(1, one.cups)) * dice.standard_normal(DRAWS))
                materials += times * np.maximum(one.least, use + np.where(use + one.loss > one.least, cup, one.loss))
    return materials + labour, materials, minutes


def doings(part: Costed, dice: np.random.Generator) -> Iterator[tuple[Uncertain, float | np.ndarray]]:
    """Each uncertain amount once, then those of each step that may be done again where a toss says so."""
    yield from ((one, 1.0) for one in uncertain(part.lines))
    for again in part.again:
        tossed = (dice.random(DRAWS) < again.rate).astype(float)
        own = [line for line in part.lines if line.step == again.step and line.kind != "consumable"]
        yield from ((one, tossed) for one in uncertain(own))
