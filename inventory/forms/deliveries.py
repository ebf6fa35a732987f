"""Entries about a whole delivery, and about a supplier's price list."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.deliveries import Line, noted_before, without_tax
from inventory.models import Delivery, Pack, Supplier
from shop import numerals
from shop.forms.fields import MoneyFormField, ReadField
from shop.forms.words import DayField, PageForm, PickField, WholeField, WordsField
from shop.models import TaxRate
from shop.money import minor_digits
from shop.tables import NotATable, as_text
from shop.tax import profile
from shop.templatetags.look import day_year

LIST_MOST_BYTES = 2_000_000


class RateField(ReadField):
    """What one unit of a foreign currency costs in the shop's. Cleans to a Decimal above zero, to six places."""

    def read(self, text: str) -> Decimal:
        meanings = numerals.readings(numerals.tidy(text) or "", point_may_group=False)
        if len(meanings) == 1 and 0 < meanings[0] < 1_000_000:
            rate = round(Decimal(meanings[0].numerator) / Decimal(meanings[0].denominator), 6)
            if rate:
                return rate
        raise ValidationError(f"{self.label} must be a number above zero, like 1.17.", code="unreadable")


class DeliveryForm(PageForm):
    """One row for each pack that the supplier sells to the shop.

    How many came, what they cost, until when they keep.
    """

    BOXES = {"count": "How many", "price": "Price of all", "use_by": "Use by"}
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

    def __init__(self, *args: Any, supplier: Supplier, packs: list[Pack], today: date, **kwargs: Any) -> None:
        shop = kwargs["shop"]
        kwargs["initial"] = {
            "received_on": today, "tax": "none", "keep_prices": True, "spread_by": "value", "currency": shop.currency,
            "rate": "1",
        }  # fmt: skip
        super().__init__(*args, **kwargs)
        self.supplier, self.packs = supplier, packs
        for pack in packs:
            name = f"{pack.words} of {pack.material.name}"
            self.fields[f"count_{pack.pk}"] = WholeField(
                label=f"How many: {name}", low=1, high=999, required=False, width="tiny"
            )
            self.fields[f"price_{pack.pk}"] = MoneyFormField(
                label=f"Price of all: {name}", required=False, currency=shop.currency, width="short"
            )
            self.fields[f"use_by_{pack.pk}"] = DayField(label=f"Use by: {name}", required=False)
        self.rates = self._offer_taxes(today)

    def _offer_taxes(self, today: date) -> dict[str, Decimal]:
        tax = profile(self.shop.tax_profile)
        rates = TaxRate.objects.on(today).filter(percent__gt=0).order_by("percent") if tax.registered else ()
        found = {str(rate.pk): rate.percent for rate in rates}
        self.fields["tax"].choices = [
            ("none", f"Without {tax.tax_word or 'tax'}"),
            *((key, f"With {percent.normalize():f} % {tax.tax_word}") for key, percent in found.items()),
        ]
        return found

    def rows(self) -> list[dict[str, Any]]:
        """Each pack with its three boxes and their short labels, as the page lays them out."""
        return [{"pack": pack, "boxes": [self._box(box, pack) for box in self.BOXES]} for pack in self.packs]

    def _box(self, box: str, pack: Pack) -> forms.BoundField:
        bound = self[f"{box}_{pack.pk}"]
        bound.short = self.BOXES[box]
        return bound

    def clean_currency(self) -> str:
        code = self.cleaned_data["currency"].strip().upper()
        try:
            minor_digits(code)
        except ValueError:
            raise ValidationError("Currency must be the three letters of one, like EUR.", code="unknown") from None
        return code

    def clean(self) -> dict[str, Any]:
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
        count, price, use_by = (entries[f"{box}_{pack.pk}"] for box in ("count", "price", "use_by"))
        if count is None and (price is not None or use_by is not None):
            self.add_error(f"count_{pack.pk}", f"{pack.words} of {pack.material.name}: how many came is empty.")
        if count is not None and price is None and pack.price is None:
            self.add_error(f"price_{pack.pk}", f"{pack.words} of {pack.material.name}: no price is known; type it.")
        if use_by is not None and use_by < entries["received_on"]:
            self.add_error(f"use_by_{pack.pk}", "Use by must not lie before the day it was received.")

    def lines(self) -> list[Line]:
        """What came; a price that was left empty is the list's, which is in the shop's currency."""
        entries = self.cleaned_data
        percent = self.rates.get(entries["tax"], Decimal(0))
        lines = []
        for pack in self.packs:
            count, price = entries[f"count_{pack.pk}"], entries[f"price_{pack.pk}"]
            if count is None:
                continue
            cost = pack.price.price * count / entries["rate"] if price is None else without_tax(price, percent)
            lines.append(Line(pack, count, cost, entries[f"use_by_{pack.pk}"]))
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


class PriceListForm(PageForm):
    file = forms.FileField(
        label="Price list",
        help_text="A CSV file with a column headed article and one headed price, without tax; a third one headed name helps to guess.",
        widget=forms.ClearableFileInput({"accept": ".csv,text/csv,text/plain"}),
        error_messages={"required": "Price list is empty; choose a CSV file.", "empty": "The file is empty."},
    )
    from_day = DayField(label="Prices from")
    button = "Look at it"
    layout = ("file", "from_day")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"from_day": today}
        super().__init__(*args, **kwargs)

    def clean_file(self) -> Any:
        file = self.cleaned_data["file"]
        if file.size > LIST_MOST_BYTES:
            raise ValidationError("The file is larger than 2 MB; a price list is not. Save only the columns needed.")
        try:
            self.text = as_text(file.read())
        except NotATable as problem:
            raise ValidationError(problem.sentence) from None
        return file
