"""Totals of each day and each week, kept beside the movements, so that what a page reads does not grow with them.

Invariant: each total is the sum of its movements; `inventory.stock.books` proves it. Only the ledger adds to them, with
the material locked; they are worked out anew when the shop moves to another time zone, for a day is then another day.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db import connection
from django.db.models import Sum
from django.db.models.functions import TruncDate, TruncWeek

from inventory.models import DayTotal, Movement, MovementKind, WeekUse
from shop.fields import columns
from shop.models import Profile

Day = tuple[int, str, date]  # material, side, recorded on
Week = tuple[int, date]  # material, the Monday of the week it happened in
Both = tuple[Decimal, Decimal]  # a quantity in the material's unit, and what it is worth
NOTHING = Decimal(0)
NONE: Both = (NOTHING, NOTHING)
USED = (MovementKind.USE, MovementKind.RETURN)
OF_A_DAY = ("material", "side", "recorded_on", "quantity", "value")
OF_A_WEEK = ("material", "week", "quantity")

# A row that is added to or made, whichever it needs, in one statement; Django's own upsert can only overwrite.
ADD_TO_DAY = """
    INSERT INTO inventory_daytotal AS there (material_id, side, recorded_on, quantity, value)
    VALUES (%s, %s, %s, %s, %s) ON CONFLICT (material_id, side, recorded_on)
    DO UPDATE SET quantity = there.quantity + excluded.quantity, value = there.value + excluded.value
"""
ADD_TO_WEEK = """
    INSERT INTO inventory_weekuse AS there (material_id, week, quantity)
    VALUES (%s, %s, %s) ON CONFLICT (material_id, week)
    DO UPDATE SET quantity = there.quantity + excluded.quantity
"""


def shop_zone() -> str:
    """The shop's time zone, which says what a day is, whoever asks."""
    return Profile.objects.values_list("timezone", flat=True).first() or "UTC"


def monday(day: date) -> date:
    """The first day of a day's week (ISO 8601)."""
    return day - timedelta(days=day.weekday())


def add(movements: Iterable[Movement], zone: str) -> None:
    """Add new movements to the totals of their days and weeks. Their material is locked by whoever calls."""
    there = ZoneInfo(zone)
    days: dict[Day, Both] = {}
    weeks: dict[Week, Decimal] = {}
    for one in movements:
        first = one.reverses or one
        day = one.material_id, first.kind, _day(one.recorded_at, there)
        quantity, value = days.get(day, NONE)
        days[day] = quantity + one.quantity, value + one.value
        if first.kind in USED:
            week = one.material_id, monday(_day(first.happened_at, there))
            weeks[week] = weeks.get(week, NOTHING) - one.quantity
    of_days = [
        DayTotal(material_id=material, side=side, recorded_on=day, quantity=quantity, value=value)
        for (material, side, day), (quantity, value) in days.items()
    ]
    of_weeks = [WeekUse(material_id=material, week=week, quantity=used) for (material, week), used in weeks.items()]
    with connection.cursor() as cursor:
        cursor.executemany(ADD_TO_DAY, [columns(row, OF_A_DAY) for row in of_days])
        if of_weeks:
            cursor.executemany(ADD_TO_WEEK, [columns(row, OF_A_WEEK) for row in of_weeks])


def _day(moment: datetime, there: ZoneInfo) -> date:
    return moment.astimezone(there).date()


def days_worked_out(zone: str) -> dict[Day, Both]:
    """What the totals of days must be, from all movements. One query that reads every one of them."""
    found = (
        Movement.objects.as_they_count()
        .order_by()
        .annotate(recorded_on=TruncDate("recorded_at", tzinfo=ZoneInfo(zone)))
    )
    sums = found.values_list("material", "side", "recorded_on").annotate(Sum("quantity"), Sum("value"))
    return {(material, side, day): (quantity, value) for material, side, day, quantity, value in sums}


def weeks_worked_out(zone: str) -> dict[Week, Decimal]:
    """What the use of weeks must be, from all movements. One query that reads every one of them."""
    found = Movement.objects.as_they_count().order_by().filter(side__in=USED)  # type: ignore[misc] # as_they_count's
    found = found.annotate(week=TruncWeek("then", tzinfo=ZoneInfo(zone)))
    sums = found.values_list("material", "week").annotate(Sum("quantity"))  # type: ignore[misc] # of the line above
    return {(material, week.date()): -quantity for material, week, quantity in sums}


def days_kept() -> dict[Day, Both]:
    """The totals of days as they stand."""
    rows = DayTotal.objects.values_list("material", "side", "recorded_on", "quantity", "value")
    return {(material, side, day): (quantity, value) for material, side, day, quantity, value in rows}


def weeks_kept() -> dict[Week, Decimal]:
    """The use of weeks as it stands."""
    return {
        (material, week): quantity
        for material, week, quantity in WeekUse.objects.values_list("material", "week", "quantity")
    }


def work_out_anew(zone: str) -> None:
    """Put what the movements make in the place of all totals. The caller sees to it that nothing moves meanwhile."""
    DayTotal.objects.all().delete()
    WeekUse.objects.all().delete()
    DayTotal.objects.bulk_create(
        (
            DayTotal(material_id=material, side=side, recorded_on=day, quantity=quantity, value=value)
            for (material, side, day), (quantity, value) in days_worked_out(zone).items()
        ),
        batch_size=1000,
    )
    WeekUse.objects.bulk_create(
        (
            WeekUse(material_id=material, week=week, quantity=quantity)
            for (material, week), quantity in weeks_worked_out(zone).items()
        ),
        batch_size=1000,
    )
