"""One recipe of 25 operations, warm, against the plainest loop that prices the same lines."""

from __future__ import annotations

import math

from quotes.costing import STARTING_RECIPES, build_up, estimate
from tests.bench import Ratio, measure
from tests.costing.marram import PU, SHOP, TWIN_KEELS

RECIPE = STARTING_RECIPES["glass-on-twin"]
PAINTED = {**TWIN_KEELS, "paint": 1}


def ratios() -> list[Ratio]:
    """The estimate with every line, step and window; and the same as a snapshot with its whole tree opened."""
    found = estimate(RECIPE, PAINTED, SHOP, board=PU)
    assert found.priced is not None
    assert len(found.steps) == 25
    floor = plain_loop(found)
    assert floor() == (float(found.priced.cost), float(found.priced.gross))
    words = f"{len(found.lines)} lines: need × factor + cups, whole pieces, cents that add up, margin, tax, step"
    return [
        measure(
            "one recipe of 25 operations",
            ours=lambda: estimate(RECIPE, PAINTED, SHOP, board=PU),
            floor=floor,
            floor_words=words,
            most=20,
            rounds=41,
            loops=5,
        ),
        measure(
            "the same as a snapshot with its whole tree",
            ours=lambda: build_up(estimate(RECIPE, PAINTED, SHOP, board=PU).as_dict()),
            floor=floor,
            floor_words=words,
            rounds=21,
            loops=5,
        ),
    ]


def plain_loop(found):
    """A function that prices the same lines in floats, from bare numbers in tuples."""
    rows = [
        (
            line.need, line.factor.value, line.mixes, line.loss, line.least, line.supply.price, line.whole,
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
