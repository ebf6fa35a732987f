"""What can hurt: shelf by shelf, one material with its data sheet, and the entries behind it."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import FileResponse, Http404, HttpResponse
from django.shortcuts import get_object_or_404
from django.shortcuts import render as show
from django.urls import reverse

from inventory.forms.safety import SafetyForm, SheetForm, StoragePlaceForm
from inventory.models import DataSheet, Material, Safety, StoragePlace
from inventory.safety import storing as safety
from inventory.safety.hazards import APART, COMES_FIRST, HAZARDS
from shop.platform.acts import EVERY_ROLE, SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent, sent_files
from shop.web.request import ShopRequest, signed


@open_to(*EVERY_ROLE)
def hazards(request: ShopRequest) -> HttpResponse:
    """Page of what is hazardous, by shelf, with what is wrong."""
    shelves = safety.everything_hazardous()
    wrong: list[Any] = [clash for shelf in shelves for clash in shelf.clashes]
    over = [(one.material, warning) for shelf in shelves for one in shelf.kept for warning in one.warnings]
    wrong += [{"material": material, "why": warning, "too_much": True} for material, warning in over]
    context = {
        "shelves": shelves,
        "wrong": wrong,
        "apart": [_said(pair) for pair in APART],
        "comes_first": COMES_FIRST,
    }
    return show(request, "inventory/hazards.html", context)


def _said(pair: Any) -> dict[str, str]:
    names = {key: hazard.name for key, hazard in HAZARDS.items()} | {"ignition": "source of ignition"}
    return {"first": names[pair.first], "second": names[pair.second].lower(), "why": pair.why, "source": pair.source}


@open_to(*EVERY_ROLE)
def data_sheet(request: ShopRequest, pk: int) -> HttpResponse:
    """How one material is kept, its data sheets, and for those who may a form to add one."""
    material = get_object_or_404(Material, pk=pk)
    form = SheetForm(sent(request), sent_files(request), shop=request.shop) if request.user.sees_money else None
    if request.method == "POST" and form is None:
        raise PermissionDenied("Data sheets are kept by the counter.")

    def act() -> str:
        assert form is not None
        file = form.cleaned_data["sheet"]
        entries = {"name": file.name, "issued_on": form.cleaned_data["issued_on"]}
        safety.keep_sheet(material=material, content=file.read(), **entries, signed=signed(request))
        return reverse("data-sheet", args=[material.pk])

    hand = safety.at_hand(material)
    context: Shown = {
        "material": material,
        "hand": hand,
        "sheets": material.data_sheets.select_related("by"),
        "comes_first": COMES_FIRST,
        "apart": [_said(pair) for pair in hand.apart],
    }
    if form is None:
        return show(request, "inventory/data_sheet.html", context)
    return form_page(request, "inventory/data_sheet.html", form, act, says="The data sheet is kept.", **context)


@open_to(*EVERY_ROLE)
def data_sheet_file(request: ShopRequest, pk: int) -> FileResponse:
    """The file itself, as it was handed over; only to those who are logged in."""
    row = get_object_or_404(DataSheet, pk=pk)
    try:
        answer = FileResponse(row.file.open("rb"), content_type="application/pdf")
    except FileNotFoundError:
        raise Http404("The file of this data sheet is not there any more.") from None
    answer["Content-Disposition"] = f'inline; filename="data-sheet-{row.pk}.pdf"'
    answer["X-Content-Type-Options"] = "nosniff"
    return answer


@act_page(
    safety.set_safety, "inventory/safety_edit.html", rows=Material, called="material",
    to=lambda kept: reverse("data-sheet", args=[kept.material_id]), says="Saved.",
)  # fmt: skip
def safety_edit(request: ShopRequest, material: Material) -> Shown:
    kept = Safety.objects.filter(material=material).first()
    form = SafetyForm(sent(request), shop=request.shop, material=material, safety=kept)
    return {"form": form, "comes_first": COMES_FIRST}


@open_to(*SEES_MONEY)
def place_edit(request: ShopRequest) -> HttpResponse:
    """One shelf by its name in the address; only shelves that something stands on."""
    name = request.GET.get("shelf", "")
    if not Material.objects.filter(shelf=name).exists():
        raise Http404("Nothing stands on such a shelf.")
    form = StoragePlaceForm(sent(request), shop=request.shop, place=StoragePlace.objects.filter(name=name).first())

    def act() -> str:
        safety.set_place(name=name, **form.entries(), signed=signed(request))
        return reverse("hazards")

    return form_page(request, "inventory/place_edit.html", form, act, says="Saved.", name=name)
