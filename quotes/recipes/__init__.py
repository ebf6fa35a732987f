"""Recipes of the shop: versions on rows, drafts of the next one, their price on a reference board, and their words."""

from quotes.recipes.drafts import change_draft, copy_recipe, drop_draft, edit_recipe, save_draft, start_recipe
from quotes.recipes.reference import Reference, on_reference, reference_of
from quotes.recipes.versions import (
    bring_back,
    descent,
    house_moved_on,
    load_starting_recipes,
    renew_starting_recipes,
    retire_recipe,
    save_version,
)

__all__ = [
    "Reference",
    "bring_back",
    "change_draft",
    "copy_recipe",
    "descent",
    "drop_draft",
    "edit_recipe",
    "house_moved_on",
    "load_starting_recipes",
    "on_reference",
    "reference_of",
    "renew_starting_recipes",
    "retire_recipe",
    "save_draft",
    "save_version",
    "start_recipe",
]
