"""The keeper's verbs: the shop's own entries, its rates and days, and where its numbers go on."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.dispatch import Signal

from shop.business.hands import hours_change
from shop.measures.money import stored
from shop.models import ClosedDay, LabourRate, NumberSeries, Overhead, Profile, Role, TaxRate, User
from shop.platform.acts import Refused, Signed, action, checked

currency_asked = Signal()
"""Asked of the rooms above, sender=Profile: each answers with a sentence why the currency stays, or with nothing."""
currency_changed = Signal()
"""Sent once, inside the transaction of `change_profile`: sender=Profile, profile, by, at."""

MOST_CLOSED_AT_ONCE = 92  # days; a longer closure is a slip of the finger


@action("shop.change", Role.KEEPER)
def change_profile(*, signed: Signed, **entries: Any) -> Profile:
    """The shop's own entries. Papers already given out keep what they said.

    Another currency takes every amount typed before as one in it, figure by figure; refused once something was given
    out in the old one. Raises Refused.
    """
    profile = Profile.objects.select_for_update().get()
    before = profile.currency
    if entries.get("currency", before) != before and (stays := why_currency_stays()):
        raise Refused(stays, field="currency")
    changed = sorted(name for name, value in entries.items() if getattr(profile, name) != value)
    for name in changed:
        setattr(profile, name, entries[name])
    checked(profile).save()
    if changed:
        words = "Changed the shop's entries"
        signed.record(profile, words, details={"changed": changed})
    if profile.currency != before:
        words = f"Changed the currency from {before} to {profile.currency}; amounts kept their figures"
        signed.record(profile, words, key="shop.currency")
        currency_changed.send(sender=Profile, profile=profile, signed=signed)
    return profile


def why_currency_stays() -> str:
    """A sentence why the currency does not change any more; empty while it may."""
    return next((said for _, said in currency_asked.send(sender=Profile) if said), "")


@action("tax.add", Role.KEEPER)
def add_tax_rate(
    *, signed: Signed, name: str, category: str, percent: Decimal, from_day: date, for_repairs: bool
) -> TaxRate:
    """A tax rate from a day on. One for repairs takes the place of the one until then. Raises Refused."""
    if category != "S" and percent != 0:
        raise Refused("Only a standard rate has per cent above zero.", field="percent")
    if for_repairs:
        _end_the_one_for_repairs(from_day)
    rate = TaxRate(name=name, category=category, percent=percent, from_day=from_day, for_repairs=for_repairs)
    checked(rate).save()
    signed.record(rate, f"Tax rate {rate} from {from_day}")
    return rate


def _end_the_one_for_repairs(from_day: date) -> None:
    until = TaxRate.objects.select_for_update().filter(for_repairs=True)
    for rate in until:
        if rate.from_day >= from_day:
            sentence = f"Another rate for repairs begins on {rate.from_day}; this one must begin after it."
            raise Refused(sentence, field="from_day")
        if rate.to_day is None or rate.to_day >= from_day:
            rate.to_day = from_day - timedelta(days=1)
            rate.save(update_fields=["to_day"])


@action("tax.end", Role.KEEPER)
def end_tax_rate(*, signed: Signed, rate: TaxRate, to_day: date) -> TaxRate:
    """The last day of a rate. The one for repairs ends only by the next one, so that there always is one."""
    rate = TaxRate.objects.select_for_update().get(pk=rate.pk)
    if rate.for_repairs:
        raise Refused("This rate is used for repairs. Add the next one; it ends this one.", field="to_day")
    if to_day < rate.from_day:
        raise Refused(f"This rate begins on {rate.from_day}; it cannot end before.", field="to_day")
    rate.to_day = to_day
    checked(rate).save(update_fields=["to_day"])
    signed.record(rate, f"Tax rate {rate} ends on {to_day}")
    return rate


@action("wage.set", Role.KEEPER)
def set_wage(*, signed: Signed, person: User | None, wage_per_hour: Decimal, from_day: date) -> LabourRate:
    """What an hour costs from a day on: of one person, or (None) of everybody without a wage of their own."""
    Profile.objects.select_for_update().get()  # two windows on one day: one after the other
    rate = LabourRate.objects.filter(person=person, from_day=from_day).first()
    rate = rate or LabourRate(person=person, from_day=from_day)
    rate.wage_per_hour = stored(wage_per_hour)
    checked(rate).save()
    whose = person.name if person else "everybody else"
    signed.record(rate, f"Wage of {whose} from {from_day}: {wage_per_hour} an hour")
    return rate


@action("overhead.set", Role.KEEPER)
def set_overhead(*, signed: Signed, monthly: Decimal, productive_hours: Decimal, from_day: date) -> Overhead:
    """The month's overheads and the hands-on hours that carry them, from a day on. Raises Refused."""
    Profile.objects.select_for_update().get()
    overhead = Overhead.objects.filter(from_day=from_day).first() or Overhead(from_day=from_day)
    overhead.monthly, overhead.productive_hours = stored(monthly), productive_hours
    checked(overhead).save()
    words = f"Overheads from {from_day}: {monthly} a month over {productive_hours} hours"
    signed.record(overhead, words)
    return overhead


@action("days.close", Role.KEEPER)
def close_days(*, signed: Signed, first: date, last: date | None = None, reason: str = "") -> list[ClosedDay]:
    """Days the shop does not work, from `first` to `last`; those closed already keep their reason. Raises Refused."""
    last = last or first
    if last < first:
        raise Refused("The last day must not be before the first.", field="last")
    if (last - first).days >= MOST_CLOSED_AT_ONCE:
        raise Refused(f"At most {MOST_CLOSED_AT_ONCE} days at once; close the rest after that.", field="last")
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    already = set(ClosedDay.objects.filter(day__in=days).values_list("day", flat=True))
    closed = [checked(ClosedDay(day=day, reason=reason)) for day in days if day not in already]
    if not closed:
        raise Refused("The shop is closed then already.", field="first")
    ClosedDay.objects.bulk_create(closed)
    words = f"Closed on {first}" if first == last else f"Closed from {first} to {last}"
    signed.record(closed[0], words)
    hours_change(signed=signed)
    return closed


@action("days.open", Role.KEEPER)
def open_day(*, signed: Signed, closed: ClosedDay) -> None:
    """A closed day becomes a day like any other; nothing happens if somebody opened it just before."""
    if not ClosedDay.objects.select_for_update().filter(pk=closed.pk).exists():
        return
    signed.record(closed, f"Open after all on {closed.day}")
    ClosedDay.objects.filter(pk=closed.pk).delete()
    hours_change(signed=signed)


@action("days.week", Role.KEEPER)
def set_working_days(*, signed: Signed, days: Sequence[int]) -> Profile:
    """The days of the week the shop works, 0 for Monday. Raises Refused."""
    week = sorted(set(days))
    if not week or not set(week) <= set(range(7)):
        raise Refused("Tick at least one day of the week, or no board would ever be ready.", field="days")
    profile = Profile.objects.select_for_update().get()
    profile.working_days = week
    profile.save(update_fields=["working_days"])
    signed.record(profile, "Changed the working days", details={"days": week})
    hours_change(signed=signed)
    return profile


@action("series.move", Role.KEEPER)
def move_numbers_on(*, signed: Signed, next_numbers: dict[str, int]) -> None:
    """Where series go on, by key. A number can be left out, never given again: only upwards. Raises Refused."""
    for series in NumberSeries.objects.select_for_update().filter(key__in=next_numbers).order_by("pk"):
        number = next_numbers[series.key]
        if number < series.next_number:
            sentence = f"The next number can only go up; it is {series.next_number} now."
            raise Refused(sentence, field=series.key)
        if number == series.next_number:
            continue
        before, series.next_number = series.next_number, number
        checked(series).save(update_fields=["next_number"])
        signed.record(series, f"Series {series.key} goes on at {number} instead of {before}")
