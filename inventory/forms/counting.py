"""Entries about what is really there.

A round of counting, one line of it, a container on the scale, a test of a lot.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from typing import Any

from crispy_forms.layout import Row
from django import forms
from django.utils import timezone

from inventory.counting.weighing import should_hold
from inventory.forms.movements import AmountForm
from inventory.models import Container, CountLine, Lot, Material
from shop.forms.fields import MeasureField, StockField
from shop.forms.words import DayField, PageForm, PickField, WholeField, WordsField

LAST_HOURS = timedelta(hours=4)  # so soon after midnight a time that lies ahead is meant for yesterday; ours
HEAVIEST_G = 300_000  # what a shop's scale may carry; more is asked about


def weight_field(label: str, **more: Any) -> MeasureField:
    """A weight on the scale, typed in grams, kilograms or pounds. Cleans to grams."""
    return MeasureField(
        label=label, dimension="mass", unit="g", above_zero=True, high=HEAVIEST_G, example="18.4 kg", **more
    )


class CountStartForm(PageForm):
    """Form that begins a count, of one shelf or of everything."""

    EVERYTHING = "everything"
    shelf = PickField(label="What to count", choices=())
    blind = forms.BooleanField(
        label="Blind: do not show what should be there", required=False, initial=True,
        help_text="Who does not know the figure counts more truly.",
    )  # fmt: skip
    button = "Begin to count"

    def __init__(self, *args: Any, shelves: list[str], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.field("shelf", PickField).choices = [
            *((f"shelf {shelf}", shelf or "No shelf") for shelf in shelves),
            (self.EVERYTHING, "The whole store"),
        ]

    def entries(self) -> dict[str, Any]:
        picked = self.cleaned_data["shelf"]
        everything = picked == self.EVERYTHING
        shelf = "" if everything else picked.removeprefix("shelf ")
        return {"shelf": shelf, "everything": everything, "blind": self.cleaned_data["blind"]}


class CountLineForm(PageForm):
    """Unopened packs, containers on the scale, and what lies loose.

    What is left empty is none, but one must be said.
    """

    packs = WholeField(label="Unopened packs", low=0, high=9999, width="tiny", required=False)
    loose = StockField(label="Lying loose", above_zero=False, width="short", required=False)
    counted_at = forms.TimeField(
        label="Counted at", required=False, widget=forms.TimeInput({"type": "time", "autocomplete": "off"}, format="%H:%M"),
        help_text="Empty: just now. What moved after it stays out of the count.",
        error_messages={"invalid": "Counted at must be a time of day, like 14:30."},
    )  # fmt: skip
    button = "That is what is there"
    all_optional = True

    def __init__(self, *args: Any, line: CountLine, containers: list[Container], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        loose = self.field("loose", StockField)
        loose.of(line.material)
        self.fields["counted_at"].width = "short"  # type: ignore[attr-defined] # for the template alone
        pack = line.lot.pack if line.lot else None
        if pack is None:
            del self.fields["packs"]
            loose.label = "How much is there"
        else:
            self.fields["packs"].label = f"Unopened: {pack.words}"
        self.containers = {f"gross_{container.pk}": container for container in containers}
        for name, container in self.containers.items():
            self.fields[name] = weight_field(f"{container.name.capitalize()} on the scale, gross", required=False)
        self.order_fields(["packs", *self.containers, "loose", "counted_at"])
        self.layout = tuple(self.fields)

    def clean(self) -> dict[str, Any]:
        """Entries, refused where nothing is entered at all."""
        entries = super().clean() or self.cleaned_data
        asked = [name for name in self.fields if name != "counted_at"]
        if not self.errors and all(entries.get(name) is None for name in asked):
            self.add_error("loose", "Nothing is entered; if nothing is there, type 0.")
        return entries

    @property
    def gross_g(self) -> dict[Container, Decimal]:
        """Gross weight in g of each container that was weighed."""
        weights = ((container, self.cleaned_data[name]) for name, container in self.containers.items())
        return {container: weight for container, weight in weights if weight is not None}

    def moment(self, now: datetime) -> datetime:
        """When it was counted: now, or the time of day that was typed: today, or yesterday if only hours ago.

        In the night the clocks go back an hour comes twice: the second one counts if it has been.
        """
        time = self.cleaned_data["counted_at"]
        if time is None:
            return now
        today = timezone.localdate(now)
        first = timezone.make_aware(datetime.combine(today, time))
        second = timezone.make_aware(datetime.combine(today, time.replace(fold=1)))
        yesterday = timezone.make_aware(datetime.combine(today - timedelta(days=1), time))
        earliest = min(first, now - LAST_HOURS)
        been = [at.astimezone(UTC) for at in (first, second, yesterday) if earliest <= at.astimezone(UTC) <= now]
        return max(been, default=first)


class FoundOnShelfForm(AmountForm):
    """What stands there that no line of the count is about."""

    material = PickField(label="What it is", choices=())  # type: ignore[assignment] # goes into `fields`
    button = "Add it to the count"
    layout = ("material", "quantity")

    def __init__(self, *args: Any, materials: list[Material], **kwargs: Any) -> None:
        self.materials = {str(material.pk): material for material in materials}
        data = args[0] if args else None
        picked = self.materials.get(data.get("material", "") if data else "") or materials[0]
        super().__init__(*args, material=picked, **kwargs)
        self.field("material", PickField).choices = [
            (key, f"{one} ({one.unit})") for key, one in self.materials.items()
        ]
        self.field("quantity", StockField).stock_unit = picked.unit if data else ""

    def entries(self) -> dict[str, Any]:
        return {**super().entries(), "material": self.materials[self.cleaned_data["material"]]}


def _in_no_container(lot: Lot) -> Decimal:
    """What is left of a lot beside its containers, in the material's unit. Three queries for each container."""
    others = lot.containers.filter(emptied_at__isnull=True)
    taken = sum((should_hold(one, one.weighings.last()).most for one in others), Decimal(0))
    return max(Decimal(0), lot.quantity_left - taken)


class ContainerForm(PageForm):
    """Form of a container with its weight when empty."""

    name = WordsField(label="What it is", most=60, width="middle", initial="drum", hint="Like drum, bottle or roll.")
    tare = weight_field("Weight when empty", hint="With lid or core. Like 1.2 kg.")
    holds = StockField(label="It holds now", width="short")
    button = "Remember this container"

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if not self.is_bound:
            self.initial["holds"] = f"{_in_no_container(lot).normalize():f}"
        holds = self.field("holds", StockField)
        holds.of(lot.material)

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        return {"name": said["name"], "tare_g": said["tare"], "holds": said["holds"]}


class WeighForm(PageForm):
    """Form of a weighing, to book a use or to check what is there."""

    USED, CHECK = "used", "check"
    gross = weight_field("On the scale, with its container")
    why = PickField(
        label="Why it was weighed", radios=True, initial=USED,
        choices=[(USED, "I took some out: book it as used"), (CHECK, "To check what is there")],
    )  # fmt: skip
    reason = WordsField(label="What for", most=200, required=False)
    button = "Book it"


class ShelfTestForm(PageForm):
    """Form of a test of what is near or past its date."""

    tested_on = DayField(label="Tested on")
    passed = PickField(
        label="What it showed",
        radios=True,
        choices=[("yes", "Still good: it gelled as it should"), ("no", "No longer good")],
    )
    good_until = DayField(label="Trusted until", required=False, hint="Half a year at most; the data sheet rules.")
    words = WordsField(label="How it was tested", most=200, hint="Like: 20 g with 1.5 % catalyst gelled in 18 minutes.")
    layout = ("passed", "good_until", "words", "tested_on")
    button = "Record the test"

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"tested_on": today}
        super().__init__(*args, **kwargs)

    def clean(self) -> dict[str, Any]:
        """Entries, refused where a good lot has no day until which it is trusted."""
        entries = super().clean() or self.cleaned_data
        if entries.get("passed") == "yes" and "good_until" in entries and entries["good_until"] is None:
            self.add_error("good_until", "Trusted until is empty; say until when you trust it.")
        return entries

    def entries(self) -> dict[str, Any]:
        return {**super().entries(), "passed": self.cleaned_data["passed"] == "yes"}


class LotForm(PageForm):
    """Form of a lot's dates, brand and delivery note."""

    use_by = DayField(label="Use by", required=False, hint="Empty: it does not go off.")
    opened_on = DayField(label="Opened on", required=False, hint="Empty: still closed.")
    brand = WordsField(label="Brand, batch", most=80, required=False, width="middle")
    delivery_note = WordsField(label="Delivery note", most=60, required=False, width="middle")
    layout = (Row("use_by", "opened_on"), Row("brand", "delivery_note"))

    def __init__(self, *args: Any, lot: Lot, **kwargs: Any) -> None:
        kwargs["initial"] = {name: getattr(lot, name) for name in self.base_fields}
        super().__init__(*args, **kwargs)
