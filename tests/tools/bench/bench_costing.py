"""One recipe of 25 operations against the plainest loop that prices the same lines."""

from __future__ import annotations

import math

from quotes.costing import STARTING_RECIPES, CoreDamage, Estimate, cost_tree, estimate, estimate_board, sensitivities
from quotes.costing.parts.result import TIME
from tests.sample_shop import PU, SHOP, TWIN_KEELS
from tests.tools.bench import Ratio, measure

RECIPE = STARTING_RECIPES["glass-on-twin"]
PAINTED = {**TWIN_KEELS, "paint": 1}
_DING = {"length": 50.0, "depth": 8.0, "paint": 0.0}
FOUR = [
    CoreDamage(where, where, STARTING_RECIPES[f"ding-{where}-small"], {**_DING, across: 35.0}, optional=where != "deck")
    for where, across in (("nose", "around"), ("rail", "around"), ("tail", "around"), ("deck", "width"))
]


def ratios() -> list[Ratio]:
    """Nothing is kept from one estimate to the next but the recipe as it is read, its acts looked up."""
    found = estimate(RECIPE, PAINTED, SHOP, board=PU)
    assert found.priced is not None
    assert len(found.steps) == 25
    floor = plain_loop(found)
    assert floor() == (float(found.priced.cost), float(found.priced.gross))
    words = f"{len(found.lines)} lines: need × factor + cups, whole pieces, cents that add up, margin, tax, step"

    def again() -> Estimate:
        return estimate(RECIPE, PAINTED, SHOP, board=PU)

    bars = sensitivities(RECIPE, PAINTED, SHOP, board=PU)
    return [
        measure("25 operations", ours=again, floor=floor, floor_words=words, most=120, rounds=41, loops=5),
        measure(
            "… as a snapshot with its tree",
            ours=lambda: cost_tree(again().snapshot()),
            floor=again,
            floor_words="the estimate alone",
            most=2.5,
            rounds=21,
            loops=3,
        ),
        measure(
            f"… what moves its price: {len(bars)} figures, both ends",
            ours=lambda: sensitivities(RECIPE, PAINTED, SHOP, board=PU),
            floor=lambda: [again() for _ in range(2 * len(bars))],
            floor_words="an estimate for each end",
            most=1.5,
            rounds=3,
        ),
        measure(
            "a board with four damages, eight choices",
            ours=lambda: estimate_board(FOUR, SHOP, board=PU),
            floor=lambda: estimate_board(FOUR, SHOP, board=PU, choices=False),
            floor_words="the same board priced as one way",
            most=2,
            rounds=21,
            loops=3,
        ),
    ]


def plain_loop(found):
    """A function that prices the same lines in floats, from bare numbers in tuples."""
    rows = [
        (
            line.need, line.factor.expected(line.kind in TIME), line.mixes, line.loss, line.least, line.supply.price,
            line.whole,
            [need for _, need, _ in line.parts],
        )
        for line in found.lines
    ]  # fmt: skip
    pricing = found.pricing

    def run() -> tuple[float, float]:
        costs = []
        for need, factor, mixes, loss, least, price, whole, parts in rows:
            if parts:
                need = 0.0
                for part in parts:
                    need += part
            use = need * factor + mixes * loss
            if use < least:
                use = least
            if whole:
                use = math.ceil(use - 1e-9)
            costs.append(use * price)
        total = round(math.fsum(costs) * 100)
        left = total
        remainders = []
        shown = []
        for cost in costs:
            cents = int(cost * 100)
            shown.append(cents)
            left -= cents
            remainders.append((cents - cost * 100, len(remainders)))
        remainders.sort()
        for _, index in remainders[:left]:
            shown[index] += 1
        gross = math.fsum(costs) / (1 - pricing.percent / 100) * (1 + pricing.tax_percent / 100)
        return total / 100, math.ceil(gross / pricing.step - 1e-9) * pricing.step

    return run
