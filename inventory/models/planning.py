"""What is wanted from the shelf and what is on its way: reservations, how the shop buys, and orders given out."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from shop.fields import MoneyField, PercentField, QuantityField
from shop.models import Row, User


class ReservationQuerySet(models.QuerySet["Reservation"]):
    """Reservations as the plan asks for them."""

    def open(self) -> ReservationQuerySet:
        """Those that work still ahead stands behind."""
        return self.filter(released_at__isnull=True)

    def by_day(self) -> ReservationQuerySet:
        """What is needed first, first; on one day what was asked for first."""
        return self.order_by("needed_on", "pk")


class Reservation(Row):
    """What work ahead will need of a material, and on which day; released when the work is done or falls away."""

    material = models.ForeignKey("inventory.Material", on_delete=models.PROTECT, related_name="reservations")
    quantity = QuantityField("quantity")
    needed_on = models.DateField("needed on")
    made_at = models.DateTimeField()
    released_at = models.DateTimeField(null=True, blank=True, help_text="Empty: still wanted.")

    objects = ReservationQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        indexes = [
            models.Index(
                fields=["material", "needed_on"],
                condition=Q(released_at__isnull=True),
                name="reservations_still_wanted",
            )
        ]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0),
                name="reservation_wants_something",
                violation_error_message="A reservation must be of more than nothing.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.quantity} of {self.material} on {self.needed_on}"


class BuyingRules(Row):
    """How this shop buys: one row, written by the keeper; until then the defaults, which are common practice."""

    # Common practice, no source: a quarter of an hour at the counter and a share of the freight; rent, money tied up
    # and what spoils come to a fifth to a third of the value a year; one order in twenty may find the shelf empty.
    SERVICE = [(90, "90"), (95, "95"), (98, "98"), (99, "99")]

    order_cost = MoneyField("what one order costs, goods apart", default=Decimal("12"))
    holding_percent = PercentField("what keeping stock costs in a year, in % of its price", default=Decimal("25"))
    service_percent = models.PositiveSmallIntegerField(
        "deliveries out of a hundred before which nothing runs out",
        default=95,
        choices=SERVICE,
    )
    look_ahead_days = models.PositiveSmallIntegerField(
        "days between two looks at the list",
        default=7,
        validators=[MinValueValidator(1), MaxValueValidator(60)],
    )
    most_weeks = models.PositiveSmallIntegerField(
        "weeks of usual use that are ordered at once, at most",
        default=13,  # a quarter: what is cheap would be ordered for years; common practice, no source
        validators=[MinValueValidator(1), MaxValueValidator(104)],
    )

    class Meta:
        verbose_name_plural = "buying rules"
        constraints = [
            models.CheckConstraint(condition=Q(pk=1), name="buying_rules_are_one_row"),
            models.CheckConstraint(
                condition=Q(order_cost__gt=0) & Q(holding_percent__gt=0) & Q(holding_percent__lte=200),
                name="buying_costs_something",
                violation_error_message="An order and keeping stock cost something: more than nothing, at most 200 per cent.",
            ),
        ]

    def __str__(self) -> str:
        return "how this shop buys"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Save the one row of rules."""
        self.pk = 1
        super().save(*args, **kwargs)


class OrderQuerySet(models.QuerySet["Order"]):
    """Orders as screens ask for them."""

    def open(self) -> OrderQuerySet:
        """Those not called off or said to be done; what has come since is worked out from the deliveries."""
        return self.filter(closed_at__isnull=True)


class Order(Row):
    """Packs that were ordered from a supplier and are on their way; written from the buy list."""

    pack = models.ForeignKey("inventory.Pack", on_delete=models.PROTECT, related_name="orders")
    packs = models.PositiveIntegerField("how many packs")
    ordered_on = models.DateField("ordered on")
    expected_on = models.DateField("expected on")
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    closed_at = models.DateTimeField(null=True, blank=True, help_text="Empty: still expected.")

    objects = OrderQuerySet.as_manager()

    class Meta:
        ordering = ["expected_on", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(packs__gt=0),
                name="order_of_something",
                violation_error_message="An order is of one pack or more.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.packs} × {self.pack}"

    def late(self, day: date) -> bool:
        """Whether it should have come before a day."""
        return self.expected_on < day
