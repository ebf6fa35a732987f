"""Does the store add up? Every lot and every material recomputed from the movements, in quantity and in money.

Invariant: opening + receipts = used + written off + differences + closing, exactly. A reversal counts on the side of
what it undoes, so an undone act leaves no trace in the sums.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.db.models import F, Q, QuerySet, Sum, Window
from django.db.models.functions import Coalesce

from inventory.models import DayTotal, Lot, Material, Movement, MovementKind
from inventory.stock import totals
from inventory.stock.totals import NONE, Both
from shop.measures import units
from shop.models import Profile

NOTHING = Decimal(0)


class Flow(NamedTuple):
    """What went in and out of one material in a time.

    Opening + received + differences = used + written off + closing.
    """

    material: Material
    opening: Both
    received: Both
    used: Both
    written_off: Both
    differences: Both
    closing: Both


Sides = dict[int, dict[str, Both]]  # by material and kind of movement


def flows(*, first: date | None = None, last: date | None = None) -> list[Flow]:
    """The flow of every material, from what was recorded on days of the shop, both counted (None: no bound).

    A past day is what was recorded by then. Three queries, of totals by day.
    """
    recorded = DayTotal.objects.all() if last is None else DayTotal.objects.filter(recorded_on__lte=last)
    before = {} if first is None else _sums(recorded.filter(recorded_on__lt=first))
    sides = _sums(recorded if first is None else recorded.filter(recorded_on__gte=first))
    materials = Material.objects.filter(pk__in=before.keys() | sides.keys()).order_by("kind", "name", "pk")
    return [
        _flow(one, sides.get(one.pk, {}), _total(before.get(one.pk, {}), *MovementKind.values)) for one in materials
    ]


def _sums(rows: QuerySet[DayTotal] | QuerySet[Movement]) -> Sides:
    """Sums by material and side."""
    sums: Sides = {}
    for material, side, quantity, value in (
        rows.order_by()  # type: ignore[misc] # `side` of movements is laid on by as_they_count
        .values_list("material", "side")
        .annotate(Sum("quantity"), Sum("value"))
    ):
        sums.setdefault(material, {})[side] = (quantity, value)
    return sums


def _total(by_kind: dict[str, Both], *kinds: str, sign: int = 1) -> Both:
    found = [by_kind[kind] for kind in kinds if kind in by_kind]
    return sum((q for q, _ in found), NOTHING) * sign, sum((v for _, v in found), NOTHING) * sign


def _flow(material: Material, by_kind: dict[str, Both], opening: Both) -> Flow:
    moved = _total(by_kind, *MovementKind.values)
    return Flow(
        material,
        opening=opening,
        received=_total(by_kind, MovementKind.RECEIVE),
        used=_total(by_kind, MovementKind.USE, MovementKind.RETURN, sign=-1),
        written_off=_total(by_kind, MovementKind.WRITE_OFF, sign=-1),
        differences=_total(by_kind, MovementKind.DIFFERENCE),
        closing=(opening[0] + moved[0], opening[1] + moved[1]),
    )


def problems() -> list[str]:
    """Sentences for all that does not add up; an empty list means that the books balance."""
    return [*_lots(), *_materials(), *_days(), *_below_nothing(), *_reversals()]


def _averages() -> bool:
    return Profile.objects.filter(valuation="average").exists()


def _lots() -> Iterator[str]:
    """What a lot says is left is the sum of its movements; under average its money is a share of the material's."""
    money_too = not _averages()
    lots = Lot.objects.select_related("material").annotate(  # type: ignore[no-redef] # declared on the model
        moved=Coalesce(Sum("movements__quantity"), NOTHING, output_field=Lot._meta.get_field("quantity_left")),
        money_moved=Coalesce(Sum("movements__value"), NOTHING, output_field=Lot._meta.get_field("value_left")),
    )
    wrong = ~Q(moved=F("quantity_left")) | Q(quantity_left=0, value_left__gt=0)
    if money_too:
        wrong |= ~Q(money_moved=F("value_left"))
    for lot in lots.filter(wrong).order_by("pk"):
        unit = lot.material.unit
        yield (
            f"Lot {lot.pk} of {lot.material.name} says {units.show(lot.quantity_left, unit)} worth {lot.value_left}; "
            f"its movements make {units.show(lot.moved, unit)} worth {lot.money_moved}."
        )


def _materials() -> Iterator[str]:
    """What the lots of a material hold is what its movements make, and nothing went out that is less than nothing."""
    sides = _sums(Movement.objects.as_they_count())
    lots = Lot.objects.order_by().values("material").annotate(held=Sum("quantity_left"), worth=Sum("value_left"))
    held = {row["material"]: (row["held"], row["worth"]) for row in lots}
    for material in Material.objects.filter(pk__in=held.keys() | sides.keys()).order_by("kind", "name", "pk"):
        flow, there = _flow(material, sides.get(material.pk, {}), NONE), held.get(material.pk, NONE)
        if there != flow.closing:
            more = there[0] - flow.closing[0], there[1] - flow.closing[1]
            yield f"{material.name}: its lots hold {more[0]} worth {more[1]} more than its movements make."
        for side, word in ((flow.received, "received"), (flow.used, "used"), (flow.written_off, "written off")):
            if min(side) < 0:
                yield f"{material.name}: less than nothing was {word}."
    for movement in Movement.objects.exclude(material=F("lot__material")):
        yield f"Movement {movement.pk} and its lot are of different materials."


def _days() -> Iterator[str]:
    """The totals of each day and the use of each week are the sums of their movements."""
    zone, names = totals.shop_zone(), dict(Material.objects.values_list("pk", "name"))
    days, right = totals.days_kept(), totals.days_worked_out(zone)
    for day in sorted(set(days) | set(right)):
        there, made = days.get(day, NONE), right.get(day, NONE)
        if there != made:
            material, side, recorded_on = day
            yield (
                f"{names[material]}: the total of what was recorded on {recorded_on} ({side}) is {there[0]} worth "
                f"{there[1]}; its movements make {made[0]} worth {made[1]}."
            )
    weeks, used = totals.weeks_kept(), totals.weeks_worked_out(zone)
    for week in sorted(set(weeks) | set(used)):
        if weeks.get(week, NOTHING) != used.get(week, NOTHING):
            yield (
                f"{names[week[0]]}: the use in the week of {week[1]} is {weeks.get(week, NOTHING)}; its movements make "
                f"{used.get(week, NOTHING)}."
            )


def _below_nothing() -> Iterator[str]:
    running = Movement.objects.annotate(
        left=Window(Sum("quantity"), partition_by="lot", order_by="pk"),
    ).filter(left__lt=0)
    for movement in running.order_by("pk"):
        yield f"Lot {movement.lot_id} held less than nothing after movement {movement.pk}."


def _reversals() -> Iterator[str]:
    for movement in Movement.objects.filter(reverses__isnull=False).select_related("reverses").order_by("pk"):
        first = movement.reverses
        assert first is not None
        same = (first.lot_id, -first.quantity, -first.value) == (movement.lot_id, movement.quantity, movement.value)
        if not same or first.pk >= movement.pk:
            yield f"Movement {movement.pk} does not undo movement {first.pk} exactly."
