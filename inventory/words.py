"""Amounts as sentences say them: exact ones in full, reckoned ones rounded to what they are worth."""

from __future__ import annotations

import math
from decimal import Decimal

from inventory.templatetags.shelf import spoken


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
