"""What a recipe costs on its reference board: the board and the measures its price is shown for while it is written.

Without any of its own, a recipe is shown on a PU board with measures in the middle of what is plausible.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, log10, sqrt
from typing import Any

from quotes import costing
from quotes.costing import Construction, Measure
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.estimating import Inputs, estimate
from quotes.models import RecipeVersion
from shop.measures import units

USUAL_BOARD = Construction("pu", "polyester", "glass")


@dataclass(frozen=True)
class Reference:
    """A board as far as costing sees it, and every measure of a recipe as typed."""

    board: Construction
    measures: dict[str, str]

    def stored(self) -> dict[str, Any]:
        """As a recipe's row keeps it."""
        board: dict[str, Any] = {"core": self.board.core, "resin": self.board.resin, "skin": self.board.skin}
        if self.board.wet:
            board["wet"] = True
        return {"board": board, "measures": self.measures}


def reference_of(core: CoreRecipe, stored: Mapping[str, Any]) -> Reference:
    """The stored reference, with usual figures for what it leaves out; a measure the recipe lacks is dropped."""
    typed = stored.get("measures", {})
    board = Construction(**stored["board"]) if stored.get("board") else USUAL_BOARD
    return Reference(board, {m.name: typed.get(m.name) or usual(m) for m in core.measures})


def usual(measure: Measure) -> str:
    """A plausible value as one would type it: the default, else the geometric middle of the limits in two digits."""
    value = measure.default
    if value is None:
        value = max(1.0, measure.low) if measure.dimension == "count" else _middle(measure.low, measure.high)
    return f"{value:g}" if measure.dimension == "count" else f"{value:g} {units.symbol(measure.unit)}"


def _middle(low: float, high: float) -> float:
    value = sqrt(low * high) if low > 0 else (low + high) / 2
    return round(value, 1 - floor(log10(value))) if value else 0.0


def on_reference(body: Mapping[str, Any], stored: Mapping[str, Any], inputs: Inputs) -> costing.Estimate:
    """A recipe's body worked out on its reference, with the shop's prices; what is missing is in its `problems`.

    Raises Refused with a sentence per measure of the reference that cannot be read.
    """
    version = RecipeVersion(body=body)
    core = CoreRecipe.from_dict(body)
    reference = reference_of(core, stored)
    return estimate(
        version=version,
        measures=reference.measures,
        day=inputs.day,
        board=reference.board,
        inputs=inputs,
        accepted_odd=list(reference.measures),
    )
