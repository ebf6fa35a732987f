"""Does the store add up? Every lot and every material recomputed from the movements, in quantity and in money.

Invariant: opening + receipts = used + written off + differences + closing, exactly. A reversal counts on the side of
what it undoes, so an undone act leaves no trace in the sums.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from django.db.models import F, Q, Sum, Window
from django.db.models.functions import Coalesce

from inventory.models import Lot, Material, Movement, MovementKind
from shop import units
from shop.models import Profile

NOTHING = Decimal(0)


class Flow(NamedTuple):
    """What went in and out of one material, in its unit and in money; every figure positive but the differences."""

    material: Material
    received: tuple[Decimal, Decimal]
    used: tuple[Decimal, Decimal]
    written_off: tuple[Decimal, Decimal]
    differences: tuple[Decimal, Decimal]
    closing: tuple[Decimal, Decimal]


def flows(recorded_by: datetime | None = None) -> list[Flow]:
    """The flow of every material that ever moved, counting what was recorded by then (None: everything)."""
    movements = Movement.objects.all()
    if recorded_by is not None:
        movements = movements.filter(recorded_at__lte=recorded_by)
    undone_kind = Coalesce("reverses__kind", "kind")
    rows = (
        movements.annotate(side=undone_kind)
        .values("material", "side")
        .order_by()
        .annotate(quantity_in=Sum("quantity"), value_in=Sum("value"))
    )
    sums: dict[int, dict[str, tuple[Decimal, Decimal]]] = {}
    for row in rows:
        sums.setdefault(row["material"], {})[row["side"]] = (row["quantity_in"], row["value_in"])
    return [_flow(material, sums[material.pk]) for material in Material.objects.filter(pk__in=sums)]


def _flow(material: Material, by_kind: dict[str, tuple[Decimal, Decimal]]) -> Flow:
    def total(*kinds: str, sign: int = 1) -> tuple[Decimal, Decimal]:
        found = [by_kind[kind] for kind in kinds if kind in by_kind]
        return sum((q for q, _ in found), NOTHING) * sign, sum((v for _, v in found), NOTHING) * sign

    return Flow(
        material,
        received=total(MovementKind.RECEIVE),
        used=total(MovementKind.USE, MovementKind.RETURN, sign=-1),
        written_off=total(MovementKind.WRITE_OFF, sign=-1),
        differences=total(MovementKind.DIFFERENCE),
        closing=total(*MovementKind.values),
    )


def problems() -> list[str]:
    """Sentences for all that does not add up; an empty list means that the books balance."""
    return [*_lots(), *_materials(), *_below_nothing(), *_reversals()]


def _averages() -> bool:
    return Profile.objects.filter(valuation="average").exists()


def _lots() -> Iterator[str]:
    """What a lot says is left is the sum of its movements; under average its money is a share of the material's."""
    money_too = not _averages()
    lots = Lot.objects.select_related("material").annotate(
        moved=Coalesce(Sum("movements__quantity"), NOTHING, output_field=Lot._meta.get_field("quantity_left")),
        worth=Coalesce(Sum("movements__value"), NOTHING, output_field=Lot._meta.get_field("value_left")),
    )
    wrong = ~Q(moved=F("quantity_left")) | Q(quantity_left=0, value_left__gt=0)
    if money_too:
        wrong |= ~Q(worth=F("value_left"))
    for lot in lots.filter(wrong).order_by("pk"):
        unit = lot.material.unit
        yield (
            f"Lot {lot.pk} of {lot.material.name} says {units.show(lot.quantity_left, unit)} worth {lot.value_left}; "
            f"its movements make {units.show(lot.moved, unit)} worth {lot.worth}."
        )


def _materials() -> Iterator[str]:
    kept = {
        row["material"]: (row["quantity"], row["value"])
        for row in Lot.objects.order_by()
        .values("material")
        .annotate(quantity=Sum("quantity_left"), value=Sum("value_left"))
    }
    for flow in flows():
        name = flow.material.name
        if flow.closing != kept.get(flow.material.pk, (NOTHING, NOTHING)):
            yield f"{name}: the movements close at {flow.closing[0]} worth {flow.closing[1]}, the lots do not."
        for side, word in ((flow.received, "received"), (flow.used, "used"), (flow.written_off, "written off")):
            if min(side) < 0:
                yield f"{name}: less than nothing was {word}."
    for movement in Movement.objects.exclude(material=F("lot__material")):
        yield f"Movement {movement.pk} and its lot are of different materials."


def _below_nothing() -> Iterator[str]:
    running = Movement.objects.annotate(
        left=Window(Sum("quantity"), partition_by="lot", order_by="pk"),
    ).filter(left__lt=0)
    for movement in running.order_by("pk"):
        yield f"Lot {movement.lot_id} held less than nothing after movement {movement.pk}."


def _reversals() -> Iterator[str]:
    for movement in Movement.objects.filter(reverses__isnull=False).select_related("reverses").order_by("pk"):
        first = movement.reverses
        same = (first.lot_id, -first.quantity, -first.value) == (movement.lot_id, movement.quantity, movement.value)
        if not same or first.pk >= movement.pk:
            yield f"Movement {movement.pk} does not undo movement {first.pk} exactly."
