"""Customers, their boards, lists brought in, and photos."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING, Any

from django.db import models
from django.db.models import Q

from shop.fields import ExactField, PercentField
from shop.models.logins import User
from shop.models.row import Row
from shop.text.phones import digits_of, same_phone, tail
from shop.text.writing import folded


def _same_mail(one: str, other: str) -> bool:
    return bool(one) and one.strip().casefold() == other.strip().casefold()


class CustomerQuerySet(models.QuerySet["Customer"]):
    """Customers as screens ask for them."""

    def in_the_book(self) -> CustomerQuerySet:
        """Without records that were made one with another."""
        return self.filter(merged_into=None)

    def search(self, words: str) -> CustomerQuerySet:
        """Customers whose name or email holds every word, accents or not, or whose phone number holds the digits.

        A phone number may be typed with blanks, and with or without the country's prefix: its last seven digits count.
        Two digits are the last two of a phone.
        """
        digits = digits_of(words)
        if len(digits) == 2 and words.strip().isdecimal():
            return self.filter(Q(phone_digits__endswith=digits) | Q(name_folded__contains=digits))
        if len(digits) >= 3 and not any(c.isalpha() for c in words):
            return self.filter(phone_digits__contains=digits[-7:])
        found = self
        for word in folded(words).split()[:8]:
            found = found.filter(Q(name_folded__contains=word) | Q(email__icontains=word))
        return found

    def nearest(self, words: str) -> CustomerQuerySet:
        """Those that `search` finds, first those whose name or one word of it begins so."""
        begins = folded(words).strip()[:80]
        first = Q(name_folded__startswith=begins) | Q(name_folded__contains=f" {begins}")
        order = models.Case(models.When(first, then=0), default=1, output_field=models.IntegerField())
        return self.search(words).order_by(order, "name_folded", "pk")

    def alike(self, *, name: str, phone: str, email: str, country: str) -> list[Customer]:
        """Who may be meant by these entries: the same phone or mail, or the same name with a phone missing on one side.

        The best fits come first. `country`: the shop's two letters, for phones. One query.
        """
        wanted = folded(name)
        close = Q(name_folded=wanted[:400]) if wanted else Q(pk__in=[])
        if tail(phone):
            close |= Q(phone_digits__endswith=tail(phone))
        if email:
            close |= Q(email__iexact=email)
        found = []
        for one in self.in_the_book().filter(close, walk_in=False).order_by("pk"):
            same_name = one.name_folded == wanted
            phones, mails = same_phone(one.phone, phone, country=country), _same_mail(one.email, email)
            bare = same_name and not (tail(one.phone) and tail(phone))
            if phones or mails or bare:
                found.append((-2 * (phones + mails) - same_name, one.pk, one))
        return [one for _, _, one in sorted(found)]

    def with_boards(self) -> CustomerQuerySet:
        """Each customer by name with `board_count`, the boards known here."""
        rows = self.annotate(board_count=models.Count("boards"))  # type: ignore[no-redef] # declared on the model
        return rows.order_by("name_folded", "pk")


class Customer(Row):
    """Who brings boards, or who pays for them; written at take-in."""

    name = models.CharField("name", max_length=120)
    name_folded = models.CharField(max_length=400, blank=True, editable=False)
    kind = models.CharField(
        "kind", max_length=8, choices=[("private", "private"), ("trade", "trade")], default="private"
    )
    phone = models.CharField("phone", max_length=40, blank=True)
    phone_digits = models.CharField(max_length=40, blank=True, editable=False)
    email = models.EmailField("email", blank=True)
    address = models.TextField("address", max_length=400, blank=True)
    tax_number = models.CharField("tax number", max_length=40, blank=True)
    discount_percent = PercentField("discount", default=Decimal("0"))
    note = models.TextField("note", max_length=2000, blank=True)
    walk_in = models.BooleanField("stands for people who leave no name", default=False, editable=False)
    made_at = models.DateTimeField(auto_now_add=True)
    merged_into = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="merged", editable=False,
        help_text="Empty: a record of its own. Otherwise the record of the same person that took over all of this one.",
    )  # fmt: skip

    objects = CustomerQuerySet.as_manager()

    if TYPE_CHECKING:  # laid on by the queryset's with_boards
        board_count: int

    class Meta:
        ordering = ["name", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(discount_percent__gte=0) & Q(discount_percent__lt=100),
                name="discount_plausible",
                violation_error_message="A discount is at least 0 and below 100 per cent.",
            )
        ]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the row, with the words it is found by."""
        self.make_findable()
        super().save(*args, **kwargs)

    def make_findable(self) -> None:
        """What a search looks at, out of the entries; before a row is written in bulk it must be asked for."""
        self.phone_digits = digits_of(self.phone)
        self.name_folded = folded(self.name)[:400]

    @property
    def current(self) -> Customer:
        """The record that stands for this person now."""
        return self.merged_into or self

    @property
    def dial(self) -> str:
        """The phone number as a phone dials it."""
        return ("+" if self.phone.strip().startswith("+") else "") + self.phone_digits


class Board(Row):
    """A customer's surfboard. Unknown construction is treated as the one that is easiest to spoil."""

    class Core(models.TextChoices):
        """Materials of a board's core."""

        UNKNOWN = "unknown", "not known"
        PU = "pu", "PU foam"
        EPS = "eps", "EPS foam"
        XPS = "xps", "XPS foam"
        WOOD = "wood", "wood"
        HOLLOW = "hollow", "hollow"

    class Resin(models.TextChoices):
        """Resins of a board's skin."""

        UNKNOWN = "unknown", "not known"
        POLYESTER = "polyester", "polyester"
        EPOXY = "epoxy", "epoxy"

    class Skin(models.TextChoices):
        """Kinds of a board's skin."""

        GLASS = "glass", "glass"
        CARBON = "carbon", "carbon"
        SANDWICH = "sandwich", "moulded sandwich"
        SOFT = "soft", "soft"

    class Tail(models.TextChoices):
        """Shapes of a board's tail."""

        SQUASH = "squash", "squash"
        SQUARE = "square", "square"
        PIN = "pin", "pin"
        ROUND = "round", "round"
        SWALLOW = "swallow", "swallow"
        FISH = "fish", "fish"
        DIAMOND = "diamond", "diamond"

    owner = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="boards")
    name = models.CharField("what it is called", max_length=120, help_text="Like 5′6″ fish, white.")
    maker = models.CharField("maker or shaper", max_length=120, blank=True)
    core = models.CharField("core", max_length=8, choices=Core, default=Core.UNKNOWN)
    resin = models.CharField("skin resin", max_length=10, choices=Resin, default=Resin.UNKNOWN)
    skin = models.CharField("skin", max_length=10, choices=Skin, default=Skin.GLASS)
    length_mm = ExactField("length", places=1)
    width_mm = ExactField("width", places=1)
    thickness_mm = ExactField("thickness", places=1, null=True, blank=True, help_text="Empty: not measured.")
    nose_mm = ExactField("nose width, 12 in from the tip", places=1, null=True, blank=True)
    tail_mm = ExactField("tail width, 12 in from the end", places=1, null=True, blank=True)
    tail_shape = models.CharField("tail", max_length=10, choices=Tail, default=Tail.SQUASH)
    fins = models.CharField("fins", max_length=120, blank=True)
    note = models.TextField("note", max_length=2000, blank=True)
    made_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(length_mm__gt=0) & Q(width_mm__gt=0),
                name="board_has_size",
                violation_error_message="A board has a length and a width above zero.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class PeopleList(Row):
    """A list of people and boards as it was sent in, kept from its preview on; it counts once it is taken over."""

    name = models.CharField("file", max_length=120)
    text = models.TextField()
    columns = models.JSONField(default=dict, blank=True, help_text="Entry to the number of its column, from 0.")
    headed = models.BooleanField("its first line holds the headings", default=True)
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(null=True, blank=True, help_text="Empty: only looked at.")
    made = models.JSONField(default=dict, blank=True, help_text="How many people and boards came of it.")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return self.name


class Photo(Row):
    """A picture of a board, turned upright and with its place stripped; sent on its own as it is taken."""

    board = models.ForeignKey(Board, on_delete=models.PROTECT, related_name="photos")
    image = models.ImageField(upload_to="photos/%Y/%m")
    caption = models.CharField("caption", max_length=200, blank=True)
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    taken_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.caption or f"photo {self.pk}"
