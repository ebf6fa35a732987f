"""One sheet of prices: for each material its usual pack and what that costs, saved together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.catalogue.materials import SaidPrice
from inventory.catalogue.packs import pack_content
from inventory.models import Material, Pack
from shop.forms.fields import MoneyFormField
from shop.forms.words import PageForm, WordsField
from shop.measures import units
from shop.models import Profile


@dataclass(frozen=True)
class SheetRow:
    """A material whose price nobody has said, with the pack that is known or guessed."""

    material: Material
    pack: Pack | None = None

    @property
    def words(self) -> str:
        """The pack in words, as the sheet offers it; "" where none is known."""
        return self.pack.words if self.pack else self.material.guess_words

    @property
    def content(self) -> Decimal | None:
        """What the offered pack holds, in the material's unit."""
        return self.pack.content if self.pack else self.material.guess_content

    @property
    def guess(self) -> Decimal | None:
        """What the offered pack is guessed to cost; None where there is no guess for this pack."""
        return None if self.pack and self.pack.content != self.material.guess_content else self.material.guess_price


class PriceSheetForm(PageForm):
    """A pack and a price for each material; what is left empty stays as it is."""

    supplier = WordsField(
        label="Bought from", most=120, required=False, width="long", hint="For all you typed. Empty: not said yet."
    )
    button = "Keep these prices"
    all_optional = True
    shop: Profile

    def __init__(self, *args: Any, rows: Sequence[SheetRow], **kwargs: Any) -> None:
        shop = kwargs["shop"]
        super().__init__(*args, **kwargs)
        self.rows = list(rows)
        for row in self.rows:
            pk, name = row.material.pk, row.material.name
            self.fields[f"pack_{pk}"] = WordsField(
                label=f"Pack of {name}", most=80, required=False, width="short", initial=row.words
            )
            self.fields[f"price_{pk}"] = MoneyFormField(
                label=f"Price of {name}", required=False, currency=shop.currency, width="short"
            )

    def boxes(self, row: SheetRow) -> list[forms.BoundField]:
        """The box for the pack and the one for its price."""
        return [self[f"pack_{row.material.pk}"], self[f"price_{row.material.pk}"]]

    def clean(self) -> dict[str, Any]:
        """Entries of all rows, refused where nothing is typed."""
        entries = super().clean() or self.cleaned_data
        for row in self.rows:
            self._read(row, entries)
        if not self.errors and not self.said():
            self.add_error(None, "Nothing was typed: type what a pack costs beside at least one material.")
        return entries

    def _read(self, row: SheetRow, entries: dict[str, Any]) -> None:
        """Puts what the typed pack holds beside it; a sentence where it cannot be read, or a price has no pack."""
        box = f"pack_{row.material.pk}"
        words, price = entries.get(box), entries.get(f"price_{row.material.pk}")
        if words is None:
            return
        if not words and price is not None:
            self.add_error(box, f"Pack of {row.material.name} is empty; say what this price is for, like 5 kg tin.")
        if not words:
            return
        if words == row.words and row.content:
            entries[f"content_{row.material.pk}"] = row.content
            return
        try:
            entries[f"content_{row.material.pk}"] = pack_content(
                words, row.material.unit, **row.material.unit_facts(), volume_system=self.shop.volume_system,
                goods=row.material.name, name=f"Pack of {row.material.name}",
            )  # fmt: skip
        except units.UnitError as problem:
            self.add_error(box, ValidationError(problem.sentence, code="unreadable"))

    def said(self) -> list[SaidPrice]:
        """What was typed: each price with its pack, and each pack that is not the one that was offered."""
        found = []
        for row in self.rows:
            pk = row.material.pk
            words, price = self.cleaned_data.get(f"pack_{pk}", ""), self.cleaned_data.get(f"price_{pk}")
            if words and (price is not None or words != row.words):
                found.append(SaidPrice(row.material, words, self.cleaned_data[f"content_{pk}"], price))
        return found
