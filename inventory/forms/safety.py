"""Entries about what can hurt: how a material is kept, its data sheet, and what is true of a shelf."""

from __future__ import annotations

from typing import Any

from django import forms

from inventory.models import Material, Safety, StoragePlace
from inventory.safety.hazards import HAZARDS
from shop.forms.fields import MeasureField, StockField
from shop.forms.words import DayField, PageForm


class SafetyForm(PageForm):
    """Form of what a material is as a hazard, and how much of it is kept at most."""

    classes = forms.MultipleChoiceField(
        label="What it is", choices=[(key, hazard.name) for key, hazard in HAZARDS.items()],
        widget=forms.CheckboxSelectMultiple, required=False, help_text="As its data sheet says, section 2.",
    )  # fmt: skip
    keep_at_most = StockField(label="Keep at most", required=False, width="short")
    keep_below_c = MeasureField(
        dimension="temperature", unit="degC", label="Keep below", required=False, allow_negative=True, example="25 °C",
        low=-30, high=60, hint="As its data sheet says, section 7.",
    )  # fmt: skip
    layout = ("classes", "keep_at_most", "keep_below_c")

    def __init__(self, *args: Any, material: Material, safety: Safety | None, **kwargs: Any) -> None:
        safety = safety or Safety()
        kwargs["initial"] = {
            "classes": safety.classes,
            "keep_at_most": _shown(safety.keep_at_most),
            "keep_below_c": _shown(safety.keep_below_c),
        }
        super().__init__(*args, **kwargs)
        quantity = self.field("keep_at_most", StockField)
        quantity.of(material)
        quantity.help_text = "Your own limit, or that of your insurer or local rules. Empty: none."


def _shown(number: Any) -> str:
    return "" if number is None else f"{number.normalize():f}"


class SheetForm(PageForm):
    """Form that takes a data sheet as PDF."""

    sheet = forms.FileField(
        label="Data sheet as PDF", widget=forms.ClearableFileInput({"accept": "application/pdf"}),
        error_messages={"required": "No file is chosen; choose the data sheet as PDF.", "empty": "This file is empty."},
    )  # fmt: skip
    issued_on = DayField(label="Date on the sheet", required=False)
    button = "Keep it"
    layout = ("sheet", "issued_on")


class StoragePlaceForm(PageForm):
    """Form of a shelf: sources of ignition and the warmest it gets."""

    ignition = forms.BooleanField(
        label="A source of ignition is here or near", required=False,
        help_text="A heater, a charger, a grinder, a pilot flame, a switch that sparks.",
    )  # fmt: skip
    warmest_c = MeasureField(
        dimension="temperature", unit="degC", label="How warm it gets", required=False, example="28 °C", low=-20,
        high=60, allow_negative=True, hint="On the hottest day. Empty: not measured.",
    )  # fmt: skip
    layout = ("ignition", "warmest_c")

    def __init__(self, *args: Any, place: StoragePlace | None, **kwargs: Any) -> None:
        place = place or StoragePlace()
        kwargs["initial"] = {"ignition": place.ignition, "warmest_c": _shown(place.warmest_c)}
        super().__init__(*args, **kwargs)
