"""Amounts as pages and sentences say them: exact ones in full, estimates rounded to three figures."""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal

from shop.measures import units

LARGER = {"g": "kg", "mL": "L"}
PLACES = {"g": 2, "mL": 2, "kg": 3, "L": 3, "m": 3, "m2": 3, "piece": 3}  # finer than what a scale or a rule tells
FROM = 10_000  # from so many of the small unit on the large one is easier to read


def spoken(value: Decimal, unit: str, locale: str = "en") -> str:
    """An amount with its unit, in the larger unit where it is large, as fine as the bench can measure it.

    The ledger keeps more; what is less than the last place shown here is said in full, never as nothing.
    """
    if unit in LARGER and abs(value) >= FROM:
        value, unit = value.scaleb(-3), LARGER[unit]
    seen = value.quantize(Decimal(1).scaleb(-PLACES.get(unit, 3)), ROUND_HALF_UP)
    value = seen if seen else value
    places = max(0, -value.normalize().as_tuple().exponent)  # type: ignore[operator]
    return units.show(value, unit, places=places, locale=locale)


def amount(quantity: Decimal, unit: str) -> str:
    """An exact amount: 28 g, 39.6 kg."""
    return spoken(quantity, unit)


def about(quantity: float, unit: str) -> str:
    """A reckoned amount, to three figures; of ten pieces or more whole ones: 3620 g, 0.74 pieces, 12 pieces."""
    if not quantity:
        return spoken(Decimal(0), unit)
    places = 2 - math.floor(math.log10(abs(quantity)))
    if unit == "piece":
        places = 0 if abs(quantity) >= 10 else min(places, 2)
    return spoken(Decimal(str(round(quantity, max(0, places) if places >= 0 else places))), unit)
