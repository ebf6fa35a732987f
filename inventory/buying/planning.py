"""What is reserved, by day, and what will be missing or out of date when it is wanted.

Work ahead reserves a material, a quantity and a day; `inventory` does not know which work. A reservation moves nothing:
free is what is on hand less what is reserved. Each read here takes a fixed number of queries.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import groupby
from typing import NamedTuple

from inventory.buying.cover import Cover, Need, Stock, cover
from inventory.buying.orders import on_the_way
from inventory.formats import about
from inventory.models import Lot, Material, Reservation
from shop.measures import units
from shop.platform.acts import Refused, internal
from shop.text.formats import day as day_words

NOTHING = Decimal(0)


class Want(NamedTuple):
    """Something to reserve: how much of a material, in its unit, and the day it is needed."""

    material: Material
    quantity: Decimal
    needed_on: date


@internal
def reserve(*, wants: Iterable[Want], at: datetime) -> list[Reservation]:
    """Reservations for work ahead, in the order of `wants`; nothing is refused for want of stock, but said later.

    Quantities are rounded to the step that stock is kept in. Raises Refused for one that is not above zero.
    """
    rows = []
    for want in wants:
        quantity = units.to_step(want.quantity, want.material.unit)
        if quantity <= 0:
            raise Refused(f"A reservation of {want.material.name} must be of more than nothing.", field="quantity")
        rows.append(Reservation(material=want.material, quantity=quantity, needed_on=want.needed_on, made_at=at))
    return Reservation.objects.bulk_create(rows)


@internal
def move(*, days: Mapping[int, date]) -> int:
    """Set another day for reservations by key: the work comes earlier or later. Says how many."""
    rows = list(Reservation.objects.open().filter(pk__in=days))
    for row in rows:
        row.needed_on = days[row.pk]
    return Reservation.objects.bulk_update(rows, ["needed_on"]) if rows else 0


@internal
def release(*, reservations: Collection[int], at: datetime) -> int:
    """Let go of reservations by key: done, fallen away or planned anew. Says how many were still open."""
    return Reservation.objects.open().filter(pk__in=reservations).update(released_at=at)


class Wanted(NamedTuple):
    """One open reservation, what it will find, and when the next order of the material is expected, if there is one.

    What is not `watched`, because nobody has counted it yet or it is not tracked, is taken to be there.
    """

    reservation: Reservation
    cover: Cover
    expected_on: date | None
    watched: bool = True

    @property
    def short(self) -> bool:
        """Whether less is there than is wanted."""
        return self.cover.short > 0

    @property
    def lacks(self) -> str:
        """What will be wrong, as half a sentence, rounded: 10 g will be missing (ordered, expected Tue 1 Dec)."""
        unit, parts = self.reservation.material.unit, []
        if self.cover.missing:
            parts.append(f"{about(float(self.cover.missing), unit)} will be missing")
        if self.cover.stale:
            good = day_words(self.cover.since)
            parts.append(f"{about(float(self.cover.stale), unit)} will be out of date (good until {good})")
        ordered = f" (ordered, expected {day_words(self.expected_on)})" if self.expected_on and parts else ""
        return " and ".join(parts) + ordered

    @property
    def words(self) -> str:
        """What will be wrong, with the material's name: Laminating resin: 10 g will be missing."""
        return f"{self.reservation.material.name}: {self.lacks}" if self.lacks else ""


def wanted(today: date, materials: Collection[int] | None = None) -> list[Wanted]:
    """Every open reservation (of some materials), by day, and what it will find. Five queries at most."""
    reservations = Reservation.objects.open().by_day().select_related("material")
    if materials is not None:
        reservations = reservations.filter(material__in=materials)
    rows = list(reservations)
    lots = stock_of({row.material_id for row in rows})
    unwatched = set(
        Material.objects.filter(pk__in={row.material_id for row in rows}).unwatched().values_list("pk", flat=True)
    )
    found = {
        row.pk: Cover(row.pk, row.quantity, NOTHING, NOTHING, None) for row in rows if row.material_id in unwatched
    }
    seen = [row for row in rows if row.material_id not in unwatched]
    for material, group in groupby(sorted(seen, key=lambda row: row.material_id), lambda row: row.material_id):
        needs = [Need(row.pk, row.quantity, row.needed_on) for row in group]
        found |= {one.key: one for one in cover(lots.get(material, ()), needs, today)}
    coming = on_the_way(today) if any(one.short > 0 for one in found.values()) else {}
    expected = {material: orders[0].order.expected_on for material, orders in coming.items()}
    return [Wanted(row, found[row.pk], expected.get(row.material_id), row.material_id not in unwatched) for row in rows]


def together(group: Iterable[Wanted]) -> Wanted:
    """Several reservations of one material as one: what they lack in all."""
    rows = list(group)
    covers = [one.cover for one in rows]
    whole = Cover(
        rows[0].reservation.pk,
        sum((one.covered for one in covers), NOTHING),
        sum((one.stale for one in covers), NOTHING),
        sum((one.missing for one in covers), NOTHING),
        max((one.since for one in covers if one.since), default=None),
    )
    return rows[0]._replace(cover=whole)


def stock_of(materials: Collection[int]) -> dict[int, list[Stock]]:
    """What is left of each material, lot by lot, with the last day each may be used. One query."""
    found: dict[int, list[Stock]] = {}
    for material, quantity, good_until in (
        Lot.objects.left().filter(material__in=materials).values_list("material", "quantity_left", "good_until")
    ):
        found.setdefault(material, []).append(Stock(quantity, good_until))
    return found


class DayPlan(NamedTuple):
    """What one day wants of a material, what is free of it after that day, and what it lacks, in the material's unit.

    What is overdue counts as today. `free` below zero: short.
    """

    day: date
    wanted: Decimal
    free: Decimal
    short: Decimal
    lacks: str


@dataclass(frozen=True)
class StockAhead:
    """What is reserved of one material, by day."""

    material: Material
    on_hand: Decimal
    days: tuple[DayPlan, ...]
    watched: bool = True

    @property
    def reserved(self) -> Decimal:
        """Quantity reserved on all days, in the material's unit."""
        return sum((day.wanted for day in self.days), NOTHING)

    @property
    def free(self) -> Decimal:
        """On hand less all that is reserved; below zero it is not enough."""
        return self.on_hand - self.reserved

    @property
    def short_in_all(self) -> Decimal:
        """What all days together will lack, where that is more than what the first of them lacks."""
        short = [day.short for day in self.days if day.short > 0]
        return sum(short, NOTHING) if len(short) > 1 else NOTHING

    @property
    def first_short(self) -> DayPlan | None:
        """The first day on which something is missing or out of date."""
        return next((day for day in self.days if day.short > 0), None)


def outlooks(today: date) -> list[StockAhead]:
    """Every material with something reserved: what comes short first, first, then by what is needed first."""
    by_material: dict[int, list[Wanted]] = {}
    for one in wanted(today):
        by_material.setdefault(one.reservation.material_id, []).append(one)
    stock = stock_of(by_material)
    found = [
        _outlook(rows, sum((lot.quantity for lot in stock.get(key, ())), NOTHING), today)
        for key, rows in by_material.items()
    ]
    return sorted(found, key=lambda one: (one.first_short.day if one.first_short else date.max, one.days[0].day))


class OfDay(NamedTuple):
    """What one day wants, of every material by name: what to lay out for it."""

    day: date
    rows: list[tuple[Material, DayPlan]]

    @property
    def short(self) -> int:
        """How many of them will not be there in date."""
        return sum(plan.short > 0 for _, plan in self.rows)


def by_day(found: Iterable[StockAhead]) -> list[OfDay]:
    """What each day wants, over all materials."""
    rows = sorted(
        ((one.material, plan) for one in found for plan in one.days), key=lambda row: (row[1].day, row[0].name)
    )
    return [OfDay(day, list(group)) for day, group in groupby(rows, key=lambda row: row[1].day)]


def _outlook(rows: list[Wanted], on_hand: Decimal, today: date) -> StockAhead:
    left, days = on_hand, []
    for day, group in groupby(rows, key=lambda one: max(one.reservation.needed_on, today)):
        of_day = list(group)
        asked, whole = sum((one.reservation.quantity for one in of_day), NOTHING), together(of_day)
        left -= asked
        days.append(DayPlan(day, asked, left, whole.cover.short, whole.lacks))
    return StockAhead(rows[0].reservation.material, on_hand, tuple(days), rows[0].watched)
