"""Recipes as rows: the starting ones loaded at set-up, new versions on every change, retired instead of deleted.

Invariant: a version, once written, is never changed; a quote keeps the version it was priced with.
"""

from __future__ import annotations

from datetime import datetime

from quotes.costing import STARTING_RECIPES
from quotes.costing.recipe import Recipe as CoreRecipe
from quotes.models import Recipe, RecipeVersion
from shop.acts import Refused, may, verb
from shop.journal import record
from shop.models import Role, User


@verb
def load_starting_recipes(*, at: datetime) -> list[Recipe]:
    """The recipes that come with the house, each as version 1; those the shop already has stay as they are."""
    have = set(Recipe.objects.values_list("key", flat=True))
    made = []
    for core in STARTING_RECIPES.values():
        if core.key in have:
            continue
        recipe = Recipe.objects.create(key=core.key, name=core.name)
        RecipeVersion.objects.create(recipe=recipe, number=1, body=core.to_dict(), made_at=at, by=None)
        made.append(recipe)
    return made


@verb
def save_version(*, recipe: Recipe, core: CoreRecipe, by: User, at: datetime) -> RecipeVersion:
    """A new version of a recipe. Refused if the recipe itself has problems, or says what the last version said."""
    may(by, Role.KEEPER)
    recipe = Recipe.objects.select_for_update().get(pk=recipe.pk)
    if problems := core.problems():
        raise Refused(problems[0].text)
    last = recipe.current
    number = last.number + 1
    body = {**core.to_dict(), "key": recipe.key, "version": number}
    if {**body, "version": last.number} == last.body:
        raise Refused("Nothing was changed, so there is no new version.")
    recipe.name = core.name
    recipe.save(update_fields=["name"])
    version = RecipeVersion.objects.create(recipe=recipe, number=number, body=body, made_at=at, by=by)
    record(by=by, verb="change recipe", row=recipe, words=f"Changed recipe {recipe.name}, now version {number}", at=at)
    return version
