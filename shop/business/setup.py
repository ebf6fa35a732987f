"""The first day: the shop's own row, its rates and series, and the first keeper, all at once or not at all.

Rooms above put in what they start with (materials, recipes) by listening to `shop_set_up`; it is sent at the end of
the same transaction, so a shop is never half set up.
"""

from __future__ import annotations

import zoneinfo
from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from django.db import IntegrityError, transaction
from django.dispatch import Signal
from django.utils import timezone

from shop.business.numbering import STARTING_SERIES
from shop.business.staff import new_login
from shop.countries import usual
from shop.measures.money import stored
from shop.models import JournalEntry, LabourRate, NumberSeries, Overhead, Profile, Role, TaxRate
from shop.platform import journal
from shop.platform.acts import Refused, checked, internal

shop_set_up = Signal()
"""Sent once, inside the transaction of `set_up`: sender=Profile, profile, by (the first keeper), at."""

MONDAY_TO_FRIDAY = [0, 1, 2, 3, 4]


@internal
def set_up(
    *,
    profile: dict[str, Any],
    tax_rates: Sequence[dict[str, Any]],
    wage: Decimal,
    overhead_monthly: Decimal,
    productive_hours: Decimal,
    series: dict[str, int],
    keeper: dict[str, str],
    at: datetime,
    guessed: Sequence[str] = (),
) -> Profile:
    """The shop, ready to work in.

    `profile`: fields of Profile. `tax_rates`: name, category, percent, for_repairs and maybe from_day (the shop's own
    today otherwise). `wage`, `overhead_monthly`: money, an hour and a month. `productive_hours`: hands-on, a month.
    `series`: key of STARTING_SERIES to its next number, those not named begin at 1. `keeper`: username, name, password.
    `guessed`: which of wage, overhead_monthly and productive_hours were only offered (countries.usual), not looked at.
    Raises Refused, also when the shop is set up already.
    """
    shop = Profile(
        **{"working_days": MONDAY_TO_FRIDAY, "measures_in": usual.measures_in(profile["country"]), **profile}
    )
    if Profile.objects.exists():
        raise Refused("The shop is set up already.")
    checked(shop)
    if sum(bool(rate["for_repairs"]) for rate in tax_rates) != 1:
        raise Refused("Exactly one tax rate is the one for repairs.", field="repair_rate")
    try:
        with transaction.atomic():
            shop.save(force_insert=True)
    except IntegrityError:  # two windows at once
        raise Refused("The shop is set up already.") from None
    today = timezone.localdate(at, timezone=_zone(shop))
    for rate in tax_rates:
        checked(TaxRate(**{"from_day": today, **rate})).save()
    checked(LabourRate(wage_per_hour=stored(wage), from_day=today)).save()
    checked(Overhead(monthly=stored(overhead_monthly), productive_hours=productive_hours, from_day=today)).save()
    _start_series(series)
    person = new_login(**keeper, role=Role.KEEPER)
    journal.record(
        by=person, verb="shop.set_up", row=shop, words=f"Set up {shop.name}", at=at, details={"guessed": [*guessed]}
    )
    shop_set_up.send(sender=Profile, profile=shop, by=person, at=at)
    return shop


def still_guessed(wage: LabourRate | None, overhead: Overhead | None) -> set[str]:
    """Which of "wage" and "overhead" are still the guess that set-up offered and nobody touched."""
    shop = Profile.objects.get()
    first = JournalEntry.objects.filter(about=journal.about(shop), verb="shop.set_up").first()
    guess = usual.guess(shop.currency)
    offered = first.details.get("guessed", []) if first else []
    found = set()
    if guess and wage and "wage" in offered and wage.wage_per_hour == guess.wage:
        found.add("wage")
    if guess and overhead and "overhead_monthly" in offered and overhead.monthly == guess.overhead_monthly:
        found.add("overhead")
    return found


def _start_series(series: dict[str, int]) -> None:
    strangers = set(series) - set(STARTING_SERIES)
    if strangers:
        raise TypeError(f"no such series: {sorted(strangers)}")
    for key, (prefix, width) in STARTING_SERIES.items():
        row = NumberSeries(key=key, prefix=prefix, width=width, next_number=series.get(key, 1))
        checked(row).save(force_insert=True)


def _zone(shop: Profile) -> zoneinfo.ZoneInfo:
    try:
        return zoneinfo.ZoneInfo(shop.timezone)
    except (zoneinfo.ZoneInfoNotFoundError, ValueError):
        raise Refused(f"{shop.timezone} is not a time zone, like Europe/Dublin.", field="timezone") from None
