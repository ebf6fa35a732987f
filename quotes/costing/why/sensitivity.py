"""One-at-a-time sensitivity of a price: each figure it hangs on at the low and the high end of its range.

Usage factors, the trade's figures and the shop's own are tried, all others as they are; the price is the one before
minimum and price step, so that small movements show. Invariant: at its own value a figure moves nothing.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any

from quotes.costing.basis.constants import CONSTANTS, Constant
from quotes.costing.job.damage import estimate
from quotes.costing.operations import REGISTRY
from quotes.costing.parts.inputs import Construction, Shop
from quotes.costing.parts.measures import Given
from quotes.costing.parts.usage import FACTOR_UNIT, POOLED, UsageFactor
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.costing.stats.assumptions import MINUTES
from quotes.costing.stats.normal import quantile


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """A figure in its `unit`, and the price (as the customer sees it, not stepped) at both ends of its range."""

    name: str
    words: str
    unit: str
    low: float
    value: float
    high: float
    source: str
    price_at_low: float
    price_at_high: float

    @property
    def span(self) -> float:
        """Difference of the price over the range, in currency."""
        return abs(self.price_at_high - self.price_at_low)

    def as_dict(self) -> dict[str, Any]:
        """Sensitivity as plain data, with its span."""
        return {name: getattr(self, name) for name in self.__slots__} | {"span": self.span}


def sensitivities(
    recipe: CoreRecipe,
    measures: Mapping[str, Given | float],
    shop: Shop,
    *,
    board: Construction,
    accepted_odd: Collection[str] = (),
) -> list[Sensitivity]:
    """Sensitivities of a price to every figure it hangs on, the strongest first; empty while there are problems.

    Measures come in canonical units (mm, cm², mL, g, min, °C).
    """
    plain = replace(shop.pricing, step=0.0, minimum=0.0)

    def price_with(changed: Shop) -> float:
        found = estimate(recipe, measures, changed, board=board, accepted_odd=accepted_odd)
        return float(found.priced.shown) if found.priced else float("nan")

    shop = replace(shop, pricing=plain)
    watched = _Watched(**{one.name: getattr(shop, one.name) for one in fields(shop)})
    if estimate(recipe, measures, watched, board=board, accepted_odd=accepted_odd).problems:
        return []
    movers = []
    for name in sorted(watched.asked):
        constant = CONSTANTS[name]
        value, low, high = shop.constants.get(name, (constant.value, constant.low, constant.high))
        if low < high:
            ends = [price_with(shop.varied(name, end)) for end in (low, high)]
            source = constant.source if name not in shop.constants else "the shop's own figure"
            movers.append(Sensitivity(name, constant.words, constant.unit, low, value, high, source, *ends))
    for key, own in shop.factors.items():
        if key in shop.learned:
            continue
        ends = [price_with(_with_factor(shop, key, end)) for end in (own.low, own.high)]
        movers.append(Sensitivity(" ".join(key), f"{_used(shop, key)}, over what is planned", FACTOR_UNIT, own.low, own.value, own.high,
                            own.source, *ends))  # fmt: skip
    for key, learned in shop.learned.items():
        wide = math.exp(quantile(0.95) * learned.sd)
        low, high = learned.used / wide, learned.used * wide
        ends = [price_with(_with_learned(shop, key, end)) for end in (low, high)]
        movers.append(Sensitivity(" ".join(key), f"{_used(shop, key)}, as a multiple of the trade’s", FACTOR_UNIT, low, learned.used,
                            high, learned.words, *ends))  # fmt: skip
    return sorted((one for one in movers if one.span > 0), key=lambda one: -one.span)


def _used(shop: Shop, key: tuple[str, str]) -> str:
    """Words for what a factor multiplies: minutes or a material of an operation, or of the whole job."""
    operation, material = key
    known = shop.materials.get(material)
    what = "minutes of hands" if material == MINUTES else known.name if known else material
    if operation == POOLED:
        return f"{what} over the whole job"
    return f"{what} at “{REGISTRY[operation].name if operation in REGISTRY else operation}”"


class _Watched(Shop):
    """A shop that notes which of its figures are asked for: what is never asked for moves nothing."""

    @cached_property
    def asked(self) -> set[str]:
        """Names of the figures asked for so far."""
        return set()

    @cached_property
    def figures(self) -> dict[str, float]:
        """Figures of the shop, each noted when it is read."""
        return _Noting(super().figures, self.asked)

    def factor(self, operation: str, material: str, trade: Constant, taught_as: str = "") -> UsageFactor:
        """Usage factor as of any shop, noted: it is a figure too."""
        self.asked.add(trade.name)
        return super().factor(operation, material, trade, taught_as)


class _Noting(dict[str, float]):
    """Figures by name that note in `names` which of them are read."""

    def __init__(self, figures: Mapping[str, float], names: set[str]) -> None:
        super().__init__(figures)
        self.names = names

    def __getitem__(self, name: str) -> float:
        self.names.add(name)
        return super().__getitem__(name)


def _with_factor(shop: Shop, key: tuple[str, str], value: float) -> Shop:
    return replace(shop, factors={**shop.factors, key: shop.factors[key].moved(value)})


def _with_learned(shop: Shop, key: tuple[str, str], used: float) -> Shop:
    return replace(shop, learned={**shop.learned, key: shop.learned[key]._replace(used=used)})
