"""The measures and places of a recipe that is being edited."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.shortcuts import render

from quotes.forms.recipes import SHAPE_WORDS, MeasureForm, PlaceForm
from quotes.views.prices.recipe_editor import draft_of, part_page
from shop.models import Role
from shop.web.access import open_to
from shop.web.page import sent
from shop.web.request import ShopRequest


@open_to(Role.KEEPER)
def recipe_measure_new(request: ShopRequest, key: str) -> HttpResponse:
    draft = draft_of(key)
    return part_page(request, draft, MeasureForm(sent(request), shop=request.shop, body=draft.body), "A new measure")


@open_to(Role.KEEPER)
def recipe_measure(request: ShopRequest, key: str, number: int) -> HttpResponse:
    draft = draft_of(key)
    if not 1 <= number <= len(draft.body["measures"]):
        raise Http404("no such measure")
    form = MeasureForm(sent(request), shop=request.shop, body=draft.body, index=number - 1)
    return part_page(request, draft, form, draft.body["measures"][number - 1]["label"])


@open_to(Role.KEEPER)
def recipe_place_new(request: ShopRequest, key: str) -> HttpResponse:
    """First which shape, then its sizes."""
    draft = draft_of(key)
    shape = request.GET.get("shape", "")
    if shape not in SHAPE_WORDS:
        return render(request, "quotes/recipe_place_new.html", {"draft": draft, "shapes": SHAPE_WORDS.items()})
    form = PlaceForm(sent(request), shop=request.shop, body=draft.body, shape=shape)
    return part_page(request, draft, form, f"A new place: {SHAPE_WORDS[shape].partition(':')[0].lower()}")


@open_to(Role.KEEPER)
def recipe_place(request: ShopRequest, key: str, number: int) -> HttpResponse:
    draft = draft_of(key)
    names = [place["name"] for place in draft.body["places"]]
    if not 1 <= number <= len(names):
        raise Http404("no such place")
    form = PlaceForm(sent(request), shop=request.shop, body=draft.body, index=number - 1)
    return part_page(request, draft, form, f"Place: {names[number - 1].replace('_', ' ')}")
