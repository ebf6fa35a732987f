"""Usage factors: what a shop really uses over what geometry asks for.

A factor of the shop (learned or set) for an operation and a material goes before the trade's default, which is a
constant with its range and source. Expected use = need × factor + mixes × what stays in the cup, at least the smallest
mix; whole pieces are rounded up, at least one.
"""

from __future__ import annotations

import math

from quotes.costing.constants import Constant
from quotes.costing.inputs import Shop
from quotes.costing.result import Ranged

_DUST = 1e-9  # a binary crumb above a whole piece is no second piece


def factor(shop: Shop, operation: str, material: str, trade: Constant) -> Ranged:
    """The factor to use for one operation and material ("minutes" for labour)."""
    own = shop.factors.get((operation, material))
    if own is not None:
        return Ranged(own.value, own.low, own.high, own.source, own.spread)
    return trade_factor(shop, trade)


def trade_factor(shop: Shop, trade: Constant) -> Ranged:
    """The trade's default for a factor, with the shop's own figures laid over it."""
    over = shop.constants.get(trade.name)
    if over is not None:
        return Ranged(*over, "the shop's own figure")
    return Ranged(trade.value, trade.low, trade.high, trade.source)


def expected_use(need: float, factor: float, mixes: int, loss: float, least: float) -> float:
    """Need × factor + mixes × loss, at least `least`; nothing where nothing is needed. All in one unit."""
    if need <= 0:
        return 0.0
    use = need * factor + mixes * loss
    return use if use > least else least


def whole_pieces(expected: float) -> float:
    """Rounded up to whole pieces, at least one; none where none is needed."""
    return float(max(1, math.ceil(expected - _DUST))) if expected > 0 else 0.0


def in_stock_unit(value: float, unit: str, stock_unit: str, facts: dict[str, float]) -> tuple[float, str]:
    """A need in the unit its material is counted in, or 0 and the name of the fact that is missing.

    `facts`: density_kg_m3 (g and mL), areal_weight_g_m2 (m2 and g), roll_width_mm (m and m2), tex (m and g),
    and piece_g, piece_ml, piece_m, piece_m2 for what comes by the piece.
    """
    if unit == stock_unit:
        return value, ""
    step = _STEPS.get((unit, stock_unit))
    if step is not None:
        fact, scale, multiply = step
        found = facts.get(fact)
        if not found:
            return 0.0, fact
        return (value * found / scale if multiply else value * scale / found), ""
    return 0.0, f"a way from {unit} to {stock_unit}"


# (from, to) -> (fact, scale, whether to multiply)
_STEPS = {
    ("mL", "g"): ("density_kg_m3", 1000.0, True),
    ("g", "mL"): ("density_kg_m3", 1000.0, False),
    ("m2", "g"): ("areal_weight_g_m2", 1.0, True),
    ("g", "m2"): ("areal_weight_g_m2", 1.0, False),
    ("m", "m2"): ("roll_width_mm", 1000.0, True),
    ("m2", "m"): ("roll_width_mm", 1000.0, False),
    ("m", "g"): ("tex", 1000.0, True),
    ("g", "m"): ("tex", 1000.0, False),
    ("g", "piece"): ("piece_g", 1.0, False),
    ("mL", "piece"): ("piece_ml", 1.0, False),
    ("m", "piece"): ("piece_m", 1.0, False),
    ("m2", "piece"): ("piece_m2", 1.0, False),
}
