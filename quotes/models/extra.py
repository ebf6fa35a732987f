"""What changed of a job after it was agreed, and its sheets as they were printed."""

from __future__ import annotations

from decimal import Decimal

from django.db import models

from quotes.models.document import Document
from quotes.models.job import Job
from quotes.models.quote import Way
from shop.fields import MoneyField, PercentField
from shop.models import Row, User


class Extra(Row):
    """A change of what was agreed: work that turned up, another way instead, a stop after opening, no charge at all."""

    class Kind(models.TextChoices):
        EXTRA = "extra", "more work"
        ANOTHER = "another", "another way instead"
        ABSORBED = "absorbed", "done at our cost"
        STOPPED = "stopped", "opened, then stopped"
        UNCHARGED = "uncharged", "nothing is charged"

    class State(models.TextChoices):
        FOUND = "found", "noted at the bench"
        PRICED = "priced", "priced, customer to answer"
        AGREED = "agreed", "agreed"
        DECLINED = "declined", "declined"

    UNANSWERED = (State.FOUND, State.PRICED)

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="extras")
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.EXTRA)
    state = models.CharField(max_length=10, choices=State, default=State.FOUND)
    words = models.CharField("what turned up", max_length=400)
    found_at = models.DateTimeField()
    found_by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    way = models.ForeignKey(
        Way,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="+",
        help_text="What it is priced by.",
    )
    net = MoneyField(null=True, blank=True)
    tax = MoneyField(null=True, blank=True)
    gross = MoneyField(null=True, blank=True)
    tax_category = models.CharField(max_length=2, default="S")
    tax_percent = PercentField(default=Decimal(0))
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_how = models.CharField("how the customer answered", max_length=200, blank=True)

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return self.words

    @property
    def open(self) -> bool:
        """Nobody has answered it yet."""
        return self.state in self.UNANSWERED

    @property
    def mark(self) -> str:
        """The shape that goes with the state's word on a screen."""
        return {self.State.AGREED: "done", self.State.DECLINED: "ahead"}.get(self.State(self.state), "wait")


class JobSheet(Row):
    """A job sheet that was printed."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="sheets")
    document = models.ForeignKey(Document, on_delete=models.PROTECT, related_name="+")

    def __str__(self) -> str:
        return str(self.document)
