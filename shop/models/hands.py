"""When people are at the bench: hours of the week, days away; and addresses by which a calendar reads the plan."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from shop.models.logins import User
from shop.models.row import Row


class BenchShift(Row):
    """A stretch of a weekday in which a person is at the bench; a person without any is not counted on."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="shifts")
    weekday = models.PositiveSmallIntegerField("weekday", help_text="0 is Monday.")
    begins = models.TimeField("from")
    ends = models.TimeField("to")

    class Meta:
        ordering = ["person", "weekday", "begins"]
        constraints = [
            models.CheckConstraint(
                condition=Q(weekday__lte=6),
                name="shift_on_a_weekday",
                violation_error_message="A weekday is a number from 0, Monday, to 6, Sunday.",
            ),
            models.CheckConstraint(
                condition=Q(ends__gt=F("begins")),
                name="shift_ends_after_it_begins",
                violation_error_message="Hours must end after they begin, like 9:00 to 12:30.",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.begins:%H:%M} to {self.ends:%H:%M}"


class Absence(Row):
    """Days on which a person is not at the bench, both included."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="absences")
    first = models.DateField("first day away")
    last = models.DateField("last day away")
    reason = models.CharField("why", max_length=120, blank=True)
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["first", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last__gte=F("first")),
                name="absence_days_in_order",
                violation_error_message="The last day away must not lie before the first.",
            )
        ]

    def __str__(self) -> str:
        return f"{self.person} from {self.first} to {self.last}"


class CalendarAddress(Row):
    """An address by which somebody's calendar reads ready days and the plan, until it is taken back.

    `nonce` is half of its secret; the other half is the service's own key, so that rows alone open nothing.
    """

    nonce = models.CharField(max_length=64, unique=True, editable=False)
    name = models.CharField("for whom", max_length=80)
    made_at = models.DateTimeField()
    by = models.ForeignKey(User, on_delete=models.PROTECT, related_name="+")
    revoked_at = models.DateTimeField("taken back", null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        verbose_name_plural = "calendar addresses"

    def __str__(self) -> str:
        return self.name
