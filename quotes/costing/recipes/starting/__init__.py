"""The recipes a shop starts with, all of them data: a shop copies, changes and adds to them without code.

Their settings are this software's own choice and differ from what is usual in the trade, so that nobody takes one for
the other; each figure they leave out comes from the constants.
"""

from __future__ import annotations

from quotes.costing.recipes.recipe import CoreRecipe
from quotes.costing.recipes.starting import dings, finish, fins, structure

STARTING_RECIPES: dict[str, CoreRecipe] = {
    recipe.key: recipe for recipe in (*fins.RECIPES, *dings.RECIPES, *structure.RECIPES, *finish.RECIPES)
}

__all__ = ["STARTING_RECIPES"]
