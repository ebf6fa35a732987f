"""Recipes as rows: the starting ones loaded at set-up, a new version on every change, retired instead of deleted.

What a recipe of the house says follows the house's next version, until the shop writes a version or a draft of its own.
Invariant: a version, once written, is never changed; a quote keeps the version it was priced with.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from quotes.costing import STARTING_RECIPES
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.models import Recipe, RecipeVersion
from shop.models import Role
from shop.platform.acts import Refused, Signed, action, internal
from shop.platform.journal import record


@internal
def load_starting_recipes(*, at: datetime) -> list[Recipe]:
    """The recipes that come with the house, each as version 1; those the shop already has stay as they are."""
    have = set(Recipe.objects.values_list("key", flat=True))
    made = []
    for core in STARTING_RECIPES.values():
        if core.key in have:
            continue
        recipe = Recipe.objects.create(key=core.key, name=core.name)
        RecipeVersion.objects.create(
            recipe=recipe, number=1, body={**core.to_dict(), "version": 1}, made_at=at, by=None
        )
        made.append(recipe)
    return made


@internal
def renew_starting_recipes(*, at: datetime) -> str:
    """Brings the recipes that nobody touched to what the house says now; a sentence where one had to change.

    Each changed one gets a new version made by nobody; new ones are added. One that the shop wrote a version or a draft
    of, and one that the house no longer has, stays as it is. Done again it does nothing.
    """
    if not Recipe.objects.exists():
        return ""
    changed = [recipe.name for recipe in _untouched() if _renewed(recipe, at)]
    added = [recipe.name for recipe in load_starting_recipes(at=at)]
    said = [f"{len(changed)} of the house’s recipes have a new version: {', '.join(changed)}."] if changed else []
    said += [f"{len(added)} recipes are new: {', '.join(added)}."] if added else []
    return " ".join(said)


def _untouched() -> list[Recipe]:
    """Recipes of the house that the shop has no version and no draft of, locked."""
    written = RecipeVersion.objects.filter(by__isnull=False).values("recipe")
    rows = Recipe.objects.select_for_update(of=("self",)).filter(key__in=STARTING_RECIPES, draft=None)
    return list(rows.exclude(pk__in=written))


def _renewed(recipe: Recipe, at: datetime) -> bool:
    """Whether the house says something else than the recipe's last version; then it has a new one."""
    core, last = STARTING_RECIPES[recipe.key], recipe.current
    if same_words(last.body, core):
        return False
    number = last.number + 1
    RecipeVersion.objects.create(
        recipe=recipe, number=number, body={**core.to_dict(), "version": number}, made_at=at, by=None
    )
    recipe.name = core.name
    recipe.save(update_fields=["name"])
    words = f"Recipe {recipe.name}, version {number}: as the house has it now"
    record(by=None, verb="recipe.renew", row=recipe, words=words, at=at)
    return True


def same_words(body: Mapping[str, Any], core: CoreRecipe) -> bool:
    """Whether a stored body says what the recipe says, its number apart; one that cannot be read any more does not."""
    try:
        read = CoreRecipe.from_dict(body)
    except ValueError:
        return False
    return {**read.to_dict(), "version": 0} == {**core.to_dict(), "version": 0}


def house_moved_on(recipe: Recipe, current: RecipeVersion) -> bool:
    """Whether the house has changed its own recipe since the shop took it, and the shop's says something else."""
    core = STARTING_RECIPES.get(recipe.key)
    if core is None or same_words(current.body, core):
        return False
    taken = recipe.versions.filter(by__isnull=True).order_by("-number").first()
    return taken is not None and not same_words(taken.body, core)


@action("recipe.version", Role.KEEPER)
def save_version(
    *, recipe: Recipe, core: CoreRecipe, signed: Signed, copied_from: RecipeVersion | None = None
) -> RecipeVersion:
    """A new version of a recipe. Refused if the recipe itself has problems, or says what the last version said."""
    recipe = Recipe.objects.select_for_update().get(pk=recipe.pk)
    refuse_problems(core)
    last = recipe.versions.order_by("-number").first()
    number = last.number + 1 if last else 1
    body = {**core.to_dict(), "key": recipe.key, "version": number}
    if last and {**body, "version": last.number} == last.body:
        raise Refused("Nothing was changed, so there is no new version.")
    recipe.name = core.name
    recipe.save(update_fields=["name"])
    version = RecipeVersion.objects.create(
        recipe=recipe, number=number, body=body, made_at=signed.at, by=signed.by, copied_from=copied_from
    )
    descent(version)
    what, words = ("recipe.change", "Changed") if last else ("recipe.make", "Made")
    signed.record(recipe, f"{words} recipe {recipe.name}, version {number}", key=what)
    return version


def refuse_problems(core: CoreRecipe) -> None:
    """Raises Refused with every sentence about the recipe itself: a setting, a place, a measure, what lies on what."""
    if problems := core.problems() or core.layer_problems():
        raise Refused({"__all__": list(dict.fromkeys(problem.text for problem in problems))})


def descent(version: RecipeVersion) -> list[RecipeVersion]:
    """What a version was copied from, and that from, back to the first. Refused if the copies go round in a circle."""
    chain, seen = [], {version.pk}
    one = version.copied_from
    while one is not None:
        if one.pk in seen:
            raise Refused(
                f"{version}, field “copied from”: it goes back to {one}, which was copied from it in turn. "
                "A recipe cannot be a copy of its own copy: say it comes from none."
            )
        chain.append(one)
        seen.add(one.pk)
        one = one.copied_from
    return chain


@action("recipe.retire", Role.KEEPER)
def retire_recipe(*, recipe: Recipe, signed: Signed) -> Recipe:
    """No longer offered for new work; quotes and jobs that hold it keep it. Refused while the price list shows it."""
    recipe = Recipe.objects.select_for_update().get(pk=recipe.pk)
    if recipe.retired_at is not None:
        raise Refused(f"{recipe.name} is retired already.")
    rows = list(recipe.price_rows.all())
    if rows:
        raise Refused(
            f"The price list shows {recipe.name} as “{rows[0]}”: take that row out or give it another recipe."
        )
    recipe.retired_at = signed.at
    recipe.save(update_fields=["retired_at"])
    signed.record(recipe, f"Retired recipe {recipe.name}")
    return recipe


@action("recipe.bring_back", Role.KEEPER)
def bring_back(*, recipe: Recipe, signed: Signed) -> Recipe:
    """A retired recipe is offered again."""
    recipe = Recipe.objects.select_for_update().get(pk=recipe.pk)
    if recipe.retired_at is None:
        raise Refused(f"{recipe.name} is in use already.")
    recipe.retired_at = None
    recipe.save(update_fields=["retired_at"])
    signed.record(recipe, f"Recipe {recipe.name} is in use again")
    return recipe
