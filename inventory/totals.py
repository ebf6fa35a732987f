"""Totals of each day, kept beside the movements so that what a page reads does not grow with every one of them.

Invariant: each total is the sum of its movements; `inventory.books` proves it. Only the ledger adds to them, with the
material locked; they are worked out anew when the shop moves to another time zone, for a day is then another day.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.db.models import Sum
from django.db.models.functions import Coalesce, TruncDate

from inventory.models import DayTotal, Movement
from shop.models import Profile
from shop.rows import Pen

Key = tuple[int, str, date, date]  # material, side, happened on, recorded on
Both = tuple[Decimal, Decimal]  # a quantity in the material's unit, and what it is worth
NONE: Both = (Decimal(0), Decimal(0))


def shop_zone() -> str:
    """The shop's time zone, which says what a day is, whoever asks."""
    return Profile.objects.values_list("timezone", flat=True).first() or "UTC"


def add(movements: Iterable[Movement], zone: str, pen: Pen) -> None:
    """Add new movements to the totals of their days. Their material is locked by whoever calls."""
    sums: dict[Key, Both] = {}
    for one in movements:
        key = _key(one, zone)
        quantity, value = sums.get(key, NONE)
        sums[key] = quantity + one.quantity, value + one.value
    for (material, side, happened_on, recorded_on), (quantity, value) in sums.items():
        day = {"material_id": material, "side": side, "happened_on": happened_on, "recorded_on": recorded_on}
        figures = {"quantity": quantity, "value": value}
        if not pen.add_to(DayTotal, figures, where=day):
            pen.insert(DayTotal(**day, **figures))


def _key(movement: Movement, zone: str) -> Key:
    first = movement.reverses or movement
    return movement.material_id, first.kind, _day(first.happened_at, zone), _day(movement.recorded_at, zone)


def _day(moment: datetime, zone: str) -> date:
    return moment.astimezone(ZoneInfo(zone)).date()


def worked_out(zone: str) -> dict[Key, Both]:
    """What the totals must be, from all movements. One query that reads every one of them."""
    there = ZoneInfo(zone)
    sums = (
        Movement.objects.order_by()
        .annotate(
            side=Coalesce("reverses__kind", "kind"),
            happened_on=TruncDate(Coalesce("reverses__happened_at", "happened_at"), tzinfo=there),
            recorded_on=TruncDate("recorded_at", tzinfo=there),
        )
        .values_list("material", "side", "happened_on", "recorded_on")
        .annotate(Sum("quantity"), Sum("value"))
    )
    return {(material, side, happened, recorded): (q, v) for material, side, happened, recorded, q, v in sums}


def kept() -> dict[Key, Both]:
    """The totals as they stand."""
    totals = DayTotal.objects.values_list("material", "side", "happened_on", "recorded_on", "quantity", "value")
    return {(material, side, happened, recorded): (q, v) for material, side, happened, recorded, q, v in totals}


def work_out_anew(zone: str) -> None:
    """Put what the movements make in the place of all totals. The caller sees to it that nothing moves meanwhile."""
    DayTotal.objects.all().delete()
    DayTotal.objects.bulk_create(
        (
            DayTotal(material_id=material, side=side, happened_on=happened, recorded_on=recorded, quantity=q, value=v)
            for (material, side, happened, recorded), (q, v) in worked_out(zone).items()
        ),
        batch_size=1000,
    )
