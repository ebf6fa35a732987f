"""Hours noted as a total of days, and taken back."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

from django.utils import timezone

from quotes.experience.refit import learn_or_mark
from quotes.models import BenchHours
from shop.models import User
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action, checked


@action("hours.note", *EVERY_ROLE)
def note_hours(*, person: User, from_day: date, to_day: date, minutes: Decimal, signed: Signed) -> BenchHours:
    """A day's or a week's total of hands-on minutes of one person; learned from like a count. Raises Refused.

    Totals of one person come one after the other, so that two windows never store two for the same days.
    """
    User.objects.select_for_update(no_key=True).get(pk=person.pk)
    row = BenchHours(person=person, from_day=from_day, to_day=to_day, minutes=minutes, by=signed.by, at=signed.at)
    if to_day > timezone.localdate(signed.at):
        raise Refused("The last day must not lie in the future.", field="to_day")
    if BenchHours.objects.standing().filter(person=person, from_day__lte=to_day, to_day__gte=from_day).exists():
        raise Refused(
            "Hours of this person are noted for some of these days already. Take that total back first.",
            field="minutes",
        )
    checked(row).save()
    signed.record(row, f"Noted {minutes.normalize():f} min of {person.name}")
    learn_or_mark(at=signed.at)
    return row


@action("hours.take_back", *EVERY_ROLE)
def forget_hours(*, hours: BenchHours, signed: Signed) -> BenchHours:
    """A total is taken back by who it is of, or by a keeper: what it taught is forgotten. Raises Refused."""
    row = BenchHours.objects.select_for_update(of=("self",)).select_related("person").get(pk=hours.pk)
    if row.person != signed.by and not signed.by.is_keeper:
        raise Refused(f"This total is {row.person.name}’s: they or the keeper take it back.")
    if row.taken_back_at is not None:
        raise Refused("This total was already taken back.")
    row.taken_back_at = signed.at
    row.save(update_fields=["taken_back_at"])
    words = f"Took back a total of {row.minutes.normalize():f} min of {row.person.name}"
    signed.record(row, words)
    learn_or_mark(at=signed.at)
    return row
