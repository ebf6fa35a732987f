"""The opening count: every material that nobody has counted yet on one page, by shelf, typed or weighed."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from decimal import Decimal
from itertools import groupby
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.models import Kind, Material
from shop.forms.fields import StockField
from shop.forms.words import PageForm
from shop.measures import units

GROSS = re.compile(r"(?P<gross>.*?)\s*\bgross\b[\s,;]*(?P<tare>.*)", re.IGNORECASE | re.DOTALL)
TARE_WORDS = re.compile(r"\b(?:less|minus|tare|empty)\b|^[-−]", re.IGNORECASE)


class ThereField(StockField):
    """How much is there: an amount, or a container on the scale, like “1.24 kg gross, 120 g tare”.

    `tare_g` is what the material's container is known to weigh empty; a tare that is typed goes before it.
    """

    tare_g: Decimal | None = None

    def read(self, text: str) -> Decimal:
        """Quantity that is there, typed plainly or as gross less tare."""
        weighed = GROSS.fullmatch(text.strip())
        if weighed is None:
            return super().read(text)
        gross, tare = self._weight(weighed["gross"]), self._tare(TARE_WORDS.sub("", weighed["tare"]).strip(" ,;"))
        if gross < tare:
            least = units.show(tare, "g")
            raise ValidationError(f"{self.name_in_sentence}: gross is at least what is empty, {least}.", code="tare")
        net = units.quantity(gross - tare, "g")
        assert self.stock_unit
        return units.to_stock(net, self.stock_unit, name=self.name_in_sentence, **self.facts)

    def _weight(self, text: str) -> Decimal:
        """In g; the point is a decimal point, as a scale shows it."""
        typed = units.read(text, dimension="mass", default_unit="g", name=self.name_in_sentence, kept=True)
        return units.canonical_exact(typed, "mass")

    def _tare(self, text: str) -> Decimal:
        if text:
            return self._weight(text)
        if self.tare_g is None:
            raise ValidationError(
                f"{self.name_in_sentence}: nobody has said what its container weighs empty; type it behind, like "
                "1.24 kg gross, 120 g tare.",
                code="tare",
            )
        return self.tare_g


class OpeningForm(PageForm):
    """How much is there of each; empty is not counted, 0 is none. Small things may be left untracked."""

    button = "That is what is there"
    all_optional = True

    def __init__(self, *args: Any, materials: Sequence[Material], tares: Mapping[int, Decimal], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.materials = list(materials)
        for one in self.materials:
            box = ThereField(label=f"{one.name}, how much is there", above_zero=False, required=False, width="short")
            box.of(one)
            box.tare_g = tares.get(one.pk)
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
            "tare_g": self.field(f"there_{one.pk}", ThereField).tare_g,
            "tick": self[tick] if tick in self.fields else None,
        }

    def clean(self) -> dict[str, Any]:
        """Entries, refused where nothing is typed or a material is both counted and left untracked."""
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
