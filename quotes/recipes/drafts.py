"""The next version of a recipe while it is being written: each change is kept at once, none counts until it is saved.

A draft may be incomplete; what is wrong with it is listed, not refused. Invariant: its body can always be read as a
recipe, and a change made on a page that is no longer up to date is refused (`turn` counts the changes).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.utils.text import slugify

from quotes.costing import STARTING_RECIPES
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.models import Recipe, RecipeDraft, RecipeVersion
from quotes.recipes.versions import refuse_problems, save_version
from shop.models import Role
from shop.platform.acts import Refused, Signed, action

Body = dict[str, Any]
TAKEN_BY_PAGES = ("new",)  # addresses that are no recipe's


@action("draft.start", Role.KEEPER)
def start_recipe(*, name: str, kinds: list[str], signed: Signed) -> RecipeDraft:
    """An empty draft of a new recipe."""
    key = free_key(name)
    core = CoreRecipe(key=key, name=name.strip(), version=1, measures=(), places={}, acts=(), kinds=tuple(kinds))
    return RecipeDraft.objects.create(key=key, body=core.to_dict(), by=signed.by, changed_at=signed.at)


@action("draft.copy", Role.KEEPER)
def copy_recipe(*, version: RecipeVersion, name: str, signed: Signed) -> RecipeDraft:
    """A draft of a new recipe that says what this version says. Refused if another recipe is called so."""
    if Recipe.objects.in_use().filter(name__iexact=name.strip()).exists():
        raise Refused(
            f"There is a recipe called {name.strip()} already: give the copy a name of its own.", field="name"
        )
    key = free_key(name)
    body = {**version.body, "key": key, "name": name.strip(), "version": 1}
    return RecipeDraft.objects.create(
        key=key, body=body, reference=version.recipe.reference, copied_from=version, by=signed.by, changed_at=signed.at
    )


@action("draft.edit", Role.KEEPER)
def edit_recipe(*, recipe: Recipe, signed: Signed, from_house: bool = False) -> RecipeDraft:
    """The draft of the recipe's next version: the one begun earlier, else one that says what the last version says.

    `from_house`: instead, one that says what the recipe of this name that comes with the house says now.
    """
    current = recipe.current
    says = STARTING_RECIPES[recipe.key].to_dict() if from_house and recipe.key in STARTING_RECIPES else current.body
    body = {**says, "version": current.number + 1}
    given = {"key": recipe.key, "body": body, "reference": recipe.reference, "by": signed.by, "changed_at": signed.at}
    return RecipeDraft.objects.get_or_create(recipe=recipe, defaults=given)[0]


@action("draft.change", Role.KEEPER)
def change_draft(
    *, draft: RecipeDraft, turn: int, signed: Signed, body: Body | None = None, reference: Body | None = None
) -> RecipeDraft:
    """The draft with another body or reference. Refused if it cannot be read, or changed since the page was opened."""
    draft = _as_seen(draft, turn)
    if body is not None:
        read(body)
        draft.body = body
    if reference is not None:
        draft.reference = reference
    draft.turn, draft.by, draft.changed_at = turn + 1, signed.by, signed.at
    draft.save()
    return draft


@action("draft.drop", Role.KEEPER)
def drop_draft(*, draft: RecipeDraft, signed: Signed) -> None:
    """Throws the draft away; the saved versions stay."""
    draft.delete()


@action("draft.save", Role.KEEPER)
def save_draft(*, draft: RecipeDraft, turn: int, signed: Signed) -> RecipeVersion:
    """The draft becomes the next version, and is gone. Refused with every sentence of what is wrong with it."""
    draft = _as_seen(draft, turn)
    core = read(draft.body)
    refuse_problems(core)
    recipe = draft.recipe or Recipe.objects.create(key=draft.key, name=core.name)
    if draft.reference != recipe.reference:
        recipe.reference = draft.reference
        recipe.save(update_fields=["reference"])
    version = save_version(recipe=recipe, core=core, signed=signed, copied_from=draft.copied_from)
    draft.delete()
    return version


def read(body: Mapping[str, Any]) -> CoreRecipe:
    """The body as the core takes it. Refused in the core's own sentence if it cannot be read."""
    try:
        return CoreRecipe.from_dict(body)
    except ValueError as wrong:
        raise Refused(str(wrong)) from None


def free_key(name: str) -> str:
    """A short name made of these words that no recipe and no draft has. Refused if they hold no letter or digit."""
    wanted = slugify(name)[:50].strip("-")
    if not wanted:
        raise Refused("The name needs at least one letter or digit.", field="name")
    taken = {
        *Recipe.objects.filter(key__startswith=wanted).values_list("key", flat=True),
        *RecipeDraft.objects.filter(key__startswith=wanted).values_list("key", flat=True),
        *TAKEN_BY_PAGES,
    }
    keys = (wanted if number == 1 else f"{wanted}-{number}" for number in range(1, len(taken) + 2))
    return next(key for key in keys if key not in taken)


def _as_seen(draft: RecipeDraft, turn: int) -> RecipeDraft:
    found = RecipeDraft.objects.select_for_update(of=("self",)).filter(pk=draft.pk).first()
    if found is None:
        raise Refused("This draft was saved or thrown away in another window: open the recipe again.")
    if found.turn != turn:
        raise Refused("This recipe was changed in another window since this page was opened: open it again.")
    return found


# Parts of a body: measures, places and operations, each a list in order. Each of these gives back a new body.


def moved(body: Body, part: str, index: int, by: int) -> Body:
    """The body with one of a part's items `by` places further down (up: −1); at an end it stays where it is."""
    items, to = list(body[part]), index + by
    if 0 <= index < len(items) and 0 <= to < len(items):
        items[index], items[to] = items[to], items[index]
    return {**body, part: items}


def without(body: Body, part: str, index: int) -> Body:
    """The body without one of a part's items."""
    return {**body, part: [item for number, item in enumerate(body[part]) if number != index]}


def put(body: Body, part: str, item: Body, index: int | None = None, *, instead: bool = False) -> Body:
    """The body with an item put in at `index` (None: at the end), or `instead` of the one there."""
    items = list(body[part])
    where = len(items) if index is None else max(0, min(index, len(items)))
    items[where : where + 1 if instead else where] = [item]
    return {**body, part: items}
