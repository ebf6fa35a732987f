"""How an amount on the shelf is said: 280 g, but 39.6 kg and not 39 600 g."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import template

from shop import units

register = template.Library()

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


@register.simple_tag(takes_context=True)
def stock(context: template.Context, value: Any, unit: str) -> str:
    """{% stock lot.quantity_left material.unit %}"""
    locale = getattr(context.get("shop"), "locale", "en")
    return spoken(value, unit, locale)


@register.filter
def in_words(name: str) -> str:
    """The name of a fact as a person says it: catalyst_low is Catalyst low."""
    return name.replace("_", " ").capitalize()
