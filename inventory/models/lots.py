"""Lots on the shelf."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import F, Q

from inventory.models.kinds import Origin
from inventory.models.materials import Material, Pack, Supplier
from shop.fields import ExactField, MoneyField, QuantityField
from shop.models import Row


class LotQuerySet(models.QuerySet["Lot"]):
    """Lots as screens and the ledger ask for them."""

    def left(self) -> LotQuerySet:
        """Lots that hold something."""
        return self.filter(quantity_left__gt=0)

    def in_order_of_issue(self) -> LotQuerySet:
        """What goes first: what goes off first, then the earliest receipt; lots that do not go off after dated ones."""
        return self.order_by(F("good_until").asc(nulls_last=True), "received_on", "pk")


class Lot(Row):
    """One delivery of a material. What is left is written with each movement and proven by `check_books`.

    Under weighted average all lots of a material are one pool of money: what is left there is then the lot's share.
    """

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="lots")
    pack = models.ForeignKey(Pack, on_delete=models.PROTECT, null=True, blank=True, related_name="lots")
    supplier = models.ForeignKey(Supplier, on_delete=models.PROTECT, null=True, blank=True, related_name="lots")
    origin = models.CharField("origin", max_length=10, choices=Origin, default=Origin.BOUGHT)
    delivery_note = models.CharField("delivery note", max_length=60, blank=True)
    received_on = models.DateField("received on")
    use_by = models.DateField("use by", null=True, blank=True, help_text="Empty: it does not go off.")
    opened_on = models.DateField("opened on", null=True, blank=True, help_text="Empty: still closed.")
    tested_until = models.DateField(
        "good until, by a test", null=True, blank=True, editable=False, help_text="Empty: not tested."
    )
    good_until = models.DateField("good until", null=True, blank=True, editable=False)
    brand = models.CharField("brand", max_length=80, blank=True)
    delivery = models.ForeignKey(
        "inventory.Delivery", on_delete=models.PROTECT, null=True, blank=True, related_name="lots"
    )
    length_mm = ExactField("length of an offcut", places=1, null=True, blank=True, help_text="Empty: no offcut.")
    width_mm = ExactField("width of an offcut", places=1, null=True, blank=True)
    quantity_left = QuantityField("left", default=Decimal(0), editable=False)
    value_left = MoneyField("value left", default=Decimal(0), editable=False)

    objects = LotQuerySet.as_manager()

    if TYPE_CHECKING:  # laid on by the page of a material; the last two by stock.books
        stale: bool
        soon: bool
        container: int | None
        moved: Decimal
        money_moved: Decimal

    class Meta:
        ordering = ["material", "pk"]
        indexes = [
            models.Index(fields=["material", "use_by", "received_on"]),
            models.Index(fields=["material"], condition=Q(quantity_left__gt=0), name="lots_that_hold_something"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity_left__gte=0) & Q(value_left__gte=0),
                name="lot_never_negative",
                violation_error_message="A lot cannot hold less than nothing.",
            ),
            models.CheckConstraint(
                condition=Q(use_by__isnull=True) | Q(use_by__gte=F("received_on")),
                name="use_by_after_receipt",
                violation_error_message="Use by must not lie before the day it was received.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material.name}, received {self.received_on}"

    def work_out_good_until(self, material: Material) -> date | None:
        """The last day it may be used: its use-by, or earlier by its life once opened; a test goes before both.

        None: it does not go off.
        """
        if self.tested_until:
            return self.tested_until
        days = [self.use_by] if self.use_by else []
        if self.opened_on and material.opened_life_days is not None:
            days.append(self.opened_on + timedelta(days=material.opened_life_days))
        return min(days, default=None)

    def out_of_date(self, day: date) -> bool:
        """Whether the lot is past its date on a day."""
        return self.good_until is not None and self.good_until < day
