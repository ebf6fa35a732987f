"""The stock ledger: the only writer of movements.

Idea: stock is the sum of its movements. Each verb is one act: it locks its material, values what leaves in the order
things were recorded, appends movements, and writes what is left on the lots, in one transaction.
Invariant: opening + receipts = used + written off + differences + closing, per material, in quantity and in money,
exactly; `inventory.stock.books` proves it. A lot never holds less than nothing.
What really happened (used, written off) is never refused: a shortfall is booked in as a count difference at
replacement price, so that the job that used it carries its true cost, and asked about later. Plans and sales are
refused.
"""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import datetime, timedelta
from decimal import Decimal

from inventory.models import Lot, Material, Movement, MovementKind, Origin, StockQuestion
from inventory.stock.act import NOTHING, LedgerEntry, lock
from inventory.stock.standing import check_stands_alone
from shop.measures.money import stored
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused, Signed, action

__all__ = [
    "book_difference",
    "book_found",
    "lock",
    "may_switch_valuation",
    "put_back",
    "receive",
    "reverse",
    "sell",
    "undo",
    "use",
    "write_off",
]


def may_switch_valuation() -> None:
    """Raises Refused with the sentence once there are movements: their value was worked out by the present setting."""
    if Movement.objects.exists():
        raise Refused(
            "Stock valuation can no longer be changed: what has moved is already valued by it.", field="valuation"
        )


# What the ledger itself puts in a new lot; the rest somebody may have typed.
TYPED_OF_A_LOT = {"origin", "delivery_note", "received_on", "use_by", "brand", "length_mm", "width_mm"}
KNOWN_OF_A_LOT = {field.name for field in Lot._meta.fields} - TYPED_OF_A_LOT


@action("stock.receive", *SEES_MONEY)
def receive(*, lot: Lot, quantity: Decimal, value: Decimal, signed: Signed, happened_at: datetime | None = None) -> Lot:
    """Take a delivery in: `lot`, not stored yet, says of what, when it came and how long it is good.

    `quantity` is in the material's unit, `value` what all of it cost without tax. Without a use-by, the material's
    shelf life counts from the day of receipt; without a supplier it is the pack's. Raises Refused.
    """
    act = LedgerEntry.begin(lot.material, happened_at=happened_at, signed=signed)
    quantity, value = act.amount(quantity), stored(value)
    lot.material = act.material
    if lot.use_by is None and act.material.shelf_life_days is not None:
        lot.use_by = lot.received_on + timedelta(days=act.material.shelf_life_days)
    _check_receipt(act, lot, value)
    lot.supplier = lot.supplier or (lot.pack.supplier if lot.pack else None)
    lot.good_until = lot.use_by
    lot.clean_fields(exclude=KNOWN_OF_A_LOT)
    lot.save()
    act.move(lot, MovementKind.RECEIVE, quantity, value)
    act.write(f"Received {act.shown(quantity)} of {act.material.name}", value=str(value))
    return lot


def _check_receipt(act: LedgerEntry, lot: Lot, value: Decimal) -> None:
    if act.material.retired_at is not None:
        raise Refused(f"{act.material.name} is retired; bring it back before a delivery of it is entered.")
    if value < 0:
        raise Refused("Price must be zero or more.", field="value")
    if lot.received_on > act.day:
        raise Refused("Received on must not lie in the future.", field="received_on")
    if lot.use_by is not None and lot.use_by < lot.received_on:
        raise Refused("Use by must not lie before the day it was received.", field="use_by")
    if lot.pack is not None and lot.pack.material_id != act.material.pk:
        raise Refused(f"This pack does not hold {act.material.name}.", field="pack")
    if lot.origin == Origin.CUSTOMER:
        raise Refused("The customer's own material stays with the job; it is not taken into the store.", field="origin")


@action("stock.use", *EVERY_ROLE)
def use(
    *,
    material: Material,
    quantity: Decimal,
    signed: Signed,
    happened_at: datetime | None = None,
    reason: str = "",
    lot: Lot | None = None,
) -> list[Movement]:
    """Book what was really used, from `lot` or in order of issue, lots in date first. Never refused for want of stock.

    Returns the movements out; their values, negative, are what it cost. A shortfall is a count difference in the same
    act and a question for later; so is the use of a lot past its date. Of what nobody has counted yet, or what is not
    tracked, it is no question.
    """
    act = LedgerEntry.begin(material, happened_at=happened_at, signed=signed, reason=reason)
    quantity = act.amount(quantity)
    out = act.take_what_happened(MovementKind.USE, quantity, lot)
    act.write(f"Used {act.shown(quantity)} of {act.material.name}")
    return out


@action("stock.write_off", *EVERY_ROLE)
def write_off(
    *,
    material: Material,
    quantity: Decimal,
    reason: str,
    signed: Signed,
    happened_at: datetime | None = None,
    lot: Lot | None = None,
) -> list[Movement]:
    """Book what was lost (gelled in the pot, spilt, out of date): an expense of the shop, not the cost of a job.

    A reason must be given. It has happened, so like a use it is never refused for want of stock.
    """
    if not reason.strip():
        raise Refused("Reason is empty; say what happened, like gelled in the pot.", field="reason")
    act = LedgerEntry.begin(material, happened_at=happened_at, signed=signed, reason=reason)
    quantity = act.amount(quantity)
    out = act.take_what_happened(MovementKind.WRITE_OFF, quantity, lot)
    act.write(f"Wrote off {act.shown(quantity)} of {act.material.name}: {reason}")
    return out


@action("stock.sell", *SEES_MONEY)
def sell(
    *,
    material: Material,
    quantity: Decimal,
    signed: Signed,
    happened_at: datetime | None = None,
    reason: str = "sold at the counter",
) -> list[Movement]:
    """Take out what is sold over the counter. Raises Refused unless stock that is in date covers it.

    Of what nobody has counted yet, or what is not tracked, nothing is known to cover it: it is sold all the same.
    """
    act = LedgerEntry.begin(material, happened_at=happened_at, signed=signed, reason=reason)
    quantity = act.amount(quantity)
    if Material.objects.filter(pk=material.pk).watched().exists():
        out = act.take_what_is_planned(quantity)
    else:
        out = act.take_what_happened(MovementKind.USE, quantity, None)
    act.write(f"Sold {act.shown(quantity)} of {act.material.name}")
    return out


@action("stock.put_back", *EVERY_ROLE)
def put_back(
    *,
    movement: Movement,
    quantity: Decimal,
    signed: Signed,
    happened_at: datetime | None = None,
    reason: str = "",
    room: str = "",
) -> Movement:
    """Return part of a use to its lot, at the value it left with. It joins the act of that use.

    Raises Refused, also where something stands on that act and `room` is not its own.
    """
    act = LedgerEntry.begin(movement.material, happened_at=happened_at, signed=signed, reason=reason, id=movement.act)
    check_stands_alone([movement.act], room)
    quantity = act.amount(quantity)
    if movement.kind != MovementKind.USE or Movement.objects.filter(reverses=movement).exists():
        raise Refused("Only what was used can be put back.")
    returns = Movement.objects.not_undone().filter(act=movement.act, lot=movement.lot_id, kind=MovementKind.RETURN)
    before = sum(returns.values_list("quantity", flat=True), NOTHING)
    used = -movement.quantity
    if before + quantity > used:
        raise Refused(f"Only {act.shown(used - before)} of this use can be put back.", field="quantity")
    # Each return takes the value up to its share, so that all of them together give back exactly what left.
    value = stored(-movement.value * (before + quantity) / used) - stored(-movement.value * before / used)
    back = act.move(act.lot(movement.lot_id), MovementKind.RETURN, quantity, value)
    act.write(f"Put {act.shown(quantity)} of {act.material.name} back on the shelf")
    return back


@action("stock.difference", *EVERY_ROLE)
def book_difference(
    *, lot: Lot, quantity: Decimal, signed: Signed, happened_at: datetime | None = None, reason: str
) -> Movement:
    """Book what a count found in a lot: more (+) or less (−). Raises Refused if it would hold less than nothing.

    More is valued as the rest of the lot is, or at replacement price where nothing is left.
    """
    act = LedgerEntry.begin(lot.material, happened_at=happened_at, signed=signed, reason=reason)
    amount, here = act.amount(abs(quantity)), act.lot(lot.pk)
    if quantity > 0:
        moved = act.put_in(here, amount)
    elif amount > here.quantity_left:
        raise Refused(f"This lot holds only {act.shown(here.quantity_left)}.", field="quantity")
    else:
        [moved] = act.take(MovementKind.DIFFERENCE, amount, [here])
    sign = "more" if quantity > 0 else "less"
    act.write(f"Counted {act.shown(amount)} {sign} of {act.material.name}: {reason}")
    return moved


@action("stock.difference", *EVERY_ROLE)
def book_found(
    *, material: Material, quantity: Decimal, signed: Signed, reason: str, happened_at: datetime | None = None
) -> Movement:
    """Book what a count found of a material that no lot accounts for: a lot of its own, at replacement price."""
    act = LedgerEntry.begin(material, happened_at=happened_at, signed=signed, reason=reason)
    amount = act.amount(quantity)
    moved = act.put_in(act.found_lot(), amount)
    act.write(f"Found {act.shown(amount)} of {act.material.name}: {reason}")
    return moved


@action("stock.undo", *EVERY_ROLE)
def reverse(
    *, movement: Movement, signed: Signed, happened_at: datetime | None = None, reason: str = "", room: str = ""
) -> Movement:
    """Undo one movement exactly, in quantity and value, in the lot that it moved. Raises Refused.

    What came in can be undone only while its lot still holds it as it came; what something stands on, only by its
    `room` (see `inventory.stock.standing`).
    """
    return _undo([movement], happened_at=happened_at, signed=signed, reason=reason, room=room)[0]


@action("stock.undo", *EVERY_ROLE)
def undo(
    *, act: uuid.UUID, signed: Signed, happened_at: datetime | None = None, reason: str = "", room: str = ""
) -> list[Movement]:
    """Undo all that still counts of one act, last first, with a shortfall booked in and its question. Raises Refused.

    This is what a person means by undoing a use, a delivery or a write-off. What a step, a sale or a count stands on
    is undone by that `room` alone, which puts its own rows right in the same transaction.
    """
    movements = Movement.objects.not_undone().filter(act=act).select_related("material").order_by("-pk")
    return _undo(list(movements), happened_at=happened_at, signed=signed, reason=reason, room=room)


def _undo(
    movements: Sequence[Movement], *, signed: Signed, happened_at: datetime | None = None, reason: str, room: str
) -> list[Movement]:
    if not movements:
        raise Refused("This was already undone.")
    signed.may(*(SEES_MONEY if any(m.kind == MovementKind.RECEIVE for m in movements) else EVERY_ROLE))
    act = LedgerEntry.begin(movements[0].material, happened_at=happened_at, signed=signed, reason=reason)
    if Movement.objects.filter(reverses__in=movements).exists():
        raise Refused("This was already undone.")
    if any(movement.kind == MovementKind.REVERSAL for movement in movements):
        raise Refused("What was undone stays undone; book it again instead.")
    check_stands_alone({movement.act for movement in movements}, room)
    returned = Movement.objects.not_undone().filter(act__in={m.act for m in movements}, kind=MovementKind.RETURN)
    uses = {movement.lot_id for movement in movements if movement.kind == MovementKind.USE}
    if returned.filter(lot__in=uses).exclude(pk__in=[m.pk for m in movements]).exists():
        raise Refused("Part of this was put back on the shelf; undo that first.")
    undone = [act.put_back_exactly(movement) for movement in movements]
    StockQuestion.objects.open().filter(movement__in=movements).update(
        answered_at=signed.at, answered_by=signed.by, answer="The entry was undone."
    )
    first = movements[-1]
    act.write(f"Undid: {first.get_kind_display()} {act.shown(abs(first.quantity))} of {act.material.name}")
    return undone
