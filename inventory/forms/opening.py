"""The opening count: every material that nobody has counted yet on one page, by shelf, typed or weighed."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from itertools import groupby
from typing import Any

from django import forms

from inventory.models import Kind, Material
from shop.forms.fields import StockField
from shop.forms.words import PageForm


class OpeningForm(PageForm):
    """How much is there of each; empty is not counted, 0 is none. Small things may be left untracked."""

    button = "That is what is there"
    all_optional = True

    def __init__(self, *args: Any, materials: Sequence[Material], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.materials = list(materials)
        for one in self.materials:
            box = StockField(label=f"{one.name}, how much is there", above_zero=False, required=False, width="short")
            box.of(one)
            if self.shop:
                box.volume_system = self.shop.volume_system
            self.fields[f"there_{one.pk}"] = box
            if one.kind == Kind.SUNDRY:
                label = f"Do not track {one.name[0].lower()}{one.name[1:]}"
                self.fields[f"untracked_{one.pk}"] = forms.BooleanField(label=label, required=False)

    def shelves(self) -> list[tuple[str, list[dict[str, Any]]]]:
        """The boxes of each shelf, as the page lays them out."""
        return [
            (shelf or "No shelf", [self._row(one) for one in rows])
            for shelf, rows in groupby(self.materials, lambda one: one.shelf)
        ]

    def _row(self, one: Material) -> dict[str, Any]:
        tick = f"untracked_{one.pk}"
        return {
            "material": one,
            "box": self[f"there_{one.pk}"],
            "tick": self[tick] if tick in self.fields else None,
        }

    def clean(self) -> dict[str, Any]:
        entries = super().clean() or self.cleaned_data
        for one in self.untracked():
            if entries.get(f"there_{one.pk}") is not None:
                self.add_error(f"there_{one.pk}", f"{one.name}: either say how much is there, or do not track it.")
        if not self.errors and not self.there() and not self.untracked():
            self.add_error(None, "Nothing was typed: type how much is there of one material at least; 0 is none.")
        return entries

    def there(self) -> dict[Material, Decimal]:
        """What was typed, in each material's unit."""
        found = {one: self.cleaned_data.get(f"there_{one.pk}") for one in self.materials}
        return {one: amount for one, amount in found.items() if amount is not None}

    def untracked(self) -> list[Material]:
        """What is not to be tracked from now on."""
        return [one for one in self.materials if self.cleaned_data.get(f"untracked_{one.pk}")]
