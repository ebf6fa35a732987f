"""How a reckoned amount is said: rounded to what it is worth."""

from __future__ import annotations

from typing import Any

from django import template

from inventory.words import about

register = template.Library()


@register.simple_tag
def roughly(value: Any, unit: str) -> str:
    """{% roughly one.reserved material.unit %}"""
    return about(float(value), unit)
