"""What can hurt, said wherever a material is handled."""

from __future__ import annotations

from typing import Any

from django import template

from inventory.models import Material
from inventory.safety.hazards import COMES_FIRST
from inventory.safety.storing import at_hand

register = template.Library()


@register.inclusion_tag("inventory/parts/safety.html")
def safety(material: Material) -> dict[str, Any]:
    """{% safety material %}: its classes, limit, clashes and data sheet; three queries."""
    return {"material": material, "hand": at_hand(material), "comes_first": COMES_FIRST}
