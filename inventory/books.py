"""Does the store add up? Every lot and every material recomputed from the movements, in quantity and in money.

Invariant: opening + receipts = used + written off + differences + closing, exactly. A reversal counts on the side of
what it undoes, so an undone act leaves no trace in the sums.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from django.db.models import F, Q, QuerySet, Sum, Window
from django.db.models.functions import Coalesce

from inventory.models import Lot, Material, Movement, MovementKind
from shop import units
from shop.models import Profile

NOTHING = Decimal(0)


Both = tuple[Decimal, Decimal]  # a quantity in the material's unit, and what it is worth
NONE: Both = (NOTHING, NOTHING)


class Flow(NamedTuple):
    """What went in and out of one material in a time: opening + received + differences = used + written off + closing."""

    material: Material
    opening: Both
    received: Both
    used: Both
    written_off: Both
    differences: Both
    closing: Both


def flows(*, since: datetime | None = None, until: datetime | None = None) -> list[Flow]:
    """The flow of every material, from what was recorded after `since` and up to `until` (None: the first, the last).

    A past day is what was recorded by then. Reckoned back from what the lots hold now, so that only later movements
    are read. Four queries.
    """
    between = Movement.objects.all()
    if since is not None:
        between = between.filter(recorded_at__gt=since)
    if until is not None:
        between = between.filter(recorded_at__lte=until)
    sides = _by_side(between)
    now = _held_now()
    after = _by_side(Movement.objects.filter(recorded_at__gt=until)) if until is not None else {}
    moved = set(sides) | {pk for pk, held in now.items() if held != NONE} | set(after)
    rows = []
    for material in Material.objects.filter(pk__in=moved).order_by("kind", "name", "pk"):
        closing = _less(now.get(material.pk, NONE), _total(after.get(material.pk, {}), *MovementKind.values))
        rows.append(_flow(material, sides.get(material.pk, {}), closing))
    return rows


def _by_side(movements: QuerySet[Movement]) -> dict[int, dict[str, Both]]:
    """Sums by material and kind; a reversal counts with the kind that it undoes."""
    rows = movements.annotate(side=Coalesce("reverses__kind", "kind")).values("material", "side").order_by()
    sums: dict[int, dict[str, Both]] = {}
    for row in rows.annotate(quantities=Sum("quantity"), values_=Sum("value")):
        sums.setdefault(row["material"], {})[row["side"]] = (row["quantities"], row["values_"])
    return sums


def _held_now() -> dict[int, Both]:
    rows = Lot.objects.order_by().values("material").annotate(held=Sum("quantity_left"), worth=Sum("value_left"))
    return {row["material"]: (row["held"], row["worth"]) for row in rows}


def _total(by_kind: dict[str, Both], *kinds: str, sign: int = 1) -> Both:
    found = [by_kind[kind] for kind in kinds if kind in by_kind]
    return sum((q for q, _ in found), NOTHING) * sign, sum((v for _, v in found), NOTHING) * sign


def _less(one: Both, other: Both) -> Both:
    return one[0] - other[0], one[1] - other[1]


def _flow(material: Material, by_kind: dict[str, Both], closing: Both) -> Flow:
    return Flow(
        material,
        opening=_less(closing, _total(by_kind, *MovementKind.values)),
        received=_total(by_kind, MovementKind.RECEIVE),
        used=_total(by_kind, MovementKind.USE, MovementKind.RETURN, sign=-1),
        written_off=_total(by_kind, MovementKind.WRITE_OFF, sign=-1),
        differences=_total(by_kind, MovementKind.DIFFERENCE),
        closing=closing,
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
    """Over all time a material opens at nothing: what the lots hold is what the movements make."""
    for flow in flows():
        name = flow.material.name
        if flow.opening != NONE:
            yield f"{name}: its lots hold {flow.opening[0]} worth {flow.opening[1]} more than its movements make."
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
