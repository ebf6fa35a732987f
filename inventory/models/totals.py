"""What moved in a day, and what was used in a week, in sum."""

from __future__ import annotations

from django.db import models

from shop.fields import MoneyField, QuantityField
from shop.models import Row


class DayTotal(Row):
    """What moved of a material on one side of the ledger, by the day it was recorded on.

    Written by the ledger with its movements, so that no page must read them all; `check_books` proves it from them. A
    reversal counts on the side of what it undoes. Days are the shop's.
    """

    material = models.ForeignKey("inventory.Material", on_delete=models.PROTECT, related_name="+", db_index=False)
    side = models.CharField(max_length=10)
    recorded_on = models.DateField()
    quantity = QuantityField("quantity, in or out")
    value = MoneyField("value, in or out")

    class Meta:
        ordering = ["pk"]
        indexes = [
            # What is asked of the rows stands in the index, so the rows are not read.
            models.Index(fields=["material", "side", "recorded_on", "quantity", "value"], name="what_moved_by_day"),
        ]
        constraints = [
            models.UniqueConstraint(fields=["material", "side", "recorded_on"], name="one_total_a_day_and_side")
        ]

    def __str__(self) -> str:
        return f"{self.side} {self.quantity} on {self.recorded_on}"


class WeekUse(Row):
    """What was used of a material in the week in which it happened, less what was put back or undone.

    A week begins on Monday (ISO 8601). Written and proven as the totals of days are.
    """

    material = models.ForeignKey("inventory.Material", on_delete=models.PROTECT, related_name="+", db_index=False)
    week = models.DateField()
    quantity = QuantityField("quantity used")

    class Meta:
        ordering = ["pk"]
        constraints = [models.UniqueConstraint(fields=["material", "week"], name="one_use_a_week")]

    def __str__(self) -> str:
        return f"{self.quantity} in the week of {self.week}"
