"""When hands are at the bench: hours of the week of those who work here, and days on which somebody is away.

Rooms above that reckon with these hours listen to `hours_changed`; closing days and working days send it too.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, time, timedelta

from django.dispatch import Signal
from django.utils.dates import WEEKDAYS

from shop.models import Absence, BenchShift, Profile, Role, User
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action, checked
from shop.text.stretches import Stretch, WrongStretch, in_order, said

hours_changed = Signal()
"""Sent once, inside the transaction of each act that changes when hands are there: sender=Profile, at."""

MOST_DAYS_AWAY = 366  # with both ends; who stays away longer works here no more
USUAL = ((time(9), time(13)), (time(14), time(18)))  # hours of a day that are offered; common practice, no source

Week = dict[int, list[Stretch]]
"""Stretches by weekday, 0 for Monday; days without any are left out."""


def hours_change(*, signed: Signed) -> None:
    """Tell the rooms above that hours are others now."""
    hours_changed.send(sender=Profile, at=signed.at)


def weeks_of(people: Sequence[User]) -> dict[int, Week]:
    """The hours of the week of some people, by key. One query."""
    weeks: dict[int, Week] = {person.pk: {} for person in people}
    for shift in BenchShift.objects.filter(person__in=weeks):
        weeks[shift.person_id].setdefault(shift.weekday, []).append((shift.begins, shift.ends))
    return weeks


@action("hours.set", Role.KEEPER)
def set_hours(*, signed: Signed, person: User, week: Mapping[int, Sequence[Stretch]]) -> User:
    """A person's hours of the week, by weekday from 0 for Monday; who has none is not counted on. Raises Refused."""
    person = User.objects.select_for_update().get(pk=person.pk)
    _works_here(person)
    wanted = {day: rows for day in range(7) if (rows := _in_order(day, week.get(day, ())))}
    if wanted == weeks_of([person])[person.pk]:
        return person
    BenchShift.objects.filter(person=person).delete()
    shifts = [
        checked(BenchShift(person=person, weekday=day, begins=begins, ends=ends))
        for day, rows in wanted.items()
        for begins, ends in rows
    ]
    BenchShift.objects.bulk_create(shifts)
    details = {str(WEEKDAYS[day]): said(rows) for day, rows in wanted.items()}
    signed.record(person, f"Hours of {person.name} at the bench: {_words(wanted)}", details=details)
    hours_change(signed=signed)
    return person


def _works_here(person: User, field: str | None = None) -> None:
    if not person.is_active:
        raise Refused(f"{person.name} no longer works here: pick somebody who may log in.", field=field)


def _in_order(day: int, stretches: Sequence[Stretch]) -> list[Stretch]:
    try:
        return in_order(stretches)
    except WrongStretch as problem:
        raise Refused(f"{WEEKDAYS[day]}: {problem}", field=f"week.{day}") from None


def _words(week: Week) -> str:
    """What a week comes to: 38 h on 5 days."""
    minutes = sum(_minutes(one) for rows in week.values() for one in rows)
    return f"{minutes / 60:.4g} h on {len(week)} day{'s' * (len(week) != 1)}" if week else "none"


def _minutes(stretch: Stretch) -> int:
    begins, ends = stretch
    return (ends.hour - begins.hour) * 60 + ends.minute - begins.minute


def hours_in(week: Week) -> float:
    """Hours of a whole week."""
    return sum(_minutes(one) for rows in week.values() for one in rows) / 60


# --- days away --------------------------------------------------------------------------------------------------------


@action("absence.add", *EVERY_ROLE)
def add_absence(
    *, signed: Signed, first: date, last: date | None = None, reason: str = "", person: User | None = None
) -> Absence:
    """Days on which somebody is not at the bench, both ends included; the keeper's for all, others' for themselves.

    The reason is kept with the row and not in the journal. Raises Refused.
    """
    person = User.objects.select_for_update().get(pk=(person or signed.by).pk)
    last = last or first
    _may_for(person, signed, field="person")
    _works_here(person, field="person")
    if last < first:
        raise Refused("The last day away must not lie before the first.", field="last")
    if (last - first).days >= MOST_DAYS_AWAY:
        sentence = "More than a year away is no absence: say under Shop, Who works here, that the login is no more."
        raise Refused(sentence, field="last")
    there = Absence.objects.filter(person=person, first__lte=last, last__gte=first).first()
    if there is not None:
        raise Refused(
            f"{person.name} is away {_days(there.first, there.last)} already: give other days.", field="first"
        )
    absence = Absence(person=person, first=first, last=last, reason=reason, made_at=signed.at, by=signed.by)
    checked(absence).save()
    signed.record(absence, f"{person.name} away {_days(first, last)}")
    hours_change(signed=signed)
    return absence


@action("absence.take_back", *EVERY_ROLE)
def take_absence_back(*, signed: Signed, absence: Absence) -> None:
    """Somebody is there after all. Days away that are past stay; nothing happens if it was taken back just before.

    Raises Refused.
    """
    row = Absence.objects.select_for_update(of=("self",)).select_related("person").filter(pk=absence.pk).first()
    if row is None:
        return
    _may_for(row.person, signed)
    words = f"{row.person.name} not away {_days(max(row.first, signed.day), row.last)} after all"
    if row.last < signed.day:
        raise Refused("These days away are past; they stay.")
    if row.first < signed.day:
        row.last = signed.day - timedelta(days=1)
        row.save(update_fields=["last"])
    else:
        Absence.objects.filter(pk=row.pk).delete()
    signed.record(row, words)
    hours_change(signed=signed)


def _may_for(person: User, signed: Signed, field: str | None = None) -> None:
    if person != signed.by and not signed.by.is_keeper:
        raise Refused("Days away of others are the keeper’s to enter; your own you may.", field=field)


def _days(first: date, last: date) -> str:
    return f"on {first}" if first == last else f"from {first} to {last}"
