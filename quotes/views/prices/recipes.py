"""The shop's recipes: the list, one recipe with its price on the reference board, its versions; copy and retire."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from inventory.models import Material
from quotes import recipes as book
from quotes.costing import CoreRecipe
from quotes.estimating import Inputs, core_recipe, shop_inputs
from quotes.forms.recipes import NameForm, NewForm
from quotes.models import Damage, Recipe, RecipeDraft, RecipeVersion, WayPart
from quotes.recipes import words
from quotes.views.prices.price_panel import price_panel
from shop.forms.fields import ShedForm
from shop.models import Role
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for

KINDS = dict(Damage.Kind.choices)


@open_to(Role.KEEPER)
def recipes(request: ShopRequest) -> HttpResponse:
    """Every recipe with what it costs on its reference board; drafts first, retired ones last."""
    inputs = shop_inputs(day=timezone.localdate())
    q = asked_for(request)
    versions = list(RecipeVersion.objects.current())
    found = [version for version in versions if _holds(version, q)]
    drafts = RecipeDraft.objects.select_related("recipe")
    context = {
        "q": q,
        "count": len(versions),
        "found": len(found),
        "groups": _grouped([_row(version, inputs) for version in found]),
        "drafts": drafts,
        "retired": Recipe.objects.filter(retired_at__isnull=False),
    }
    return render(request, "quotes/recipes.html", context)


def _grouped(rows: list[dict[str, Any]]) -> list[tuple[str, list[dict[str, Any]]]]:
    """Recipes under the first damage they mend, in the order they come."""
    groups: dict[str, list[dict[str, Any]]] = {}
    for row in rows:
        groups.setdefault(row["kinds"].partition(",")[0] or "no kind of damage", []).append(row)
    return list(groups.items())


def _holds(version: RecipeVersion, words: str) -> bool:
    """Whether a recipe's name, what it is or what it mends holds every word."""
    said = f"{version.recipe.name} {version.body.get('about', '')} {_kinds(version.body.get('kinds', ()))}".casefold()
    return all(word in said for word in words.casefold().split())


def _row(version: RecipeVersion, inputs: Inputs) -> dict[str, Any]:
    made = book.on_reference(version.body, version.recipe.reference, inputs)
    return {
        "recipe": version.recipe,
        "kinds": _kinds(version.body.get("kinds", ())),
        "price": made.priced.gross if made.priced else None,
        "missing": len({problem.text for problem in made.problems}),
        "minutes": made.minutes,
    }


def _kinds(kinds: Any) -> str:
    return ", ".join(KINDS.get(kind, kind) for kind in kinds)


@open_to(Role.KEEPER)
def recipe(request: ShopRequest, key: str) -> HttpResponse:
    row = get_object_or_404(Recipe, key=key)
    return _shown(request, row, row.current, current=True)


@open_to(Role.KEEPER)
def recipe_version(request: ShopRequest, key: str, number: int) -> HttpResponse:
    """An older version as it was, at today's prices."""
    row = get_object_or_404(Recipe, key=key)
    return _shown(request, row, get_object_or_404(row.versions, number=number), current=False)


def _shown(request: ShopRequest, row: Recipe, version: RecipeVersion, *, current: bool) -> HttpResponse:
    core = core_recipe(version)
    context = {
        "recipe": row,
        "version": version,
        "current": current,
        "draft": RecipeDraft.objects.filter(recipe=row).first(),
        "origin": next(iter(book.descent(version)), None),
        "house_moved_on": current and book.house_moved_on(row, version),
        "panel": price_panel(row.key, version.body, row.reference, shop_inputs(day=timezone.localdate())),
        **shown_parts(core),
    }
    return render(request, "quotes/recipe.html", context)


def shown_parts(core: CoreRecipe) -> dict[str, Any]:
    """A recipe's parts in words, as its page and its editor list them."""
    materials = dict(Material.objects.values_list("key", "name"))
    return {
        "core": core,
        "kinds": _kinds(core.kinds),
        "steps": [
            {"name": words.act_name(act), "settings": words.act_settings(act, core, materials)} for act in core.acts
        ],
        "measures": [{"measure": m, "words": words.measure_words(m)} for m in core.measures],
        "places": [
            {"name": name.replace("_", " "), "words": words.place_words(spec, core)}
            for name, spec in core.places.items()
        ],
    }


def _to_draft(draft: RecipeDraft) -> str:
    return reverse("recipe-edit", args=[draft.key])


@act_page(book.start_recipe, "quotes/recipe_new.html", to=_to_draft)
def recipe_new(request: ShopRequest) -> Shown:
    return {"form": NewForm(sent(request), shop=request.shop)}


@open_to(Role.KEEPER)
def recipe_copy(request: ShopRequest, key: str) -> HttpResponse:
    """A draft of a new recipe that begins as this one."""
    row = get_object_or_404(Recipe, key=key)
    form = NameForm(sent(request), shop=request.shop, initial={"name": f"{row.name}, ours"})

    def act() -> str:
        return _to_draft(book.copy_recipe(version=row.current, **form.entries(), signed=signed(request)))

    return form_page(request, "quotes/recipe_copy.html", form, act, recipe=row)


@open_to(Role.KEEPER)
def recipe_retire(request: ShopRequest, key: str) -> HttpResponse:
    """Asks, then takes the recipe out of use, or back into it."""
    row = get_object_or_404(Recipe, key=key)
    back = row.retired_at is not None
    form = ShedForm(sent(request), shop=request.shop)

    def act() -> str:
        verb = book.bring_back if back else book.retire_recipe
        verb(recipe=row, signed=signed(request))
        messages.success(request, f"{row.name} is in use again." if back else f"{row.name} is retired.")
        return reverse("recipe", args=[row.key])

    held = WayPart.objects.filter(recipe_version__recipe=row).values("way__board__quote").distinct().count()
    return form_page(request, "quotes/recipe_retire.html", form, act, recipe=row, back=back, held=held)


@open_to(Role.KEEPER)
def recipe_versions(request: ShopRequest, key: str) -> HttpResponse:
    """Every version with what changed in it, the newest first."""
    row = get_object_or_404(Recipe, key=key)
    versions = list(row.versions.select_related("by", "copied_from__recipe").order_by("-number"))
    materials = dict(Material.objects.values_list("key", "name"))
    listed = [
        {
            "version": version,
            "changes": words.what_changed(before.body, version.body, materials) if before else [],
        }
        for version, before in zip(versions, [*versions[1:], None], strict=True)
    ]
    return render(request, "quotes/recipe_versions.html", {"recipe": row, "listed": listed})
