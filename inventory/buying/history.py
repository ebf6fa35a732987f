"""What was really used, week by week, and what is usual: the ground for how long stock lasts and what to order.

A week is that of the calendar, from Monday (ISO 8601), and the last one is still running. Days are the shop's. What was
undone counts for nothing in the week it was booked in. Write-offs and count differences are no use.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date, timedelta
from decimal import Decimal
from statistics import stdev
from typing import NamedTuple

from django.db.models import Min

from inventory.models import Lot, WeekUse
from inventory.stock.totals import monday

WEEKS = 26  # half a year: long enough to see a season begin, short enough to forget the last shop's habits; ours
FEWEST_WEEKS = 4  # a material new on the shelf is judged as if it had been there a month; common practice, no source
NOTHING = Decimal(0)


class Usual(NamedTuple):
    """What is usual of one material, in its unit: a day's use and its deviation, and from how many weeks."""

    per_day: float
    sigma: float
    weeks: int


def week_starts(today: date, weeks: int = WEEKS) -> list[date]:
    """The Mondays of so many whole weeks, the oldest first, and that of the running week."""
    return [monday(today) - timedelta(weeks=back) for back in range(weeks, -1, -1)]


def use_by_week(today: date, materials: Collection[int], weeks: int = WEEKS) -> dict[int, list[Decimal]]:
    """What was used of each material in each of `week_starts`, in its unit. One query."""
    starts = week_starts(today, weeks)
    number = {week: at for at, week in enumerate(starts)}
    found = {material: [NOTHING] * len(starts) for material in materials}
    rows = WeekUse.objects.filter(material__in=materials, week__range=(starts[0], starts[-1])).order_by()
    for material, week, used in rows.values_list("material", "week", "quantity"):
        found[material][number[week]] = used
    return found


def known_since(materials: Collection[int]) -> dict[int, date]:
    """When each material first came in. One query."""
    rows = Lot.objects.filter(material__in=materials).order_by().values("material").annotate(first=Min("received_on"))
    return {row["material"]: row["first"] for row in rows}


def usual(by_week: list[Decimal], since: date | None, today: date) -> Usual:
    """A day's use and its deviation out of the sums of `use_by_week` (a week's is √7 of a day's, days being alike).

    Whole weeks count, from the one in which the material was first there. Where there are fewer than a month of them,
    a month is looked at that ends with the running week, so that a new shop is told something.
    """
    whole = len(by_week) - 1
    there = whole if since is None else min(whole, (monday(today) - monday(since)).days // 7)
    weeks = max(FEWEST_WEEKS, there)
    looked_at = by_week[:-1] if there >= FEWEST_WEEKS else by_week
    sums = [max(0.0, float(used)) for used in looked_at[-weeks:]]
    return Usual(sum(sums) / (7 * weeks), stdev(sums) / 7**0.5, weeks)
