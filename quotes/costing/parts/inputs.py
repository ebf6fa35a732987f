"""What a shop hands to the core: its materials and their prices, its rates, its own figures, and the board.

All of it is frozen and already read: numbers are floats in the canonical units (mm, cm², mL, g, count, °C, min),
prices are per stock unit, without tax, at what it costs to buy again.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

from quotes.costing.basis.constants import CONSTANTS, Constant, laid_over
from quotes.costing.learning.rework import ReworkRate
from quotes.costing.parts.result import LineKind, Supply
from quotes.costing.parts.usage import Learned, UsageFactor, learned_of, trade_factor, with_learned
from quotes.costing.snapshot import Problem, Remedy

StockUnit = Literal["g", "mL", "m", "m2", "piece"]
OWN_FACTS = ("density_kg_m3", "areal_weight_g_m2", "roll_width_mm", "free_rise_kg_m3")


@dataclass(frozen=True, slots=True)
class Price:
    """Cost in currency of buying one stock unit again, without tax; `source` names pack, supplier and date.

    `guess` where nobody has said the price and one stands in.
    """

    value: float
    source: str
    guess: bool = False


@dataclass(frozen=True, slots=True)
class CoreMaterial:
    """A material the bench uses up, with the physical facts that turn one way of measuring it into another.

    `facts` by name: tex (g/km of a roving), solids (volume share of a paint), ratio_by_weight (g of hardener to 100 g
    of resin), ratio_a and ratio_b (parts by weight of pour foam), piece_g, piece_ml, piece_m, piece_m2 (what one piece
    holds), length_mm, width_mm, depth_mm, diameter_mm (size of a box or plug), catalyst_low and catalyst_high (per
    cent, the resin's data sheet), floor_c (lowest working temperature, °C). `kind` is what the store calls it: resin,
    hardener, additive, foam, paint, solvent; "" where that is not known.
    """

    key: str
    name: str
    unit: StockUnit
    price: Price | None = None
    density_kg_m3: float | None = None
    areal_weight_g_m2: float | None = None
    roll_width_mm: float | None = None
    free_rise_kg_m3: float | None = None
    facts: Mapping[str, float] = field(default_factory=dict)
    hazard: str = ""
    retired: bool = False
    kind: str = ""

    @property
    def known(self) -> dict[str, float]:
        """Facts by name, each in its unit, also those with a field of their own; what is not known is left out."""
        own = {name: getattr(self, name) for name in OWN_FACTS}
        return {**self.facts, **{name: value for name, value in own.items() if value}}


@dataclass(frozen=True, slots=True)
class Construction:
    """Construction of a board, and whether water is in it.

    Unknown is treated as the one that is easiest to spoil: EPS foam, epoxy skin. Under a moulded sandwich skin and a
    soft one lies foam as easily spoiled as EPS, whatever the core (common practice, no source).
    """

    core: Literal["pu", "eps", "xps", "wood", "hollow", "unknown"] = "unknown"
    resin: Literal["polyester", "epoxy", "unknown"] = "unknown"
    skin: Literal["glass", "carbon", "sandwich", "soft"] = "glass"
    wet: bool = False

    @property
    def soft_foam(self) -> bool:
        """Whether heat, styrene and solvents spoil what lies under its glass: EPS, XPS, not known, or such a skin."""
        return self.core in ("eps", "xps", "unknown") or self.skin in ("sandwich", "soft")


@dataclass(frozen=True, slots=True)
class Pricing:
    """Rules by which a cost becomes a price.

    `percent` is a margin on the price or a markup on the cost, as `method` says. Minimum and price step are in prices
    as the customer sees them. Rush and discount are per cent of this one job. `price_by_hand`, as shown to the
    customer.
    """

    method: Literal["margin", "markup"] = "margin"
    percent: float = 25.0
    minimum: float = 0.0
    step: float = 0.0
    tax_percent: float = 0.0
    includes_tax: bool = True
    discount_percent: float = 0.0
    rush_percent: float = 0.0
    currency: str = "EUR"
    decimals: int = 2


@dataclass(frozen=True)
class Shop:
    """The shop as an estimate sees it. Missing materials become problems in the result, never a crash.

    `constants` maps a constant's name to (value, low, high); `factors` maps (operation, material key or "minutes") to a
    usage factor; `learned` maps the same to what the shop's history makes of it, `losses` a material to what it makes
    of a cup's loss, `bases` a constant's name to its value when that was learned, and `experience` says which state of
    learning that is. `again` says how often an operation is done again, where prices are to carry it. Wage and overhead
    are per hands-on hour, without tax. `hours_per_day` are hands-on hours on a working day. `alone` is a job worked by
    itself (a rush): no other board bears a part of its set-ups. `elsewhere` holds figures by name that are tried
    elsewhere in their range; see `varied`. Raises ValueError on first use if `constants` names a figure that is not the
    shop's to set.
    """

    materials: Mapping[str, CoreMaterial]
    wage_per_hour: float
    overhead_per_hour: float = 0.0
    wage_source: str = "the shop's wage rate"
    overhead_source: str = "the shop's overhead rate"
    temperature_c: float = 20.0
    hours_per_day: float = 5.0
    pricing: Pricing = Pricing()
    constants: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    factors: Mapping[tuple[str, str], UsageFactor] = field(default_factory=dict)
    learned: Mapping[tuple[str, str], Learned] = field(default_factory=dict)
    losses: Mapping[str, float] = field(default_factory=dict)
    bases: Mapping[str, float] = field(default_factory=dict)
    again: Mapping[str, ReworkRate] = field(default_factory=dict)
    experience: Mapping[str, Any] | None = None
    alone: bool = False
    elsewhere: Mapping[str, float] = field(default_factory=dict)

    @cached_property
    def problems(self) -> list[Problem]:
        """Problems with the shop's own figures and rates, before any recipe."""
        found = []
        try:
            _ = self.figures
        except ValueError as wrong:
            found.append(Problem("", "constants", str(wrong), Remedy("shop", "constants")))
        for name, value in (("wage_per_hour", self.wage_per_hour), ("overhead_per_hour", self.overhead_per_hour)):
            if not 0 <= value < math.inf:
                words = name.replace("_", " ")
                found.append(
                    Problem("", name, f"The {words} must be zero or more; it is {value}.", Remedy("shop", name))
                )
        if self.hours_per_day <= 0:
            found.append(
                Problem(
                    "",
                    "hours_per_day",
                    "A working day needs hands-on hours above zero.",
                    Remedy("shop", "hours_per_day"),
                )
            )
        if self.pricing.method == "margin" and self.pricing.percent >= 100:
            text = f"A margin on the price must be below 100 %; it is {self.pricing.percent:g} %."
            found.append(Problem("", "margin", text, Remedy("shop", "margin")))
        return found

    @cached_property
    def figures(self) -> dict[str, float]:
        """Values of all constants by name, each in its own unit, the shop's laid over the core's."""
        return {**laid_over(self.constants), **self.elsewhere}

    def varied(self, name: str, value: float) -> Shop:
        """Shop with one figure elsewhere in its range, in the figure's own unit, to see what hangs on it."""
        return replace(self, elsewhere={name: value})

    @cached_property
    def hours(self) -> tuple[tuple[LineKind, Supply], ...]:
        """Rates of a hands-on minute: the wage, and the overhead that rides on it."""
        wage, overhead = self.wage_per_hour / 60.0, self.overhead_per_hour / 60.0
        return (
            ("labour", Supply(None, "Hands-on time", "min", 1.0, wage, self.wage_source)),
            ("overhead", Supply(None, "Overhead", "min", 1.0, overhead, self.overhead_source)),
        )

    @cached_property
    def own_defaults(self) -> dict[str, UsageFactor]:
        """Defaults of the usage factors that the shop set itself, by the constant's name."""
        return {name: UsageFactor(*own, "the shop's own figure", name=name) for name, own in self.constants.items()
                if CONSTANTS[name].low > 0}  # fmt: skip

    def factor(self, operation: str, material: str, trade: Constant, taught_as: str = "") -> UsageFactor:
        """Usage factor of an operation for a material, or for its "minutes"; what was learned goes on top.

        `taught_as` names what the learning calls the operation, where several share the material. What was learned
        stays where it is while the trade's figure under it is `elsewhere`.
        """
        own = self.factors.get((operation, material))
        default = self.own_defaults.get(trade.name) or trade_factor(trade)
        learned = learned_of(self.learned, taught_as or operation, material)
        if learned is not None:
            met = self.bases.get(trade.name) if own is None else None
            return with_learned(own or default, learned, met)
        if own is not None:
            return own
        held = self.elsewhere.get(trade.name, 0.0)
        return default.moved(held) if held > 0 else default
