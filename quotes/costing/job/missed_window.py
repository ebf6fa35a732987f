"""When a window is missed: the sanding step that is then put in before the coat that came too late."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from quotes.costing.job.board import BoardEstimate, CoreDamage, estimate_board
from quotes.costing.parts.inputs import Construction, Shop
from quotes.costing.parts.measures import read_measures
from quotes.costing.recipes.recipe import CoreRecipe, RecipeStep
from quotes.costing.steps.work import SPOTS

GRIT = "P120"


def sand_first(late: Sequence[tuple[CoreDamage, int]], shop: Shop, *, board: Construction) -> BoardEstimate:
    """Sanding step over the places of a late step: of each damage it serves, with the number of its own step there.

    Where that names no place it is the one of the step before. Raises ValueError if a recipe has no such step or if no
    step of any of them so far works on a place.
    """
    sanded = [(damage, _sanding(damage, step)) for damage, step in late]
    found = [replace(damage, recipe=recipe, optional=False) for damage, recipe in sanded if recipe is not None]
    if not found:
        (damage, step), *_ = late
        raise ValueError(f"Step {step} of {damage.recipe.name} works on no place that could be sanded.")
    return estimate_board(found, shop, board=board, choices=False)


def _sanding(damage: CoreDamage, step: int) -> CoreRecipe | None:
    """Recipe of just that sanding; None where nothing so far works on a place.

    Raises ValueError if the recipe has no step of that number.
    """
    recipe = damage.recipe
    values, _ = read_measures(recipe.measures, damage.measures, damage.accepted_odd)
    done = [act for act in recipe.acts if not act.when or (act.when in values and values[act.when].value)]
    if not 1 <= step <= len(done):
        raise ValueError(f"{recipe.name} has no step {step}; it has {len(done)}.")
    told = next((act.settings for act in reversed(done[:step]) if any(name in act.settings for name in SPOTS)), None)
    if told is None:
        return None
    spot = next(told[name] for name in SPOTS if name in told)
    also = {name: told[name] for name in ("times", "sides") if name in told}
    act = RecipeStep(
        "sand", {"place": spot, "grits": [GRIT], "title": "Sand first: the last coat no longer bonds", **also}
    )
    return replace(recipe, acts=(act,))
