"""Days promised and what stood behind them; how the bench ahead was last seen."""

from __future__ import annotations

import base64
import json
import zlib
from typing import Any

from django.db import models
from django.db.models import Q

from quotes.models.job import Job
from shop.models import Row, User


class KeptState(Row):
    """The state of the bench behind a promise, so that it can be worked out again to the day."""

    digest = models.CharField(max_length=32, unique=True)
    packed = models.TextField("the neutral form, packed")

    def __str__(self) -> str:
        return self.digest

    @property
    def told(self) -> dict[str, Any]:
        """The state in the planner's neutral form."""
        return json.loads(zlib.decompress(base64.b64decode(self.packed)))  # type: ignore[no-any-return]

    @told.setter
    def told(self, state: dict[str, Any]) -> None:
        plain = json.dumps(state, sort_keys=True, separators=(",", ":")).encode()
        self.packed = base64.b64encode(zlib.compress(plain, 9)).decode()


class Promise(Row):
    """A day told to a customer, with the chance it had then; the last one of a job stands. Never changed."""

    class Because(models.TextChoices):
        """Why a day was told."""

        AGREED = "agreed", "the work was agreed"
        ANOTHER_WAY = "way", "another way was agreed"
        ANOTHER_DAY = "day", "another day was told"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="promises")
    day = models.DateField("promised for")
    by_hand = models.BooleanField("the day was set by hand", default=False)
    because = models.CharField(max_length=8, choices=Because, default=Because.AGREED)
    chance = models.FloatField("chance that it holds", null=True, blank=True, help_text="Empty: it was not known.")
    even_on = models.DateField("even chance", null=True, blank=True)
    likely_on = models.DateField("eight in ten", null=True, blank=True)
    nine_on = models.DateField("nine in ten", null=True, blank=True)
    state = models.ForeignKey(KeptState, on_delete=models.PROTECT, null=True, blank=True, related_name="promises")
    draws = models.PositiveIntegerField(default=0)
    at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(chance__isnull=True) | Q(chance__gte=0, chance__lte=1),
                name="chance_from_none_to_all",
                violation_error_message="A chance lies between 0 and 1.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.job} for {self.day}"


class Outlook(Row):
    """The one row of the bench ahead as it was last worked out; derived, and read by pages that work nothing out.

    `jobs` by key: day promised, its chance, even, likely and nine (days), before (the chance it had at the look
    before). `plan`: person (key), from, minutes, job and step (keys), two weeks ahead. `days`: hours of all people
    together by day: open, at the bench (less what goes elsewhere), planned. `helps`: what would lift a promise that
    fell below even. `trouble`: a sentence where the bench could not be played.
    """

    worked_at = models.DateTimeField(null=True, blank=True)
    digest = models.CharField(max_length=32, blank=True)
    draws = models.PositiveIntegerField(default=0)
    jobs = models.JSONField(default=dict)
    plan = models.JSONField(default=list)
    days = models.JSONField(default=list)
    helps = models.JSONField(default=list)
    trouble = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1), name="one_outlook", violation_error_message="A shop has one outlook."
            )
        ]

    def __str__(self) -> str:
        return f"the bench ahead at {self.worked_at}"
