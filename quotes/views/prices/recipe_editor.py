"""The recipe editor: a draft with its words, measures, places and steps, each on a page of its own beside the price.

Each page asks for the price of what stands in its boxes (as they change, or by a button) without keeping anything, and
keeps it in the draft when it is sent. Nothing counts before the draft is saved as a version.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from inventory.models import Material
from quotes import recipes as book
from quotes.costing import REGISTRY
from quotes.estimating import shop_inputs
from quotes.forms.recipes import RecipePartForm, ReferenceForm, WordsForm
from quotes.forms.steps import OPERATIONS, StepForm
from quotes.models import Recipe, RecipeDraft
from quotes.recipes.drafts import Body, moved, read, without
from quotes.views.prices.price_panel import price_panel
from quotes.views.prices.recipes import shown_parts
from shop.forms.fields import ShedForm
from shop.models import Role
from shop.platform.acts import Refused
from shop.web.access import open_to
from shop.web.page import sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled, said_or_done

PANEL = "price"  # id of the box that shows the price; htmx says it wants only that


def draft_of(key: str) -> RecipeDraft:
    return get_object_or_404(RecipeDraft.objects.select_related("recipe"), key=key)


def _turn(request: ShopRequest) -> int:
    """How many changes the draft had when this page was shown."""
    text = request.POST.get("turn", "")
    return int(text) if text.isascii() and text.isdigit() and len(text) < 9 else -1


def _panel(draft: RecipeDraft, body: Body | None = None, reference: Body | None = None) -> dict[str, Any]:
    """The price of the draft as it would be with this body and reference, beside the last version's."""
    saved = draft.recipe.current.body if draft.recipe else None
    inputs = shop_inputs(day=timezone.localdate())
    return price_panel(
        draft.key, body or draft.body, draft.reference if reference is None else reference, inputs, saved
    )


@open_to(Role.KEEPER)
def recipe_edit(request: ShopRequest, key: str) -> HttpResponse:
    """The draft as a whole. Sent from the recipe's page it begins one; its buttons move, take out, save, throw away."""
    if request.POST.get("do") in ("begin", "house"):
        row = get_object_or_404(Recipe, key=key)
        return said_or_done(request, lambda: _begun(request, row), reverse("recipe", args=[key]))
    if not RecipeDraft.objects.filter(key=key).exists() and Recipe.objects.filter(key=key).exists():
        return redirect("recipe", key=key)
    draft = draft_of(key)
    form = ShedForm(sent(request), shop=request.shop)
    if answer := filled(request, form, lambda: _done(request, draft)):
        return answer
    core = read(draft.body)
    context = {
        "draft": draft,
        "form": form,
        "problems": core.problems() or core.layer_problems(),
        "panel": _panel(draft),
        **shown_parts(core),
    }
    return render(request, "quotes/recipe_edit.html", context, status=422 if form.is_bound else 200)


def _begun(request: ShopRequest, row: Recipe) -> str:
    from_house = request.POST.get("do") == "house"
    book.edit_recipe(recipe=row, signed=signed(request), from_house=from_house)
    return reverse("recipe-edit", args=[row.key])


def _done(request: ShopRequest, draft: RecipeDraft) -> str:
    """What a button of the draft's page does; gives back where to go."""
    do, _, rest = request.POST.get("do", "").partition(" ")
    turn, who = _turn(request), signed(request)
    here = reverse("recipe-edit", args=[draft.key])
    if do == "save":
        version = book.save_draft(draft=draft, turn=turn, signed=who)
        messages.success(request, f"Saved as version {version.number}. Quotes keep the version they were priced with.")
        return reverse("recipe", args=[draft.key])
    if do == "drop":
        book.drop_draft(draft=draft, signed=who)
        messages.success(request, "The draft is thrown away.")
        return reverse("recipe", args=[draft.key]) if draft.recipe else reverse("recipes")
    part, _, number = rest.partition(" ")
    if part not in ("operations", "measures", "places") or not number.isdigit():
        raise Refused("That button is not known here: open the page again.")
    changes: dict[str, Callable[[], Body]] = {
        "up": lambda: moved(draft.body, part, int(number) - 1, -1),
        "down": lambda: moved(draft.body, part, int(number) - 1, 1),
        "out": lambda: without(draft.body, part, int(number) - 1),
    }
    if do not in changes:
        raise Refused("That button is not known here: open the page again.")
    book.change_draft(draft=draft, turn=turn, body=changes[do](), signed=who)
    return f"{here}#{part}"


def _page(
    request: ShopRequest,
    draft: RecipeDraft,
    form: Any,
    *,
    heading: str,
    changed: Callable[[], dict[str, Body]],
    back: str = "",
) -> HttpResponse:
    """One part of the draft: priced as it stands in the boxes, or kept and back to the draft.

    `changed` gives the draft's new `body` or `reference` from a valid form.
    """
    context = {"draft": draft, "form": form, "heading": heading}
    if not form.is_bound:
        return render(request, "quotes/recipe_part.html", {**context, "panel": _panel(draft)})
    only_price = request.htmx.target == PANEL
    if form.is_valid():
        new = changed()
        if only_price or request.POST.get("do") == "price":
            panel = _panel(draft, **new)
            template = "quotes/recipe_price.html" if only_price else "quotes/recipe_part.html"
            return render(request, template, {**context, "panel": panel, "asked": not only_price})

        def act() -> str:
            book.change_draft(draft=draft, turn=_turn(request), signed=signed(request), **new)
            return reverse("recipe-edit", args=[draft.key]) + back

        if answer := filled(request, form, act):
            return answer
    if only_price:
        sentences = [sentence for errors in form.errors.values() for sentence in errors]
        panel = {"key": draft.key, "problems": [{"text": sentence} for sentence in sentences]}
        return render(request, "quotes/recipe_price.html", {"panel": panel})
    return render(request, "quotes/recipe_part.html", {**context, "panel": _panel(draft)}, status=422)


@open_to(Role.KEEPER)
def recipe_words(request: ShopRequest, key: str) -> HttpResponse:
    draft = draft_of(key)
    form = WordsForm(sent(request), shop=request.shop, body=draft.body)
    return _page(request, draft, form, heading="Name and words", changed=lambda: {"body": form.changed()})


@open_to(Role.KEEPER)
def recipe_reference(request: ShopRequest, key: str) -> HttpResponse:
    draft = draft_of(key)
    core = read(draft.body)
    form = ReferenceForm(
        sent(request), shop=request.shop, core=core, reference=book.reference_of(core, draft.reference)
    )
    return _page(
        request, draft, form, heading="Reference board", changed=lambda: {"reference": form.reference().stored()}
    )


@open_to(Role.KEEPER)
def recipe_step_new(request: ShopRequest, key: str) -> HttpResponse:
    """First which operation, then its settings."""
    draft = draft_of(key)
    operation = REGISTRY.get(request.GET.get("operation", ""))
    if operation is None:
        after = _number(request.GET.get("after"), len(draft.body["operations"]))
        return render(
            request, "quotes/recipe_step_new.html", {"draft": draft, "operations": OPERATIONS, "after": after}
        )
    after = _number(request.GET.get("after"), len(draft.body["operations"]))
    form = _step_form(request, draft, operation.key, None, after)
    return part_page(
        request, draft, form, f"{operation.name}, a new step after step {after}" if after else operation.name
    )


@open_to(Role.KEEPER)
def recipe_step(request: ShopRequest, key: str, number: int) -> HttpResponse:
    draft = draft_of(key)
    acts = draft.body["operations"]
    if not 1 <= number <= len(acts) or acts[number - 1]["operation"] not in REGISTRY:
        raise Http404("no such step")
    form = _step_form(request, draft, acts[number - 1]["operation"], number - 1, None)
    return part_page(request, draft, form, f"Step {number}: {REGISTRY[acts[number - 1]['operation']].name}")


def _step_form(
    request: ShopRequest, draft: RecipeDraft, operation: str, index: int | None, after: int | None
) -> StepForm:
    rows = Material.objects.in_use().order_by("kind", "name")
    return StepForm(
        sent(request),
        shop=request.shop,
        body=draft.body,
        index=index,
        after=after,
        operation=REGISTRY[operation],
        materials=[(row.key, row.name, row.kind) for row in rows],
        figures=shop_inputs(day=timezone.localdate()).shop.figures,
    )


def _number(text: str | None, otherwise: int) -> int:
    return min(int(text), otherwise) if text and text.isascii() and text.isdigit() and len(text) < 6 else otherwise


def part_page(request: ShopRequest, draft: RecipeDraft, form: RecipePartForm, heading: str) -> HttpResponse:
    return _page(request, draft, form, heading=heading, changed=lambda: {"body": form.changed()}, back=f"#{form.part}")
