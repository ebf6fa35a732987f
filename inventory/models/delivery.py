"""How things came in: a delivery with what it cost to get it here, and price lists as suppliers hand them out."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import Q

from shop.fields import ExactField, MoneyField
from shop.models import Row, User


class Delivery(Row):
    """What came on one delivery note; its lots carry their share of freight, duty and discount in their cost."""

    supplier = models.ForeignKey("inventory.Supplier", on_delete=models.PROTECT, related_name="deliveries")
    note = models.CharField("delivery note", max_length=60, blank=True)
    received_on = models.DateField("received on")
    currency = models.CharField("currency of the purchase", max_length=3)
    rate = ExactField("one of it costs, in the shop's currency", places=6, default=Decimal(1))
    freight = MoneyField("freight", default=Decimal(0))
    duty = MoneyField("duty that is not given back", default=Decimal(0))
    discount = MoneyField("discount", default=Decimal(0))
    spread_by = models.CharField(
        "spread by", max_length=6, choices=[("value", "what it cost"), ("weight", "what it weighs")], default="value"
    )
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        verbose_name_plural = "deliveries"
        ordering = ["-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(rate__gt=0) & Q(freight__gte=0) & Q(duty__gte=0) & Q(discount__gte=0),
                name="delivery_costs_not_negative",
                violation_error_message="Rate must be above zero; freight, duty and discount zero or more.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.supplier}, {self.note or self.received_on}"


class PriceList(Row):
    """A supplier's price list as it was sent in, kept from its preview on; its prices count once it is taken over."""

    supplier = models.ForeignKey("inventory.Supplier", on_delete=models.PROTECT, related_name="price_lists")
    name = models.CharField("file", max_length=120)
    text = models.TextField()
    from_day = models.DateField("prices from")
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField(null=True, blank=True, help_text="Empty: only looked at.")

    class Meta:
        ordering = ["-pk"]

    def __str__(self) -> str:
        return f"{self.name}, {self.supplier}"
