"""The store's amounts and names of facts, as its pages show them."""

from __future__ import annotations

from typing import Any

from django import template

from inventory.formats import about, spoken

register = template.Library()


@register.simple_tag(takes_context=True)
def stock(context: template.Context, value: Any, unit: str) -> str:
    """{% stock lot.quantity_left material.unit %}"""
    locale = getattr(context.get("shop"), "locale", "en")
    return spoken(value, unit, locale)


@register.filter
def in_words(name: str) -> str:
    """The name of a fact as a person says it: catalyst_low is Catalyst low."""
    return name.replace("_", " ").capitalize()


@register.simple_tag
def roughly(value: Any, unit: str) -> str:
    """{% roughly one.reserved material.unit %}"""
    return about(float(value), unit)
