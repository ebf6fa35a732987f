"""What this shop's own history taught, as it was last worked out, and how it has kept; totals of bench hours."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from shop.fields import QuantityField
from shop.models import Row, User

LEARNED_VERSION = 3
"""Of what `Experience` keeps as JSON: one more with every change of its shape or of what a figure in it means."""

BACKTEST_VERSION = 1
"""Of what `Backtest` keeps as JSON: one more with every change of its shape or of what a figure in it means."""


class ExperienceQuerySet(models.QuerySet["Experience"]):
    """States of learning as pages ask for them."""

    def readable(self) -> ExperienceQuerySet:
        """As this version of the software keeps it; another counts as not learned yet."""
        return self.filter(version=LEARNED_VERSION)


class BacktestQuerySet(models.QuerySet["Backtest"]):
    """Backtests as pages ask for them."""

    def readable(self) -> BacktestQuerySet:
        """As this version of the software keeps it; another counts as not worked out yet."""
        return self.filter(version=BACKTEST_VERSION)


class Experience(Row):
    """The one row of what was learned: the state itself, what estimates take from it, and from how much it was learned.

    Quotes keep the factors they were made with and the digest; this row only ever holds the present. It is derived from
    rows, so one that another version of the software kept is not read but worked out anew.
    """

    version = models.PositiveSmallIntegerField("of how it is kept", default=0)
    state = models.JSONField("the learned state", default=dict)
    trade = models.JSONField("where it started: materials and trade factors", default=dict)
    figures = models.JSONField("what estimates take from it", default=dict)
    points = models.JSONField("the logs behind each figure", default=dict)
    doubtful = models.JSONField("logs in doubt", default=list)
    digest = models.CharField(max_length=64, blank=True)
    jobs = models.PositiveIntegerField("finished jobs", default=0)
    logs = models.PositiveIntegerField(default=0)
    counts = models.PositiveIntegerField(default=0)
    notes = models.JSONField("what could not be believed", default=list)
    learned_at = models.DateTimeField(null=True, blank=True)
    stale_since = models.DateTimeField("waits to be worked out again", null=True, blank=True)
    asked = models.JSONField("the question of the day: {on, step, material}", default=dict, blank=True)

    objects = ExperienceQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1), name="one_experience", violation_error_message="A shop has one experience."
            )
        ]

    def __str__(self) -> str:
        return f"learned from {self.jobs} jobs"


class Backtest(Row):
    """The one row of the last walk through the shop's finished jobs, each foretold from what was known before it."""

    version = models.PositiveSmallIntegerField("of how it is kept", default=0)
    answer = models.JSONField("as `backtest --json` prints it", default=dict)
    hourly = models.FloatField("cost of a hands-on hour", default=0.0)
    jobs = models.PositiveIntegerField("finished jobs", default=0)
    made_at = models.DateTimeField(null=True, blank=True)

    objects = BacktestQuerySet.as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(pk=1), name="one_backtest", violation_error_message="A shop keeps one backtest."
            )
        ]

    def __str__(self) -> str:
        return f"worked out from {self.jobs} jobs"


class BenchHoursQuerySet(models.QuerySet["BenchHours"]):
    """Totals of hours as pages ask for them."""

    def standing(self) -> BenchHoursQuerySet:
        """Those that were not taken back."""
        return self.filter(taken_back_at__isnull=True)


class BenchHours(Row):
    """Hands-on minutes of one person from one day to another, both included, whatever steps they were spent on."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    from_day = models.DateField("from")
    to_day = models.DateField("to")
    minutes = QuantityField("hands-on minutes in all")
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken_back_at = models.DateTimeField("taken back", null=True, blank=True)

    objects = BenchHoursQuerySet.as_manager()

    class Meta:
        ordering = ["from_day", "pk"]
        verbose_name_plural = "bench hours"
        constraints = [
            models.CheckConstraint(
                condition=Q(minutes__gt=0),
                name="bench_minutes_above_zero",
                violation_error_message="Minutes must be above zero.",
            ),
            models.CheckConstraint(
                condition=Q(to_day__gte=F("from_day")),
                name="bench_days_in_order",
                violation_error_message="The last day must not lie before the first.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.minutes} min of {self.person} from {self.from_day} to {self.to_day}"
