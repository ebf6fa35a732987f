"""Entries that move stock: a delivery, a use, a loss, and the answer to a question."""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy
from datetime import date
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Fieldset, Row
from django import forms

from inventory.models import Lot, Material, Origin, Pack, Supplier
from inventory.receiving.deliveries import area_of, entered_before, price_of_packs, without_tax
from shop.countries.tax import profile
from shop.forms.fields import MeasureField, MoneyFormField, StockField
from shop.forms.words import DayField, Laid, PageForm, PickField, WholeField, WordsField
from shop.measures import units
from shop.models import TaxRate
from shop.text.formats import day_year


class AmountForm(PageForm):
    """A form that asks for an amount of one material. What there is nothing to ask about is taken out."""

    quantity = StockField(label="How much", width="short")

    def __init__(self, *args: Any, material: Material, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.material = material
        quantity = self.field("quantity", StockField)
        quantity.of(material)

    def leave_out(self, *names: str) -> None:
        """Take fields out, and out of the layout."""
        for name in names:
            del self.fields[name]
        self.layout = self._laid_without(names, deepcopy(self.layout))

    def _laid_without(self, names: Iterable[str], parts: Iterable[Laid]) -> tuple[Laid, ...]:
        kept = tuple(part for part in parts if part not in names)
        for part in kept:
            if not isinstance(part, str):
                part.fields = list(self._laid_without(names, part.fields))
        return kept


class FromLotForm(AmountForm):
    """An amount out of one lot, or out of them as usual."""

    AS_USUAL = "usual"
    lot = PickField(label="From which lot", choices=(), initial=AS_USUAL, width="long")

    def __init__(self, *args: Any, lots: list[Lot], today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.lots = {str(lot.pk): lot for lot in lots}
        if len(lots) > 1:
            words = ((key, lot_words(lot, self.material, today)) for key, lot in self.lots.items())
            self.field("lot", PickField).choices = [(self.AS_USUAL, "As usual: what goes off first"), *words]
        else:
            self.leave_out("lot")

    @property
    def picked(self) -> Lot | None:
        """Lot that was picked; None for the usual order of issue."""
        return self.lots.get(self.cleaned_data.get("lot") or "")


def lot_words(lot: Lot, material: Material, today: date) -> str:
    """A lot in one line: what is left, when it came, until when it is good."""
    parts = [units.show(lot.quantity_left, material.unit), f"received {day_year(lot.received_on)}"]
    if lot.good_until:
        parts.append(f"{'out of date since' if lot.out_of_date(today) else 'good until'} {day_year(lot.good_until)}")
    return ", ".join(parts)


class StockUseForm(FromLotForm):
    """Form of a use that belongs to no job."""

    reason = WordsField(label="What for", most=200, required=False, hint="Use for a job is entered on the job’s step.")
    button = "Book the use"
    layout = ("quantity", "lot", "reason")

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        return {"quantity": said["quantity"], "lot": self.picked, "reason": said["reason"].strip()}


class WriteOffForm(FromLotForm):
    """Form of what is written off, and why."""

    WHY = ("gelled in the pot", "out of date", "spilt", "spoiled")
    why = PickField(
        label="What happened", choices=[(word, word.capitalize()) for word in WHY], radios=True, required=False
    )
    reason = WordsField(label="Or in your words", most=200, required=False)
    button = "Write it off"
    layout = ("quantity", "lot", "why", "reason")

    def clean(self) -> dict[str, Any]:
        """Entries, refused without a reason."""
        entries = super().clean() or self.cleaned_data
        if "why" in entries and "reason" in entries and not (entries["why"] or entries["reason"].strip()):
            self.add_error("why", "What happened is empty; pick one, or say it in your words.")
        return entries

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        reason = ": ".join(filter(None, [said["why"], said["reason"].strip()]))  # as picked, as written, or both
        return {"quantity": said["quantity"], "lot": self.picked, "reason": reason}


class ReceiveForm(AmountForm):
    """Form of what came in of one material."""

    LOOSE = "loose"
    pack = PickField(label="What came", choices=(), radios=True)
    count = WholeField(label="How many of them", low=1, high=999, width="tiny")
    length = MeasureField(label="Length of an offcut", dimension="length", unit="mm", required=False, above_zero=True)
    width = MeasureField(label="Width of an offcut", dimension="length", unit="mm", required=False, above_zero=True)
    price = MoneyFormField(label="What all of it cost", required=False, width="short")
    tax = PickField(label="Tax in that price", choices=())
    keep_price = forms.BooleanField(label="Packs cost this from now on", required=False)
    origin = PickField(
        label="Where it is from", radios=True,
        choices=[(kind, kind.label.capitalize()) for kind in (Origin.BOUGHT, Origin.RECLAIMED, Origin.GIFT)],
    )  # fmt: skip
    supplier = PickField(label="Supplier", choices=(), required=False, hint="Empty: the pack’s.")
    delivery_note = WordsField(label="Delivery note", most=60, required=False, width="middle")
    brand = WordsField(label="Brand, batch", most=80, required=False, width="middle")
    received_on = DayField(label="Received on")
    use_by = DayField(label="Use by", required=False)
    button = "Put it on the shelf"
    layout = (
        "pack", "count", "quantity", Row("price", "tax"), "keep_price", Row("use_by", "received_on"),
        Fieldset("Where it is from", "origin", "supplier", Row("delivery_note", "brand")),
    )  # fmt: skip

    def __init__(self, *args: Any, packs: list[Pack], today: date, **kwargs: Any) -> None:
        usual = next((pack for pack in packs if pack.preferred), packs[0] if packs else None)
        first = {"pack": str(usual.pk) if usual else self.LOOSE, "count": "1", "origin": "bought", "tax": "none"}
        kwargs["initial"] = {**first, "keep_price": True, "received_on": today}
        super().__init__(*args, **kwargs)
        self.packs = {str(pack.pk): pack for pack in packs}
        self.suppliers = {str(supplier.pk): supplier for supplier in Supplier.objects.all()}
        self.field("supplier", PickField).choices = [
            ("", "–"),
            *((key, one.name) for key, one in self.suppliers.items()),
        ]
        self._offer_packs()
        self.fields["quantity"].required = not self.packs and self.material.unit != "m2"
        if self.material.unit != "m2":
            self.leave_out("length", "width")
        self._offer_taxes(today)
        if self.material.shelf_life_days is not None:
            self.fields["use_by"].help_text = f"Empty: {self.material.shelf_life_days} days from receipt."

    def _offer_packs(self) -> None:
        quantity = self.fields["quantity"]
        if self.packs:
            packs = ((key, str(pack)) for key, pack in self.packs.items())
            self.field("pack", PickField).choices = [*packs, (self.LOOSE, "Something else; I type how much")]
            quantity.label = "How much, if something else"
            self.fields["price"].help_text = "Empty: the price of the packs on the list."
        else:
            self.leave_out("pack", "count", "keep_price")

    def _offer_taxes(self, today: date) -> None:
        if self.shop is None or not profile(self.shop.tax_profile).registered:
            self.leave_out("tax")
            return
        word = profile(self.shop.tax_profile).tax_word
        rates = TaxRate.objects.on(today).filter(percent__gt=0).order_by("percent")
        self.rates = {str(rate.pk): rate.percent for rate in rates}
        self.field("tax", PickField).choices = [
            ("none", f"Without {word}"),
            *((key, f"With {percent.normalize():f} % {word}") for key, percent in self.rates.items()),
        ]

    @property
    def picked(self) -> Pack | None:
        """Pack that came; None for a loose amount."""
        return self.packs.get(self.cleaned_data.get("pack") or "")

    @property
    def count_of_packs(self) -> int:
        """Number of packs that came."""
        return self.cleaned_data.get("count") or 1

    @property
    def quantity(self) -> Decimal:  # type: ignore[override] # the class attribute went into `fields`
        """What came, in the material's unit."""
        if self.picked:
            return self.picked.content * self.count_of_packs
        return area_of(*self.size) if self.size else self.cleaned_data["quantity"]

    @property
    def size(self) -> tuple[Decimal, Decimal] | None:
        """Length and width of an offcut in mm, where it is one."""
        length, width = self.cleaned_data.get("length"), self.cleaned_data.get("width")
        return (length, width) if length and width else None

    @property
    def picked_supplier(self) -> Supplier | None:
        """Supplier that was picked, else that of the pack."""
        return self.suppliers.get(self.cleaned_data.get("supplier") or "") or (
            self.picked.supplier if self.picked else None
        )

    @property
    def value(self) -> Decimal:
        """What all of it cost without the tax that the shop gets back."""
        entries = self.cleaned_data
        if entries["price"] is None:
            listed = price_of_packs(self.picked, self.count_of_packs, entries["received_on"]) if self.picked else None
            return listed or Decimal(0)
        percent = self.rates.get(entries["tax"], Decimal(0)) if "tax" in self.fields else Decimal(0)
        return without_tax(entries["price"], percent)

    def clean(self) -> dict[str, Any]:
        """Entries, refused without amount or price; a delivery note that was entered before is asked about."""
        entries = super().clean() or self.cleaned_data
        if self.errors:
            return entries
        self._check_amount(entries)
        self._check_price(entries)
        before = entered_before(
            material=self.material, supplier=self.picked_supplier, delivery_note=entries["delivery_note"].strip()
        )
        if before:
            self.ask_about(
                "delivery_note",
                f"Delivery note {entries['delivery_note']} was entered before, on {day_year(before.received_on)}. "
                "Tick the box if more of it came on the same note.",
            )
        return entries

    def _check_amount(self, entries: dict[str, Any]) -> None:
        if self.picked and entries["quantity"] is not None:
            self.add_error("quantity", "How much is said twice; pick “something else”, or leave this box empty.")
        if bool(entries.get("length")) != bool(entries.get("width")):
            self.add_error("width", "An offcut has a length and a width; fill in both, or none.")
        elif self.picked and self.size:
            self.add_error("length", "An offcut is no whole pack; pick “something else”, or leave its size empty.")
        elif not self.picked and entries["quantity"] is None and not self.size:
            self.add_error("quantity", "How much is empty; type what came, with its unit.")
        elif self.size and entries["quantity"] is not None:
            self.add_error("quantity", "How much follows from the size of the offcut; leave it empty.")

    def _check_price(self, entries: dict[str, Any]) -> None:
        if entries["origin"] != Origin.BOUGHT:
            if entries["price"]:
                self.add_error("price", "Price must be empty for what was given or reclaimed.")
            return
        listed = self.picked and price_of_packs(self.picked, 1, entries["received_on"])
        if entries["price"] is None and not listed:
            self.add_error("price", "Price is empty, and the list has none; type what all of it cost, like 96.00.")


class StockAnswerForm(PageForm):
    """Form of the answer to a question about stock."""

    answer = WordsField(
        label="What you found out", most=400, lines=2,
        hint="Like: a delivery was not entered, or: the drum was fuller than it said.",
    )  # fmt: skip
    alike = forms.BooleanField(required=False)
    button = "Close the question"

    def __init__(self, *args: Any, name: str, others: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        plural = "s" if others > 1 else ""
        self.fields["alike"].label = f"The same for {others} other open question{plural} about {name}"
        self.fields["alike"].initial = True
        if not others:
            del self.fields["alike"]
