"""Entries about a row of the wall price list."""

from __future__ import annotations

from typing import Any

from django import forms

from quotes.costing import CoreRecipe
from quotes.forms.figures import MEASURE, GrownForm, measure_fields, prefixed, typed_measures
from quotes.models import PriceListRow, Recipe
from shop.forms.fields import ShedForm
from shop.forms.words import PickField, WordsField


def _repair() -> WordsField:
    return WordsField(label="Repair", most=80, width="long", hint="Rows with the same words stand together.")


def _size() -> WordsField:
    return WordsField(label="Size class", most=80, width="long", required=False, hint="Like up to 12 cm, or two.")


def _only_from() -> forms.BooleanField:
    return forms.BooleanField(label="Print “from”: only an inspection can tell", required=False)


class RowNewForm(ShedForm):
    """A new row: what it is called, and the recipe that prices it."""

    repair = _repair()
    size = _size()
    recipe = PickField(label="Priced by the recipe", choices=(), width="long")
    only_from = _only_from()

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.field("recipe", PickField).choices = list(Recipe.objects.in_use().values_list("pk", "name"))

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        return {**said, "recipe": Recipe.objects.get(pk=said["recipe"])}


class RowForm(GrownForm):
    """A row with the measures it is priced for."""

    repair = _repair()
    size = _size()
    only_from = _only_from()

    def __init__(self, *args: Any, row: PriceListRow, core: CoreRecipe, **kwargs: Any) -> None:
        initial = {"repair": row.repair, "size": row.size, "only_from": row.only_from, **prefixed(row.measures)}
        super().__init__(*args, initial=initial, **kwargs)
        self.fields |= measure_fields(core)
        self.grown()

    def entries(self) -> dict[str, Any]:
        odd = [name.removeprefix(MEASURE) for name in self.odd_accepted()]
        named = {name: self.cleaned_data[name] for name in ("repair", "size", "only_from")}
        return {**named, "measures": typed_measures(self), "accepted_odd": odd}
