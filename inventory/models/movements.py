"""Movements, which nobody changes, and what they leave open."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING, Any, NoReturn

from django.db import models
from django.db.models import Exists, F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from inventory.models.kinds import MovementKind
from inventory.models.lots import Lot
from inventory.models.materials import Material
from shop.fields import MoneyField, QuantityField
from shop.models import Row, User


class MovementQuerySet(models.QuerySet["Movement"]):
    """Movements, which are read and never changed."""

    def not_undone(self) -> MovementQuerySet:
        """What still counts: neither a reversal nor reversed."""
        return self.filter(reversed_by__isnull=True).exclude(kind=MovementKind.REVERSAL)

    def as_they_count(self) -> MovementQuerySet:
        """Each with `side` and `then`: a mistake undone counts as the kind it was and at the moment it was made."""
        return self.annotate(
            side=Coalesce("reverses__kind", "kind"), then=Coalesce("reverses__happened_at", "happened_at")
        )

    def last_receipts(self, day: date) -> MovementQuerySet:
        """Of each material the last delivery by a day that cost something, with its material and supplier."""
        receipts = Movement.objects.not_undone().filter(
            material=OuterRef("pk"), kind=MovementKind.RECEIVE, value__gt=0, lot__received_on__lte=day
        )
        last = Material.objects.values_list(Subquery(receipts.order_by("-pk").values("pk")[:1]))
        return self.filter(pk__in=last).select_related("material", "lot__supplier")

    def update(self, **kwargs: Any) -> NoReturn:
        """Raises TypeError: a movement is never changed, a new one reverses it."""
        raise TypeError("A movement is never changed; reverse it by a new one.")

    def delete(self) -> NoReturn:
        """Raises TypeError: a movement is never deleted, a new one reverses it."""
        raise TypeError("A movement is never deleted; reverse it by a new one.")


class Movement(Row):
    """One line of the stock ledger, written only by `inventory.stock.ledger`, never changed or deleted."""

    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="movements")
    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="movements")
    kind = models.CharField(max_length=10, choices=MovementKind)
    quantity = QuantityField("quantity, in or out")
    value = MoneyField("value, in or out")
    happened_at = models.DateTimeField("when it happened")
    recorded_at = models.DateTimeField("when it was recorded")
    by = models.ForeignKey(User, on_delete=models.PROTECT, null=True)
    reason = models.CharField("reason", max_length=200, blank=True)
    act = models.UUIDField("the act it belongs to", db_index=True)
    reverses = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="reversed_by")

    objects = MovementQuerySet.as_manager()

    if TYPE_CHECKING:  # laid on by the page of a material; `stand` is a Stand of stock.standing
        undone: bool
        stand: Any
        opens: bool
        may_undo: bool
        amount: Decimal

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(fields=["material", "recorded_at"]),
            models.Index(fields=["recorded_at"], name="movements_by_when_recorded"),
        ]
        constraints = [
            models.CheckConstraint(
                condition=~Q(quantity=0),
                name="movement_moves",
                violation_error_message="A movement must add or take something.",
            ),
            models.CheckConstraint(
                condition=Q(quantity__gt=0, value__gte=0) | Q(quantity__lt=0, value__lte=0),
                name="movement_value_follows_quantity",
                violation_error_message="Value moves the way the quantity moves.",
            ),
            models.CheckConstraint(
                condition=(Q(kind="reversal") & Q(reverses__isnull=False))
                | (~Q(kind="reversal") & Q(reverses__isnull=True)),
                name="reversal_names_what_it_reverses",
                violation_error_message="A reversal must name the movement it undoes.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.quantity} {self.material.unit}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save a new movement. Raises TypeError for one that is there already."""
        if not self._state.adding:
            raise TypeError("A movement is never changed; reverse it by a new one.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        """Raises TypeError: a movement is never deleted, a new one reverses it."""
        raise TypeError("A movement is never deleted; reverse it by a new one.")


class StockQuestionQuerySet(models.QuerySet["StockQuestion"]):
    """Questions about stock as screens ask for them."""

    def open(self) -> StockQuestionQuerySet:
        """Questions that nobody has answered."""
        return self.filter(answered_at__isnull=True)

    def newest_first(self) -> StockQuestionQuerySet:
        """Those still open before those answered, the newest of each first."""
        return self.order_by(F("answered_at").desc(nulls_first=True), "-pk")

    def once_a_material(self) -> StockQuestionQuerySet:
        """The newest open one of each material with `alike`, how many more are open; then those answered."""
        open_too = StockQuestion.objects.open().filter(material=OuterRef("material")).order_by()
        newer = Exists(open_too.filter(pk__gt=OuterRef("pk")))
        many = Subquery(open_too.values("material").annotate(many=models.Count("pk")).values("many"))
        rows = self.filter(Q(answered_at__isnull=False) | ~newer).annotate(alike=Coalesce(many, 1) - 1)
        return rows.select_related("material", "answered_by").newest_first()


class StockQuestion(Row):
    """Something shelf and bench disagree on, asked when there is time; written with the shortfall it is about."""

    material = models.ForeignKey(Material, on_delete=models.PROTECT, related_name="questions")
    movement = models.ForeignKey(Movement, on_delete=models.PROTECT, null=True, related_name="questions")
    words = models.CharField(max_length=400)
    asked_at = models.DateTimeField()
    answered_at = models.DateTimeField(null=True, blank=True)
    answer = models.CharField(max_length=400, blank=True)
    answered_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True)

    objects = StockQuestionQuerySet.as_manager()

    class Meta:
        ordering = ["answered_at", "pk"]

    def __str__(self) -> str:
        return self.words
