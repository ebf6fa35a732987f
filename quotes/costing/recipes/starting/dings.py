"""Open dings by where they are and how big: paste for small, foam for larger, oval patches, paint if it is wanted.

A larger kind never takes less of one and the same hole: it has all that the smaller has, and more cloth.
"""

from __future__ import annotations

from typing import Any

from quotes.costing.recipes.recipe import CoreRecipe, RecipeStep
from quotes.costing.recipes.starting.pieces import CHECKED, PAINT, RINSE, SUN_AND_CURE, act, finished, length

# size -> (words, longest, widest, deepest in mm)
_SIZES = {"small": (10, 100, 70, 15), "medium": (40, 160, 110, 30), "large": (100, 450, 300, 60)}
# where -> (words, plies by size, the measure across)
_WHERE = {"deck": "the deck", "bottom": "the bottom", "rail": "the rail", "nose": "the nose", "tail": "the tail"}
_PLIES = {
    "small": ["cloth-4oz"],
    "medium": ["cloth-4oz", "cloth-4oz"],
    "large": ["cloth-6oz", "cloth-6oz"],
}


def _ding(where: str, size: str) -> CoreRecipe:
    """Recipe of an open ding, by where it is and how big."""
    low, longest, widest, deepest = _SIZES[size]
    wrapped = where in ("rail", "nose", "tail")
    across = (
        length("around", "Round the edge", 10, widest * 1.5, "tape from the deck edge, round, to the bottom edge")
        if wrapped
        else length("width", "Width", 10, widest, "across the hole")
    )
    spot: dict[str, Any] = {"shape": "rail-wrap" if wrapped else "ellipse", "length": "length", "depth": "depth"}
    spot["around" if wrapped else "width"] = across.name
    reach = 25 + 10 * (len(_PLIES[size]) - 1)
    return CoreRecipe(
        key=f"ding-{where}-{size}",
        name=f"Open ding on {_WHERE[where]}, {size}",
        version=1,
        about=("Filler" if size == "small" else "Foam") + ", patches of cloth, hot coat, sanded to a satin.",
        kinds=("ding", "crack"),
        measures=(
            length("length", "Length", low, longest, "along the hole, to where the glass is sound"),
            across,
            length("depth", "Depth", 2, deepest, "to sound foam"),
            PAINT,
        ),
        places={
            "ding": spot,
            "patch": {"shape": "grown", "of": "ding", "by": reach},
            "coat": {"shape": "grown", "of": "ding", "by": reach + 25},
        },
        acts=(
            act("inspect", title="Rinse the salt out, inspect, check for water"),
            act("cut-back", place="ding"),
            *_filled(size),
            act("sand", place="patch", grits=["P80"], title="Abrade the patch area"),
            act("laminate", place="ding", plies=_PLIES[size]),
            act("hot-coat", place="coat"),
            act("sand", place="coat", grits=["P100", "P180", "P320"], title="Sand flush"),
            *finished("coat"),
        ),
        may_turn_up="Water in the foam, or a crack that runs on under the glass.",
        release_check=("No soft spot, no white edge", *CHECKED),
        aftercare=(SUN_AND_CURE, RINSE),
    )


def _filled(size: str) -> tuple[RecipeStep, ...]:
    if size == "small":
        return act("fill", place="ding"), act("level", place="ding")
    return act("pour-foam", place="ding", foam="foam-64", overfill=0.3), act("level", place="ding")


RECIPES = tuple(_ding(where, size) for where in _WHERE for size in _SIZES)
