"""What several starting recipes share: measures that are asked the same way everywhere, and the finish."""

from __future__ import annotations

from typing import Any

from quotes.costing.parts.measures import Measure
from quotes.costing.recipes.recipe import RecipeStep


def act(operation: str, *, when: str = "", **settings: Any) -> RecipeStep:
    """Step of a recipe: an operation with its settings."""
    return RecipeStep(operation, settings, when)


def length(
    name: str, label: str, low: float, high: float, hint: str = "", default: float | None = None, when: str = ""
) -> Measure:
    """Measure of a length in mm with its plausible limits."""
    return Measure(name, label, "length", low, high, hint, default, when)


def count(name: str, label: str, low: float, high: float, default: float | None, hint: str = "") -> Measure:
    """Measure of a whole number with its plausible limits."""
    return Measure(name, label, "count", low, high, hint, default)


PAINT = count("paint", "Paint", 0, 1, 0, "1 to paint and clear it, 0 to leave the glass")

CHECKED = (
    "Colour and sheen beside the old",
    "No sharp edge, no pinhole",
    "Alignment and outline",
    "Weight",
)
SUN_AND_CURE = "For a week, no hot car and no strong sun: the resin is still getting harder."
RINSE = "After each surf rinse it with fresh water; after the first look for cracks, bubbles or water at the repair."


def satin(place: str, *, times: Any = 1, sides: str = "one") -> RecipeStep:
    """Step of wet sanding to a satin: the finish of bare glass, and what paint is keyed to."""
    return act("sand", place=place, times=times, sides=sides, grits=["P400", "P600"], title="Wet sand to a satin")


def painted(place: str, *, times: Any = 1, sides: str = "one", match: str = "close") -> tuple[RecipeStep, ...]:
    """Steps of painting: mask, match, colour, knock the edges down, clear, wet sand; left out without paint."""
    where: dict[str, Any] = {"when": "paint", "place": place, "times": times}
    both = {**where, "sides": sides}
    return (
        act("mask", **where, band_mm=250),
        act("match-colour", when="paint", match=match),
        act("spray-colour", **both, coats=3),
        act("sand", **both, grits=["P800"], title="Knock the paint edges down"),
        act("spray-clear", **both),
        act("sand", **both, grits=["P800"], title="Wet sand the clear to a satin"),
    )


def finished(place: str, *, times: Any = 1, sides: str = "one", paint: bool = True) -> tuple[RecipeStep, ...]:
    """Steps of the finish: wet sand to a satin, paint where it is wanted, release."""
    return (
        satin(place, times=times, sides=sides),
        *(painted(place, times=times, sides=sides) if paint else ()),
        act("release"),
    )
