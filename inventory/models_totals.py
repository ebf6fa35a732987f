"""What moved in a day, in sum."""

from __future__ import annotations

from django.db import models

from shop.fields import MoneyField, QuantityField


class DayTotal(models.Model):
    """What moved of a material on one side of the ledger, by the days it happened and was recorded on.

    Written by the ledger with its movements, so that no page must read them all; `check_books` proves it from them. A
    reversal counts on the side of what it undoes, and on the day on which that happened. Days are the shop's.
    """

    material = models.ForeignKey("inventory.Material", on_delete=models.PROTECT, related_name="+", db_index=False)
    side = models.CharField(max_length=10)
    happened_on = models.DateField()
    recorded_on = models.DateField()
    quantity = QuantityField("quantity, in or out")
    value = MoneyField("value, in or out")

    class Meta:
        ordering = ["pk"]
        indexes = [
            # What these two ask of the rows stands in the index, so the rows are not read.
            models.Index(fields=["material", "side", "happened_on", "quantity"], name="what_was_used_by_day"),
            models.Index(fields=["material", "side", "recorded_on", "quantity", "value"], name="what_moved_by_day"),
        ]
        constraints = [
            models.UniqueConstraint(
                fields=["material", "side", "happened_on", "recorded_on"], name="one_total_a_day_and_side"
            )
        ]

    def __str__(self) -> str:
        return f"{self.side} {self.quantity} on {self.happened_on}"
