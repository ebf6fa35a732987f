"""Tax points: what each paper accounts for, at each rate and on which ground."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NoReturn

from django.db import models
from django.db.models import F, Q

from quotes.models.invoice import Invoice, Payment
from quotes.models.job import Job
from quotes.totals import TaxRow
from quotes.totals.taxing import BACK, CREDIT, DEPOSIT, KEPT, ON_ACCOUNT, SALE, Rows, added, some
from shop.fields import MoneyField, PercentField
from shop.models import Row


class TaxPointQuerySet(models.QuerySet["TaxPoint"]):
    """Tax points as billing asks for them."""

    def rows(self) -> Rows:
        """Their sum at each category and rate."""
        return some(added(point.row for point in self.order_by()))

    def on_account(self, jobs: Iterable[Job]) -> dict[int, Rows]:
        """What is taxed of the money on each job's account, by the key of the job; of the others nothing. One query."""
        found: dict[int, list[TaxRow]] = {job.pk: [] for job in jobs}
        for point in self.filter(job__in=found, cause__in=ON_ACCOUNT).order_by():
            found[point.job_id or 0].append(point.row)
        return {job: some(added(rows)) for job, rows in found.items()}


class TaxPoint(Row):
    """Tax that a paper accounts for at one rate, on one ground; written by the act that makes it, never changed.

    Below zero it is taken back. `job` is the one on whose account the money lies, of what is of a deposit.
    """

    class Cause(models.TextChoices):
        """Grounds."""

        SALE = SALE, "charged"
        DEPOSIT = DEPOSIT, "deposit received"
        KEPT = KEPT, "deposit kept"
        CREDIT = CREDIT, "credited"
        BACK = BACK, "deposit paid back"

    invoice = models.ForeignKey(Invoice, on_delete=models.PROTECT, null=True, related_name="tax_points")
    payment = models.ForeignKey(Payment, on_delete=models.PROTECT, null=True, related_name="tax_points")
    job = models.ForeignKey(Job, on_delete=models.PROTECT, null=True, related_name="tax_points")
    day = models.DateField()
    cause = models.CharField(max_length=10, choices=Cause)
    tax_word = models.CharField("name of the tax", max_length=20, blank=True)
    category = models.CharField(max_length=2)
    percent = PercentField()
    net = MoneyField()
    tax = MoneyField()
    gross = MoneyField()
    derived = models.BooleanField("worked out later from the paper", default=False)

    objects = TaxPointQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(invoice__isnull=True, payment__isnull=False)
                | Q(invoice__isnull=False, payment__isnull=True),
                name="tax_point_of_one_paper",
                violation_error_message="A tax point is of one paper.",
            ),
            models.CheckConstraint(
                condition=Q(gross=F("net") + F("tax")),
                name="tax_point_adds_up",
                violation_error_message="Net and tax of a tax point make its gross.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_cause_display()}, {self.percent.normalize():f} %: {self.tax}"

    def save(self, *args: Any, **kwargs: Any) -> None:
        """Store a new tax point. Raises TypeError for one that is stored already."""
        if self.pk is not None:
            raise TypeError("A tax point is never changed; another paper takes it back.")
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> NoReturn:
        """Raises TypeError: a tax point is never deleted, another paper takes it back."""
        raise TypeError("A tax point is never deleted; another paper takes it back.")

    @property
    def row(self) -> TaxRow:
        """The point as a row of tax."""
        return TaxRow(self.category, self.percent, self.net, self.tax, self.gross)
