"""Entries about a whole delivery, and about a supplier's price list."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.buying.orders import MOST_PACKS
from inventory.models import Delivery, Pack, Supplier
from inventory.receiving.deliveries import DeliveryLine, noted_before, without_tax
from shop.countries.tax import profile
from shop.forms.fields import MoneyFormField, ReadField
from shop.forms.words import DayField, PageForm, PickField, WholeField, WordsField
from shop.measures import numerals
from shop.measures.money import minor_digits
from shop.models import Profile, TaxRate
from shop.text.formats import day_year

LIST_MOST_BYTES = 2_000_000


class RateField(ReadField):
    """What one unit of a foreign currency costs in the shop's. Cleans to a Decimal above zero, to six places."""

    def read(self, text: str) -> Decimal:
        """Rate of exchange, a number above zero."""
        meanings = numerals.readings(numerals.tidy(text) or "", point_may_group=False)
        if len(meanings) == 1 and 0 < meanings[0] < 1_000_000:
            rate = round(Decimal(meanings[0].numerator) / Decimal(meanings[0].denominator), 6)
            if rate:
                return rate
        raise ValidationError(f"{self.label} must be a number above zero, like 1.17.", code="unreadable")


class NumberTick(forms.CheckboxInput):
    """A box whose tick says a number: what stood beside it when it was ticked counts, whatever has changed since."""

    def __init__(self, many: int) -> None:
        super().__init__(attrs={"value": many})

    def format_value(self, value: Any) -> None:
        """Its own number stands in it, ticked or not."""

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """Value that was ticked, as it was sent."""
        return data.get(name)


class DeliveryForm(PageForm):
    """One row for each pack that is on order or was found: whether it came as ordered, or how many came.

    What they cost and until when they keep, where it is not as usual. `ordered` says how many of a pack, by its key,
    are on order; `typed` is what a form that is only looked at again already held.
    """

    BOXES = {"count": "How many", "price": "Price of all", "use_by": "Use by"}
    FOLDED = ("received_on", "tax", "keep_prices", "duty", "discount", "spread_by", "currency", "rate")
    shop: Profile
    note = WordsField(label="Delivery note", most=60, required=False, width="middle")
    received_on = DayField(label="Received on")
    tax = PickField(label="Tax in the prices", choices=())
    keep_prices = forms.BooleanField(label="Packs cost this from now on", required=False, initial=True)
    freight = MoneyFormField(label="Freight", required=False, width="short")
    duty = MoneyFormField(label="Duty, not given back", required=False, width="short")
    discount = MoneyFormField(label="Discount on all of it", required=False, width="short")
    spread_by = PickField(
        label="Shared over what came by", choices=[("value", "what it cost"), ("weight", "what it weighs")], radios=True
    )
    currency = WordsField(label="Currency of the purchase", most=3, width="tiny")
    rate = RateField(label="One of it costs, in the shop’s currency", initial="1", width="short")

    def __init__(
        self, *args: Any, supplier: Supplier, packs: Sequence[Pack], ordered: Mapping[int, int], today: date,
        typed: Mapping[str, Any], **kwargs: Any,
    ) -> None:  # fmt: skip
        shop = kwargs["shop"]
        kwargs["initial"] = {
            "received_on": today, "tax": "none", "keep_prices": True, "spread_by": "value", "currency": shop.currency,
            "rate": "1", **typed,
        }  # fmt: skip
        super().__init__(*args, **kwargs)
        self.supplier, self.packs = supplier, packs
        for pack in packs:
            self._ask_for(pack, ordered.get(pack.pk, 0))
        self.rates = self._offer_taxes(today)

    def _ask_for(self, pack: Pack, ordered: int) -> None:
        name = f"{pack.words} of {pack.material.name}"
        if ordered:
            self.fields[f"came_{pack.pk}"] = WholeField(
                label=f"Came as ordered: {name}", low=1, high=MOST_PACKS, required=False, widget=NumberTick(ordered)
            )
        self.fields[f"count_{pack.pk}"] = WholeField(
            label=f"How many: {name}", low=1, high=999, required=False, width="tiny"
        )
        self.fields[f"price_{pack.pk}"] = MoneyFormField(
            label=f"Price of all: {name}", required=False, currency=self.shop.currency, width="short"
        )
        self.fields[f"use_by_{pack.pk}"] = DayField(label=f"Use by: {name}", required=False)

    def _offer_taxes(self, today: date) -> dict[str, Decimal]:
        tax = profile(self.shop.tax_profile)
        rates = TaxRate.objects.on(today).filter(percent__gt=0).order_by("percent") if tax.registered else ()
        found = {str(rate.pk): rate.percent for rate in rates}
        self.field("tax", PickField).choices = [
            ("none", f"Without {tax.tax_word or 'tax'}"),
            *((key, f"With {percent.normalize():f} % {tax.tax_word}") for key, percent in found.items()),
        ]
        return found

    def on_order(self) -> list[dict[str, Any]]:
        """Each pack that is on order with its tick, how many, and its boxes, as the page lays them out."""
        return [row for row in self._rows() if row["tick"]]

    def found(self) -> list[dict[str, Any]]:
        """Each pack that is not on order: what was searched for, and what was typed of it before."""
        return [row for row in self._rows() if not row["tick"]]

    def _rows(self) -> list[dict[str, Any]]:
        return [self._row(pack) for pack in self.packs]

    def _row(self, pack: Pack) -> dict[str, Any]:
        count, *others = (self._box(box, pack) for box in self.BOXES)
        tick = self[f"came_{pack.pk}"] if f"came_{pack.pk}" in self.fields else None
        boxes = [count, *others] if tick else others
        return {
            "pack": pack,
            "tick": tick,
            "many": tick and tick.field.widget.attrs["value"],
            "count": count,
            "boxes": boxes,
            "open": pack.price is None or any(box.errors or box.value() for box in boxes),
        }

    def _box(self, box: str, pack: Pack) -> forms.BoundField:
        bound = self[f"{box}_{pack.pk}"]
        bound.short = self.BOXES[box]  # type: ignore[attr-defined] # for the template alone
        return bound

    def folded(self) -> list[forms.BoundField]:
        """What is the same in most deliveries."""
        return [self[name] for name in self.FOLDED]

    @property
    def unfolded(self) -> bool:
        """Whether something of that is wrong."""
        return any(name in self.errors for name in self.FOLDED)

    def clean_currency(self) -> str:
        """Code of the currency, refused where ISO 4217 does not know it."""
        code: str = self.cleaned_data["currency"].strip().upper()
        try:
            minor_digits(code)
        except ValueError:
            raise ValidationError("Currency must be the three letters of one, like EUR.", code="unknown") from None
        return code

    def clean(self) -> dict[str, Any]:
        """Entries, each row with what came and what it cost."""
        entries = super().clean() or self.cleaned_data
        if self.errors:
            return entries
        for pack in self.packs:
            self._check_row(pack, entries)
        if entries["currency"] == self.shop.currency and entries["rate"] != 1:
            self.add_error("rate", f"One {self.shop.currency} is 1 {self.shop.currency}; name the other currency.")
        before = noted_before(supplier=self.supplier, note=entries["note"].strip())
        if before:
            self.ask_about(
                "note",
                f"Delivery note {entries['note']} was entered before, on {day_year(before)}. Tick the box if this is "
                "the rest of it.",
            )
        return entries

    def _check_row(self, pack: Pack, entries: dict[str, Any]) -> None:
        price, use_by = (entries[f"{box}_{pack.pk}"] for box in ("price", "use_by"))
        count = self._count(pack)
        if count is None and (price is not None or use_by is not None):
            self.add_error(f"count_{pack.pk}", f"{pack.words} of {pack.material.name}: how many came is empty.")
        if count is not None and price is None and pack.price is None:
            self.add_error(f"price_{pack.pk}", f"{pack.words} of {pack.material.name}: no price is known; type it.")
        if use_by is not None and use_by < entries["received_on"]:
            self.add_error(f"use_by_{pack.pk}", "Use by must not lie before the day it was received.")

    def _count(self, pack: Pack) -> int | None:
        """How many came: what was typed goes before what was ordered; None where nothing of it came."""
        typed: int | None = self.cleaned_data[f"count_{pack.pk}"]
        return self.cleaned_data.get(f"came_{pack.pk}") if typed is None else typed

    def lines(self) -> list[DeliveryLine]:
        """What came; a price that was left empty is the list's, which is in the shop's currency."""
        entries = self.cleaned_data
        percent = self.rates.get(entries["tax"], Decimal(0))
        lines = []
        for pack in self.packs:
            count, price = self._count(pack), entries[f"price_{pack.pk}"]
            if count is None:
                continue
            if price is None:
                assert pack.price is not None, "asked for where the list has none"
                cost = pack.price.price * count / entries["rate"]
            else:
                cost = without_tax(price, percent)
            lines.append(DeliveryLine(pack, count, cost, entries[f"use_by_{pack.pk}"]))
        return lines

    def delivery(self) -> Delivery:
        """The delivery as entered, not saved."""
        entries = self.cleaned_data
        costs = {name: entries[name] or Decimal(0) for name in ("freight", "duty", "discount")}
        return Delivery(
            supplier=self.supplier,
            note=entries["note"].strip(),
            received_on=entries["received_on"],
            currency=entries["currency"],
            rate=entries["rate"],
            spread_by=entries["spread_by"],
            **costs,
        )
