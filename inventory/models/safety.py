"""What can hurt on the shelf: classes and limits of a material, its data sheets, and the places things stand in."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from shop.fields import ExactField, QuantityField
from shop.models import Row, User


class Safety(Row):
    """How a material must be kept, in the shop's own words; what its data sheet says comes before all of it."""

    material = models.OneToOneField("inventory.Material", on_delete=models.PROTECT, related_name="safety")
    classes = models.JSONField(
        "hazard classes", default=list, blank=True, help_text="Keys of inventory.safety.hazards."
    )
    keep_at_most = QuantityField("keep at most", null=True, blank=True, help_text="Empty: no limit entered.")
    keep_below_c = ExactField("keep below, °C", places=1, null=True, blank=True, help_text="Empty: not entered.")

    class Meta:
        verbose_name_plural = "safety"
        constraints = [
            models.CheckConstraint(
                condition=Q(keep_at_most__isnull=True) | Q(keep_at_most__gt=0),
                name="storage_limit_above_zero",
                violation_error_message="Keep at most must be above zero, or empty.",
            )
        ]

    def __str__(self) -> str:
        return f"safety of {self.material}"


class DataSheetQuerySet(models.QuerySet["DataSheet"]):
    """Data sheets as screens ask for them."""

    def newest(self) -> DataSheetQuerySet:
        """The sheet that holds first: the last one kept."""
        return self.order_by("material", "-pk")


class DataSheet(Row):
    """A supplier's safety data sheet as it was handed to the shop; older ones are kept."""

    material = models.ForeignKey("inventory.Material", on_delete=models.PROTECT, related_name="data_sheets")
    file = models.FileField(upload_to="sheets/%Y/%m")
    name = models.CharField("file", max_length=120)
    sha256 = models.CharField(max_length=64, editable=False)
    issued_on = models.DateField("date on the sheet", null=True, blank=True)
    kept_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    objects = DataSheetQuerySet.as_manager()

    class Meta:
        ordering = ["material", "-pk"]

    def __str__(self) -> str:
        return self.name


class StoragePlace(Row):
    """What is true of a shelf as a place; a shelf nobody wrote about has no row."""

    name = models.CharField("shelf", max_length=60, unique=True)
    ignition = models.BooleanField("a source of ignition is here or near", default=False)
    warmest_c = ExactField("warmest, °C", places=1, null=True, blank=True, help_text="Empty: not measured.")

    class Meta:
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name
