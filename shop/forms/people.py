"""Customers, boards and their photos."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction
from typing import Any

from crispy_forms.layout import Fieldset, Row
from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError

from shop.countries import tax_numbers
from shop.forms.fields import MeasureField, PercentFormField
from shop.forms.words import MailField, PageForm, PickField, WordsField
from shop.models import Board, Customer
from shop.people.customers import BOARD_ENTRIES, CUSTOMER_ENTRIES, SIZES, Completed
from shop.people.pictures import NotAPicture, tidied
from shop.platform.acts import Refused

SIXTEENTH_MM = Fraction(254, 160)
OFFERED_AT_MOST = 5  # known people to choose among; more are of one name and best searched for
ACCEPTS = "image/jpeg,image/png,image/webp"  # so that a phone hands over a JPEG where it keeps something else


class CustomerForm(PageForm):
    """Form of a customer's name, address and terms."""

    name = WordsField(label="Name", most=120, width="long")
    kind = PickField(label="Kind", choices=Customer._meta.get_field("kind").choices, radios=True, initial="private")
    phone = WordsField(label="Phone", most=40, required=False, width="middle", hint="To ring when the board is ready.")
    email = MailField(required=False)
    address = WordsField(label="Address", most=400, lines=3, required=False, width="long")
    tax_number = WordsField(label="Tax number", most=40, required=False, width="middle", hint="Of a trade customer.")
    discount_percent = PercentFormField(label="Discount", below=True, required=False, hint="Off every price.")
    note = WordsField(label="Note", most=2000, lines=3, required=False, hint="Never printed.")
    layout = ("name", "kind", Row("phone", "email"), "address", Row("tax_number", "discount_percent"), "note")
    button = "Save the customer"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.field("discount_percent", PercentFormField).after = "%"
        self.fields["phone"].widget.attrs["inputmode"] = "tel"

    @staticmethod
    def showing(customer: Customer) -> dict[str, Any]:
        """Entries that show a customer as it is."""
        entries = {name: getattr(customer, name) for name in CUSTOMER_ENTRIES}
        return {**entries, "discount_percent": f"{customer.discount_percent.normalize():f}"}

    def clean(self) -> dict[str, Any]:
        """Entries; a tax number whose check digits disagree is asked about."""
        entries = super().clean() or self.cleaned_data
        if entries.get("tax_number") and tax_numbers.looks_wrong(entries["tax_number"]):
            self.ask_about("tax_number", "The tax number's check digits do not agree. Tick the box if it is right.")
        return entries

    def entries(self) -> dict[str, Any]:
        """Entries as the verbs take them."""
        entries = {name: self.cleaned_data[name] for name in CUSTOMER_ENTRIES}
        return {**entries, "discount_percent": entries["discount_percent"] or Decimal(0)}


class AsksIfKnown(PageForm):
    """A form for a new person, which asks once where that may be somebody known. `who`: its boxes for them."""

    who = {name: name for name in CUSTOMER_ENTRIES}
    NEW = "new"

    def who_entries(self) -> dict[str, Any]:
        """Entries that say who it is, by the customer's names for them."""
        return {entry: self.cleaned_data[box] for entry, box in self.who.items() if box in self.cleaned_data}

    def known(self) -> Customer | None:
        """The known person that was chosen, None for a new one. Raises Refused where that is still to be chosen."""
        assert self.shop is not None, "phones are compared by the shop's country"
        said = {name: self.who_entries()[name] for name in ("name", "phone", "email")}
        book = Customer.objects.with_boards()
        alike = {str(one.pk): one for one in book.alike(**said, country=self.shop.country)[:OFFERED_AT_MOST]}
        chosen = self.data.get(self.add_prefix("known"), "")
        if not alike or chosen == self.NEW:
            return None
        if chosen in alike:
            return alike[chosen]
        self._offer(alike)
        first = next(iter(alike.values()))
        raise Refused(f"This may be {in_a_line(first)}: choose, then send it again.", field="known")

    def _offer(self, alike: dict[str, Customer]) -> None:
        offered = [(pk, f"Use {in_a_line(one)}, {_boards(one.board_count)}") for pk, one in alike.items()]
        self.fields["known"] = PickField(
            label="Somebody you know already?", choices=[*offered, (self.NEW, "A new person")], radios=True
        )
        self.order_fields(["known"])
        self.layout = ("known", *self.layout)


def in_a_line(customer: Customer) -> str:
    """A customer with what tells them from another of the name."""
    return ", ".join(filter(None, [customer.name, customer.phone or customer.email]))


def _boards(count: int) -> str:
    return "1 board" if count == 1 else f"{count} boards"


ENTRY_WORDS = {
    "name": "name", "kind": "kind", "phone": "phone", "email": "email", "address": "address",
    "tax_number": "tax number", "discount_percent": "discount", "note": "note",
}  # fmt: skip


def said_of(completed: Completed) -> str:
    """What became of entries typed for somebody known, as a sentence or two; empty where nothing did."""
    filled = ", ".join(ENTRY_WORDS[name] for name in completed.filled)
    left = ", ".join(f"{ENTRY_WORDS[name]} “{value}”" for name, value in completed.left.items())
    parts = [
        f"Filled in from what you typed: {filled}." if filled else "",
        f"Not taken, since something else stands there: {left}." if left else "",
    ]
    return " ".join(filter(None, parts))


class NewCustomerForm(AsksIfKnown, CustomerForm):
    """Form of a new customer, which asks whether it is one of the book."""


def as_written(mm: Decimal | None) -> str:
    """A length as board people write it, 5′6 1/2″ or 20 3/4 in, where it is one to a sixteenth; otherwise in mm.

    What it gives reads back, through `shop.measures.units`, as the same tenth of a millimetre.
    """
    if mm is None:
        return ""
    sixteenths = round(Fraction(mm) / SIXTEENTH_MM)
    if abs(sixteenths * SIXTEENTH_MM - Fraction(mm)) > Fraction(1, 20):
        return f"{mm.normalize():f} mm"
    inches, rest = divmod(Fraction(sixteenths, 16), 1)
    feet, over = divmod(inches, 12)
    if inches < 36:
        return f"{_mixed(inches, rest)} in"
    return f"{feet}′{_mixed(over, rest)}″" if over or rest else f"{feet}′"


def _mixed(whole: int, rest: Fraction) -> str:
    if not rest:
        return str(whole)
    return f"{whole} {rest}" if whole else str(rest)


def _size(label: str, example: str, low: int, high: int, *, unit: str = "in", **kw: Any) -> MeasureField:
    return MeasureField(
        label=label, dimension="length", unit=unit, example=example, low=low, high=high, above_zero=True, **kw
    )


class BoardForm(PageForm):
    """Limits of the plausible: boards for children to those for standing on; our own, no source."""

    name = WordsField(label="What it is called", most=120, width="long", hint="Like 5′6″ fish, white.")
    maker = WordsField(label="Maker or shaper", most=120, required=False, width="middle")
    length_mm = _size("Length", "5′6″", 900, 4300, hint="Like 5′6″, 66 in or 1676 mm.")
    width_mm = _size("Width", "20 3/4 in", 350, 900, hint="At the widest, like 20 3/4 in.")
    thickness_mm = _size("Thickness", "2 1/2 in", 30, 180, required=False, hint="At the thickest.")
    nose_mm = _size("Nose width", "14 in", 80, 800, required=False, hint="12 in from the tip.")
    tail_mm = _size("Tail width", "15 in", 80, 800, required=False, hint="12 in from the end.")
    tail_shape = PickField(label="Tail", choices=Board.Tail.choices, initial=Board.Tail.SQUASH)
    core = PickField(label="Core", choices=Board.Core.choices, initial=Board.Core.UNKNOWN)
    resin = PickField(label="Skin resin", choices=Board.Resin.choices, initial=Board.Resin.UNKNOWN)
    skin = PickField(label="Skin", choices=Board.Skin.choices, initial=Board.Skin.GLASS)
    fins = WordsField(
        label="Fins", most=120, required=False, width="long", hint="Like two keels glassed on, or three boxes."
    )
    note = WordsField(label="Note", most=2000, lines=3, required=False)
    layout = (
        "name",
        "maker",
        Fieldset("Its size", Row("length_mm", "width_mm", "thickness_mm"), Row("nose_mm", "tail_mm"), "tail_shape"),
        Fieldset("How it is made", Row("core", "resin", "skin"), "fins", "note"),
    )
    button = "Save the board"

    @staticmethod
    def showing(board: Board) -> dict[str, Any]:
        """Entries that show a board as it is."""
        entries = {name: getattr(board, name) for name in BOARD_ENTRIES}
        return {**entries, **{name: as_written(entries[name]) for name in SIZES}}

    def entries(self) -> dict[str, Any]:
        """Entries as the verbs take them."""
        return {name: self.cleaned_data[name] for name in BOARD_ENTRIES}


class PicturesInput(forms.FileInput):
    """One or several pictures; each is kept as a photo of its own."""

    allow_multiple_selected = True

    def value_from_datadict(self, data: Any, files: Any, name: str) -> Any:
        """All files that were chosen."""
        return files.getlist(name)


class PicturesField(forms.FileField):
    """Cleans to the JPEG bytes that are kept, one for each picture sent."""

    def clean(self, data: Any, initial: Any = None) -> list[bytes]:
        """Pictures as bytes, each made small and without metadata."""
        if not data and not self.required:
            return []
        if not data:
            raise ValidationError("Choose a picture first.", code="required")
        return [self._one(file) for file in data]

    @staticmethod
    def _one(file: Any) -> bytes:
        if file.size > settings.PHOTO_MAX_BYTES:
            most = settings.PHOTO_MAX_BYTES // 1_000_000
            raise ValidationError(f"A picture may have {most} MB at most; this one is larger.", code="large")
        try:
            return tidied(file)
        except NotAPicture as problem:
            raise ValidationError(problem.sentence, code="picture") from None


def camera_field(label: str) -> PicturesField:
    """Photos that go with a form, straight from the camera; what was taken stays when the form is shown again."""
    attrs = {"accept": "image/*", "capture": "environment", "multiple": True, "hx-preserve": "true"}
    return PicturesField(label=label, widget=PicturesInput(attrs), required=False)


class PhotosForm(PageForm):
    """Form that takes pictures of a board."""

    pictures = PicturesField(label="Pictures", widget=PicturesInput({"accept": ACCEPTS}))
    button = "Send"
