"""A quote: for each board up to five ways, each a sum of recipes with their measures."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from django.db import models
from django.db.models import Q

from quotes.costing.snapshot import MeasureTaken, PlannedStep, Problem, Snapshot, problems_from_json, steps_from_json
from quotes.models.document import Document
from quotes.models.reading import read_once
from quotes.models.recipe import RecipeVersion
from quotes.models.takein import Damage, TakeIn
from shop.fields import MoneyField, PercentField
from shop.models import Customer, Row, User

WAYS_AT_MOST = 5


class Quote(Row):
    """What the shop offers, written at take-in; numbered and frozen when sent."""

    class State(models.TextChoices):
        """States of a quote."""

        DRAFT = "draft", "being written"
        SENT = "sent", "sent, waiting for an answer"
        AGREED = "agreed", "agreed"
        DECLINED = "declined", "declined"
        REPLACED = "replaced", "replaced by a newer version"

    UNANSWERED = (State.DRAFT, State.SENT)

    payer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="quotes")
    state = models.CharField(max_length=10, choices=State, default=State.DRAFT)
    series = models.CharField(max_length=50, default="quote", editable=False)
    sequence = models.PositiveIntegerField(null=True, editable=False, help_text="Empty: not sent yet.")
    number = models.CharField(max_length=30, blank=True, editable=False)
    version = models.PositiveSmallIntegerField(default=1)
    replaces = models.OneToOneField("self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by")
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT)
    sent_at = models.DateTimeField(null=True, blank=True)
    valid_until = models.DateField(null=True, blank=True)
    note = models.TextField("a word to the customer", max_length=2000, blank=True)
    rush_percent = PercentField("supplement for a rush", default=Decimal(0))
    decline_reason = models.CharField("why not", max_length=200, blank=True)
    document = models.ForeignKey(Document, on_delete=models.PROTECT, null=True, blank=True, related_name="+")

    class Meta:
        ordering = ["-pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["series", "sequence", "version"],
                condition=Q(sequence__isnull=False),
                name="quote_number_once",
            )
        ]

    def __str__(self) -> str:
        if not self.number:
            return f"Draft {self.pk}"
        return f"Quote {self.number}" + (f", version {self.version}" if self.version > 1 else "")

    @property
    def open_to_change(self) -> bool:
        """Whether it may still be changed."""
        return self.state == self.State.DRAFT

    @property
    def mark(self) -> str:
        """The shape that goes with the state's word on a screen."""
        marks = {self.State.SENT: "wait", self.State.AGREED: "done", self.State.DRAFT: "now"}
        return marks.get(self.State(self.state), "ahead")

    def expired(self, day: date) -> bool:
        """Whether it is sent and no longer valid on a day."""
        return self.state == self.State.SENT and self.valid_until is not None and self.valid_until < day


class QuoteBoard(Row):
    """One board on a quote."""

    quote = models.ForeignKey(Quote, on_delete=models.PROTECT, related_name="boards")
    takein = models.ForeignKey(TakeIn, on_delete=models.PROTECT, related_name="quoted")

    class Meta:
        ordering = ["quote", "pk"]
        constraints = [models.UniqueConstraint(fields=["quote", "takein"], name="board_once_on_a_quote")]

    def __str__(self) -> str:
        return f"{self.takein} on {self.quote}"


class Way(Row):
    """One of several ways to fix a board; its price and the build-up behind it are kept as they were worked out."""

    board = models.ForeignKey(QuoteBoard, on_delete=models.CASCADE, related_name="ways")
    position = models.PositiveSmallIntegerField()
    title = models.CharField("title", max_length=120)
    words = models.TextField("what the customer reads", max_length=2000, blank=True)
    ready_on = models.DateField(null=True, blank=True)
    ready_by_hand = models.BooleanField("ready date set by hand", default=False)
    ready = models.JSONField(
        "what is known of its ready day", default=dict, blank=True,
        help_text="Days even, likely (eight in ten) and nine; chance of the day, what a yes does to others (touched), "
        "digest of the state, draws; trouble: why it is not known.",
    )  # fmt: skip
    price_by_hand = MoneyField("price set by hand", null=True, blank=True, help_text="Empty: as worked out.")
    price_reason = models.CharField("why by hand", max_length=200, blank=True)
    cost = MoneyField(null=True, help_text="Empty: something is still missing.")
    net = MoneyField(null=True)
    tax = MoneyField(null=True)
    gross = MoneyField(null=True)
    tax_percent = PercentField(default=Decimal(0))
    minutes = models.FloatField(default=0)
    added_weight_g = models.FloatField(default=0)
    totals = models.JSONField(default=dict, help_text="The pricing of the whole way, as worked out.")
    problems = models.JSONField(default=list)
    steps = models.JSONField(
        default=list, help_text="Those of the bench where it has several repairs; empty: each repair has its own."
    )
    agreed_at = models.DateTimeField(null=True, blank=True)
    agreed_how = models.CharField(max_length=120, blank=True)
    agreed_by = models.ForeignKey(User, on_delete=models.PROTECT, null=True, blank=True)

    class Meta:
        ordering = ["board", "position"]
        constraints = [
            models.UniqueConstraint(fields=["board", "position"], name="way_position_once"),
            models.UniqueConstraint(
                fields=["board"], condition=Q(agreed_at__isnull=False), name="one_way_agreed",
                violation_error_message="Another way for this board is already agreed.",
            ),
        ]  # fmt: skip

    def __str__(self) -> str:
        return self.title

    @property
    def planned_steps(self) -> tuple[PlannedStep, ...]:
        """The steps of its bench; none where each of its repairs has its own."""
        return read_once(self, "steps", steps_from_json)

    @planned_steps.setter
    def planned_steps(self, planned: Sequence[PlannedStep]) -> None:
        self.steps = [step.to_json() for step in planned]

    @property
    def lacks(self) -> tuple[Problem, ...]:
        """What stood between it and its price when it was worked out."""
        return read_once(self, "problems", problems_from_json)


class WayPart(Row):
    """One recipe with its measures inside a way: one damage mended."""

    way = models.ForeignKey(Way, on_delete=models.CASCADE, related_name="parts")
    damage = models.ForeignKey(Damage, on_delete=models.PROTECT, null=True, blank=True, related_name="parts")
    recipe_version = models.ForeignKey(RecipeVersion, on_delete=models.PROTECT, related_name="parts")
    measures = models.JSONField(default=dict, help_text="Name to what was typed.")
    accepted_odd = models.JSONField("odd measures said to be right", default=list)
    optional = models.BooleanField("the customer may leave it", default=False)
    snapshot = models.JSONField(default=dict, help_text="Its share of the way's estimate, as worked out.")

    class Meta:
        ordering = ["way", "pk"]

    def __str__(self) -> str:
        return f"{self.recipe_version.recipe.name} in {self.way}"

    @property
    def estimate(self) -> Snapshot:
        """Its share of the way's estimate as it was worked out; `NO_SNAPSHOT` before that."""
        return read_once(self, "snapshot", Snapshot.from_json)

    @estimate.setter
    def estimate(self, worked_out: Snapshot) -> None:
        self.snapshot = worked_out.to_json()

    @property
    def measured(self) -> list[MeasureTaken]:
        """The measures of the estimate in the recipe's order; PostgreSQL keeps no order inside JSON."""
        found = self.estimate.measures
        return [found[one["name"]] for one in self.recipe_version.body["measures"] if one["name"] in found]


class WayLine(Row):
    """A line by hand on a way: a fin set, a courier, a bought-in spray job."""

    way = models.ForeignKey(Way, on_delete=models.CASCADE, related_name="lines")
    words = models.CharField("what", max_length=200)
    price = MoneyField("price to the customer", help_text="With or without tax, as the shop's prices are.")
    cost = MoneyField("cost to the shop without tax", default=Decimal(0))
    tax_percent = PercentField(default=Decimal(0))

    class Meta:
        ordering = ["way", "pk"]

    def __str__(self) -> str:
        return self.words
