"""The shop's own figures in place of the trade's: how thick a coat, how long to rout, how much stays in a cup.

Idea: a figure of common practice, from memory, or that a data sheet replaces is the shop's to set, with a low and a
high end; the rest is published and stays. What the shop did not set follows the trade's. Sent quotes keep what they
said.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any, NamedTuple

from quotes.costing import CONSTANTS, Constant, check_own
from shop.acts import Refused, may, verb
from shop.journal import record
from shop.models import Profile, Role, User


class OwnFigure(NamedTuple):
    """A constant with what the shop works by: (value, low, high), its own or the trade's."""

    constant: Constant
    value: float
    low: float
    high: float
    own: bool


def figures_of(profile: Profile) -> list[OwnFigure]:
    """Every figure that a shop may set, in the order of the operations."""
    return [_figure(constant, profile.constants) for constant in CONSTANTS.values() if constant.adjustable]


def figure_named(profile: Profile, name: str) -> OwnFigure | None:
    """One of them, or None where there is no such figure or it is not the shop's to set."""
    constant = CONSTANTS.get(name)
    return _figure(constant, profile.constants) if constant is not None and constant.adjustable else None


def _figure(constant: Constant, own: Mapping[str, Any]) -> OwnFigure:
    found = own.get(constant.name)
    value, low, high = found or (constant.value, constant.low, constant.high)
    return OwnFigure(constant, float(value), float(low), float(high), found is not None)


@verb
def set_figure(*, name: str, value: float, low: float, high: float, by: User, at: datetime) -> OwnFigure:
    """Work by the shop's own value, with its low and high end, in the constant's unit. Raises Refused."""
    may(by, Role.KEEPER)
    try:
        check_own(name, value, low, high)
    except ValueError as wrong:
        raise Refused(str(wrong)) from None
    constant = CONSTANTS[name]
    if constant.low > 0 and low <= 0:
        raise Refused("The low end must be above zero.", field="low")
    if constant.low >= 0 and low < 0:
        raise Refused("The low end must not be below zero.", field="low")
    profile = Profile.objects.select_for_update().get()
    profile.constants = {**profile.constants, name: [value, low, high]}
    profile.save(update_fields=["constants"])
    words = f"Own figure: {constant.words} is {value:g} ({low:g} to {high:g}) {constant.unit}"
    record(by=by, verb="set figure", row=profile, words=words[:400], at=at)
    return _figure(constant, profile.constants)


@verb
def leave_figure(*, name: str, by: User, at: datetime) -> None:
    """Follow the trade's figure again. Raises Refused where the shop has none of its own."""
    may(by, Role.KEEPER)
    profile = Profile.objects.select_for_update().get()
    if name not in profile.constants:
        raise Refused("The shop follows the trade in this figure already.")
    profile.constants = {key: own for key, own in profile.constants.items() if key != name}
    profile.save(update_fields=["constants"])
    words = (
        f"Back to the trade’s figure: {CONSTANTS[name].words}" if name in CONSTANTS else f"Dropped the figure {name}"
    )
    record(by=by, verb="leave figure", row=profile, words=words[:400], at=at)
