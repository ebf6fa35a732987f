"""The shop's own figures in place of the trade's: how thick a coat, how long to rout, how much stays in a cup.

Idea: a figure of common practice, from memory, or that a data sheet replaces is the shop's to set, with a low and a
high end; the rest is published and stays. What the shop did not set follows the trade's. Sent quotes keep what they
said.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from quotes.costing import CALIBRATED, CONSTANTS, Constant, check_own
from quotes.costing.steps.sessions import RESIN_BOARDS
from quotes.costing.steps.work import MINUTES
from shop.models import Profile, Role
from shop.platform.acts import Refused, Signed, action


class OwnFigure(NamedTuple):
    """A constant with what the shop works by: (value, low, high), its own or the trade's."""

    constant: Constant
    value: float
    low: float
    high: float
    own: bool


SPEED, SESSIONS, WAITS = "Speed: minutes of hands", "Sessions: boards together", "Waits and warmth"
COATS, SMALL = "Coats, cloth and mixes", "Wear, waste and small things"
GROUPS = (SPEED, SESSIONS, WAITS, COATS, SMALL)
_TIMES = ("h", "day", "degC")
_MIXES = ("percent", "kg/m3", "g", "g/m2", "mL", "mm", "µm", "g/100 g", "1/mL", "mL/100 cm2")
_TOGETHER = ("session", "further")
_WORN = ("cartridge_", "dust_bag_")


def group_of(constant: Constant) -> str:
    """The group of GROUPS a figure is looked for in, by what it is about and what it is counted in."""
    name, unit = constant.name, constant.unit
    if any(word in name for word in _TOGETHER):
        return SESSIONS
    if name.startswith(_WORN):
        return SMALL
    if unit in _TIMES or name.startswith(("gel_minutes", "foam_cream", "foam_between", "fill_between")):
        return WAITS
    if unit.startswith("min") or name.endswith("minutes_factor"):
        return SPEED
    if unit in _MIXES or (unit == "1" and name.endswith(("_share", "_solids", "_to_glass"))):
        return COATS
    return SMALL


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


@action("figure.set", Role.KEEPER)
def set_figure(*, name: str, value: float, low: float, high: float, signed: Signed) -> OwnFigure:
    """Work by the shop's own value, with its low and high end, in the constant's unit. Raises Refused."""
    constant = _checked(name, value, low, high)
    if constant.low > 0 and low <= 0:
        raise Refused("The low end must be above zero.", field="low")
    if constant.low >= 0 and low < 0:
        raise Refused("The low end must not be below zero.", field="low")
    profile = Profile.objects.select_for_update().get()
    profile.constants = {**profile.constants, name: [value, low, high]}
    profile.save(update_fields=["constants"])
    words = f"Own figure: {constant.words} is {value:g} ({low:g} to {high:g}) {constant.unit}"
    signed.record(profile, words[:400])
    return _figure(constant, profile.constants)


def _checked(name: str, value: float, low: float, high: float) -> Constant:
    """The constant of a figure that may be the shop's. Raises Refused for one that may not."""
    try:
        check_own(name, value, low, high)
    except ValueError as wrong:
        raise Refused(str(wrong)) from None
    return CONSTANTS[name]


@action("own_work.set", Role.KEEPER)
def set_calibration(*, figures: Mapping[str, tuple[float, float, float]], signed: Signed) -> None:
    """Work by what came of the shop's own times and prices: its minutes and its boards together, in one act.

    `figures`: (value, low, high) by name, as `costing.calibrate` gives them. Raises Refused for any other name.
    """
    if set(figures) != CALIBRATED:
        raise Refused("These are not the figures of how fast a shop is and how many boards it does together.")
    for name, figure in figures.items():
        _checked(name, *figure)
    profile = Profile.objects.select_for_update().get()
    profile.constants = {**profile.constants, **{name: list(figure) for name, figure in figures.items()}}
    profile.save(update_fields=["constants"])
    speed, boards = figures[MINUTES.name][0], figures[RESIN_BOARDS.name][0]
    words = f"Own work: {speed:g} × the trade’s minutes, {boards:g} boards together in a session with resin"
    signed.record(profile, words, details={"figures": dict(figures)})


@action("own_work.leave", Role.KEEPER)
def leave_calibration(*, signed: Signed) -> None:
    """Follow the trade again in minutes and in boards together. Raises Refused where the shop does already."""
    profile = Profile.objects.select_for_update().get()
    if not CALIBRATED & set(profile.constants):
        raise Refused("The shop follows the trade in its minutes and in boards together already.")
    profile.constants = {name: own for name, own in profile.constants.items() if name not in CALIBRATED}
    profile.save(update_fields=["constants"])
    words = "Back to the trade’s figures: minutes, and boards together in a session"
    signed.record(profile, words)


def is_calibrated(profile: Profile) -> bool:
    """Whether the shop has figures of its own for its minutes or its boards together."""
    return bool(CALIBRATED & set(profile.constants))


@action("figure.leave", Role.KEEPER)
def leave_figure(*, name: str, signed: Signed) -> None:
    """Follow the trade's figure again. Raises Refused where the shop has none of its own."""
    profile = Profile.objects.select_for_update().get()
    if name not in profile.constants:
        raise Refused("The shop follows the trade in this figure already.")
    profile.constants = {key: own for key, own in profile.constants.items() if key != name}
    profile.save(update_fields=["constants"])
    words = (
        f"Back to the trade’s figure: {CONSTANTS[name].words}" if name in CONSTANTS else f"Dropped the figure {name}"
    )
    signed.record(profile, words[:400])
