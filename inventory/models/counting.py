"""What is really there: counts by shelf, containers on the scale, and tests of what is past its date."""

from __future__ import annotations

from decimal import Decimal
from typing import TYPE_CHECKING

from django.db import models
from django.db.models import Q

from shop.fields import ExactField, QuantityField
from shop.models import Row, User


class Container(Row):
    """A drum, bottle or core that a lot is kept in, with its empty weight.

    Written when it first stands on the scale.
    """

    lot = models.ForeignKey("inventory.Lot", on_delete=models.PROTECT, related_name="containers")
    name = models.CharField("container", max_length=60, default="drum")
    tare_g = ExactField("empty weight in g", places=3)
    emptied_at = models.DateTimeField(null=True, blank=True, editable=False)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(tare_g__gt=0),
                name="container_weighs_something",
                violation_error_message="An empty container weighs more than nothing.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} of {self.lot.material.name}"


class Weighing(Row):
    """A container on the scale, once: gross weight, and what it then held in the material's unit. Never changed.

    `act` is what the ledger booked by it, so that it is known to be of this container and of no other of its lot.
    """

    container = models.ForeignKey(Container, on_delete=models.PROTECT, related_name="weighings")
    gross_g = ExactField("gross weight in g", places=3)
    net = QuantityField("it held")
    weighed_at = models.DateTimeField()
    act = models.UUIDField(null=True, blank=True, editable=False)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(net__gte=0),
                name="weighing_not_below_tare",
                violation_error_message="A container cannot weigh less than when it is empty.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.gross_g} g on {self.weighed_at:%Y-%m-%d}"


class CountQuerySet(models.QuerySet["Count"]):
    """Counts as screens ask for them."""

    def open(self) -> CountQuerySet:
        """Counts that are not closed yet."""
        return self.filter(closed_at__isnull=True)

    def with_progress(self) -> CountQuerySet:
        """Each with `line_count`, how many lots are to be counted, and `done_count`, how many were."""
        done = models.Q(lines__counted__isnull=False)
        return self.annotate(line_count=models.Count("lines"), done_count=models.Count("lines", filter=done))


class Count(Row):
    """One round of counting a shelf. Blind: what the shelf should hold is not shown to whoever counts."""

    shelf = models.CharField("shelf", max_length=60, blank=True)
    everything = models.BooleanField("the whole store", default=False)
    blind = models.BooleanField("blind", default=True)
    started_at = models.DateTimeField()
    started_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True, help_text="Empty: still being counted.")

    objects = CountQuerySet.as_manager()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return "the whole store" if self.everything else self.shelf or "no shelf"


class CountLine(Row):
    """One lot of a count. `expected` is what the ledger said for the moment of counting, so later moves stay apart."""

    count = models.ForeignKey(Count, on_delete=models.PROTECT, related_name="lines")
    material = models.ForeignKey("inventory.Material", on_delete=models.PROTECT, related_name="+")
    lot = models.ForeignKey(
        "inventory.Lot",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="Empty: found, of no lot.",
    )
    counted = QuantityField("counted", null=True, blank=True, help_text="Empty: not counted yet.")
    expected = QuantityField("expected", null=True, blank=True)
    typed = models.CharField("as it was entered", max_length=200, blank=True)
    counted_at = models.DateTimeField(null=True, blank=True)
    counted_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True, related_name="+")
    movement = models.OneToOneField(
        "inventory.Movement", on_delete=models.PROTECT, null=True, blank=True, related_name="count_line",
        help_text="The difference, once it was booked.",
    )  # fmt: skip

    if TYPE_CHECKING:  # laid on by the page of what differs
        worth: Decimal | None
        words: str
        booked: bool

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["count", "lot"], name="a_lot_is_counted_once_a_round"),
            models.CheckConstraint(
                condition=Q(counted__isnull=True) | Q(counted__gte=0),
                name="counted_not_below_nothing",
                violation_error_message="There cannot be less than nothing.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.material} in {self.count}"

    @property
    def difference(self) -> Decimal:
        """What was counted beyond what the ledger held then, in the material's unit; only where it was counted."""
        assert self.counted is not None
        assert self.expected is not None
        return self.counted - self.expected


class ShelfTest(Row):
    """A test whether a lot is still good, like a small batch left to gel.

    A passed one moves its date, a failed ends it.
    """

    lot = models.ForeignKey("inventory.Lot", on_delete=models.PROTECT, related_name="shelf_tests")
    tested_on = models.DateField("tested on")
    passed = models.BooleanField("still good")
    good_until = models.DateField("good until", null=True, blank=True, help_text="Empty where it failed.")
    words = models.CharField("what it showed", max_length=200)
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.lot}: {'passed' if self.passed else 'failed'} on {self.tested_on}"
