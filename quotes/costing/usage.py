"""Usage factors: what a shop really uses over what geometry asks for; and the unit a need is counted and bought in.

A factor of the shop (learned or set) for an operation and a material goes before the trade's default, which is a
constant with its range and source.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from quotes.costing.constants import Constant


@dataclass(frozen=True, slots=True)
class Factor:
    """Real use over need for one operation and material, with its 5 to 95 % range.

    `spread` is the job-to-job scatter as a standard deviation of the logarithm; None leaves it to the core's default.
    Raises ValueError unless 0 < low ≤ value ≤ high.
    """

    value: float
    low: float
    high: float
    source: str
    spread: float | None = None

    def __post_init__(self) -> None:
        if not 0 < self.low <= self.value <= self.high:
            raise ValueError(
                f"A usage factor must have low ≤ value ≤ high, all above zero; "
                f"{self.low:g}, {self.value:g}, {self.high:g} are not."
            )


FACTOR_UNIT = "1"
FACT_WORDS = {
    "density_kg_m3": "density",
    "areal_weight_g_m2": "weight in g/m²",
    "roll_width_mm": "roll width",
    "free_rise_kg_m3": "free-rise density",
    "tex": "tex (grams in a kilometre)",
    "weight_g": "weight in g",
    "piece_g": "content of one piece in g",
    "piece_ml": "content of one piece in mL",
    "piece_m": "length of one piece in m",
    "piece_m2": "area of one piece in m²",
}

COUNTED = Factor(1.0, 1.0, 1.0, "counted, not estimated")


def trade_factor(trade: Constant, own: Mapping[str, tuple[float, float, float]]) -> Factor:
    """The trade's default for a factor; the shop's own (value, low, high) goes before it."""
    over = own.get(trade.name)
    if over is not None:
        return Factor(*over, "the shop's own figure")
    return Factor(trade.value, trade.low, trade.high, trade.source)


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
