"""What this shop really uses against the need on paper."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from shop.models import Row


class Factor(Row):
    """The shop's own usage factor for one operation and material ('minutes' for labour).

    What its jobs teach goes on top.
    """

    operation = models.CharField(max_length=40)
    material = models.CharField("material key, or minutes", max_length=60)
    value = models.FloatField()
    low = models.FloatField()
    high = models.FloatField()
    source = models.CharField(max_length=200)

    class Meta:
        ordering = ["operation", "material"]
        constraints = [
            models.UniqueConstraint(fields=["operation", "material"], name="factor_once"),
            models.CheckConstraint(
                condition=Q(low__gt=0) & Q(low__lte=F("value")) & Q(value__lte=F("high")),
                name="factor_in_order",
                violation_error_message="A usage factor must have low ≤ value ≤ high, all above zero.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.operation} × {self.material}: {self.value}"
