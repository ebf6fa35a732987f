"""When a window is missed: the sanding step that is then put in before the coat that came too late."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import replace

from quotes.costing.estimated import Estimate
from quotes.costing.inputs import Construction, Shop
from quotes.costing.measures import Given, read_measures
from quotes.costing.recipe import Act, Recipe
from quotes.costing.work import SPOTS
from quotes.costing.working import estimate

GRIT = "P120"


def sand_first(
    recipe: Recipe,
    measures: Mapping[str, Given | float],
    shop: Shop,
    step: int,
    *,
    board: Construction,
    accepted_odd: Collection[str] = (),
) -> Estimate:
    """One sanding step over the place of step `step` (its index in the snapshot): minutes, paper, cost.

    Where that names no place it is the one of the step before. Raises ValueError if the recipe has no such step or no
    step so far works on a place.
    """
    values, _ = read_measures(recipe.measures, measures, accepted_odd)
    done = [act for act in recipe.acts if not act.when or (act.when in values and values[act.when].value)]
    if not 1 <= step <= len(done):
        raise ValueError(f"{recipe.name} has no step {step}; it has {len(done)}.")
    found = next((act.settings for act in reversed(done[:step]) if any(name in act.settings for name in SPOTS)), None)
    if found is None:
        raise ValueError(f"Step {step} of {recipe.name} works on no place that could be sanded.")
    told, spot = found, next(found[name] for name in SPOTS if name in found)
    also = {name: told[name] for name in ("times", "sides") if name in told}
    act = Act("sand", {"place": spot, "grits": [GRIT], "title": "Sand first: the last coat no longer bonds", **also})
    return estimate(replace(recipe, acts=(act,)), measures, shop, board=board, accepted_odd=accepted_odd)
