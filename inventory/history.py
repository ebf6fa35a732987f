"""What was really used, week by week, and what is usual: the ground for how long stock lasts and what to order.

A week is seven days that end today, the one before ends a week ago, and so on; days are the shop's. What was put back
or undone counts against the week it was taken in. Write-offs and count differences are no use.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from decimal import Decimal
from statistics import stdev
from typing import NamedTuple

from django.db.models import Case, Expression, IntegerField, Min, Sum, Value, When

from inventory.models import DayTotal, Lot, MovementKind

WEEKS = 26  # half a year: long enough to see a season begin, short enough to forget the last shop's habits; ours
FEWEST_WEEKS = 4  # a material new on the shelf is judged as if it had been there a month; common practice, no source
USED = (MovementKind.USE, MovementKind.RETURN)
NOTHING = Decimal(0)


class Usual(NamedTuple):
    """What is usual of one material, in its unit: a day's use and its deviation, and from how many weeks."""

    per_day: float
    sigma: float
    weeks: int


def week_starts(today: date, weeks: int = WEEKS) -> list[date]:
    """The first day of each week, the oldest first; the last one ends today."""
    return [today - timedelta(days=7 * back - 1) for back in range(weeks, 0, -1)]


def use_by_week(today: date, materials: Collection[int], weeks: int = WEEKS) -> dict[int, list[Decimal]]:
    """What was used of each material in each week, the oldest first, in its unit. One query."""
    starts = week_starts(today, weeks)
    rows = (
        DayTotal.objects.filter(material__in=materials, side__in=USED, happened_on__range=(starts[0], today))
        .annotate(week=_number_of_week(starts))
        .order_by()
        .values_list("material", "week")
        .annotate(Sum("quantity"))
    )
    found = {material: [NOTHING] * weeks for material in materials}
    for material, week, moved in rows:
        found[material][week] = -moved
    return found


def _number_of_week(starts: list[date], first: int = 0) -> Expression:
    """Halving the weeks again and again, for every row is asked: five questions and not twenty-six."""
    if len(starts) == 1:
        return Value(first, IntegerField())
    half = len(starts) // 2
    later, earlier = _number_of_week(starts[half:], first + half), _number_of_week(starts[:half], first)
    return Case(When(happened_on__gte=starts[half], then=later), default=earlier, output_field=IntegerField())


def known_since(materials: Collection[int]) -> dict[int, date]:
    """When each material first came in. One query."""
    rows = Lot.objects.filter(material__in=materials).order_by().values("material").annotate(first=Min("received_on"))
    return {row["material"]: row["first"] for row in rows}


def usual(by_week: list[Decimal], since: date | None, today: date) -> Usual:
    """A day's use and its deviation out of weekly sums (a week's deviation is √7 of a day's, days being alike).

    Weeks before the material was first there do not count, but never fewer than a month is looked at.
    """
    there = len(by_week) if since is None else (today - since).days // 7 + 1
    weeks = max(min(FEWEST_WEEKS, len(by_week)), min(len(by_week), there))
    sums = [max(0.0, float(used)) for used in by_week[-weeks:]]
    return Usual(sum(sums) / (7 * weeks), (stdev(sums) / 7**0.5) if weeks > 1 else 0.0, weeks)
