"""What was ordered and is on its way: noted from the buy list, so that nobody orders it again.

An order is not a movement. What has come is not noted on it but worked out: deliveries of the material since then count
against its orders, the oldest first, whoever they are from; so a delivery is entered once, where it is received.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from typing import NamedTuple

from inventory.models import Movement, MovementKind, Order, Origin, Pack, Supplier
from shop.platform.acts import SEES_MONEY, Refused, Signed, action, checked

FORGOTTEN_AFTER = timedelta(days=90)  # an order so long overdue is not counted on any more; ours
MOST_PACKS = 9999


@action("stock.order", *SEES_MONEY)
def place_order(*, packs: Mapping[Pack, int], ordered_on: date, signed: Signed) -> list[Order]:
    """Note that packs were ordered: they count as coming until they are received or called off. Raises Refused."""
    wanted = {pack: count for pack, count in packs.items() if count}
    if not wanted:
        raise Refused("Every count is 0: say how many packs were ordered.")
    return [_order(pack, count, ordered_on, signed) for pack, count in wanted.items()]


def _order(pack: Pack, count: int, ordered_on: date, signed: Signed) -> Order:
    if not 0 < count <= MOST_PACKS:
        raise Refused(f"How many of {pack.words} must be from 1 to {MOST_PACKS}.", field="packs")
    expected = ordered_on + timedelta(days=pack.supplier.lead_days)
    order = checked(
        Order(pack=pack, packs=count, ordered_on=ordered_on, expected_on=expected, made_at=signed.at, by=signed.by)
    )
    order.save()
    words = f"Ordered {count} × {pack.words} of {pack.material} from {pack.supplier}"
    signed.record(pack.material, words)
    return order


@action("stock.order_closed", *SEES_MONEY)
def close_order(*, order: Order, signed: Signed) -> Order:
    """An order that will not come, or not all of it: it no longer counts as coming. Raises Refused the second time."""
    row = Order.objects.select_for_update(of=("self",)).select_related("pack__material").get(pk=order.pk)
    if row.closed_at is not None:
        raise Refused("This order was called off already.")
    row.closed_at = signed.at
    row.save(update_fields=["closed_at"])
    words = f"No longer expected: {row.packs} × {row.pack.words} of {row.pack.material}"
    signed.record(row.pack.material, words)
    return row


class Coming(NamedTuple):
    """What of an order has not come yet, in the material's unit."""

    order: Order
    left: Decimal


def on_the_way(today: date) -> dict[int, list[Coming]]:
    """What is ordered and has not come, by material, the first expected first. Two queries."""
    orders = Order.objects.open().filter(expected_on__gte=today - FORGOTTEN_AFTER)
    rows = list(orders.select_related("pack__material", "pack__supplier").order_by("ordered_on", "pk"))
    if not rows:
        return {}
    came = _deliveries_since(rows[0].ordered_on, {order.pack.material_id for order in rows})
    found: dict[int, list[Coming]] = {}
    for order in rows:
        left = order.pack.content * order.packs
        for delivery in came.get(order.pack.material_id, ()):
            if delivery.day >= order.ordered_on:
                left -= delivery.give(left)
        if left > 0:
            found.setdefault(order.pack.material_id, []).append(Coming(order, left))
    return {
        material: sorted(coming, key=lambda one: (one.order.expected_on, one.order.pk))
        for material, coming in found.items()
    }


def still_to_come(supplier: Supplier, today: date) -> dict[int, int]:
    """How many packs of each, by key, a supplier still has to bring, the first expected first; a part is a whole."""
    found: dict[int, int] = {}
    for order, left in awaited(today):
        if order.pack.supplier_id == supplier.pk:
            found[order.pack_id] = found.get(order.pack_id, 0) + math.ceil(left / order.pack.content)
    return found


def awaited(today: date) -> list[Coming]:
    """What is ordered and has not come, of all materials, the first expected first. Two queries."""
    coming = [one for of_material in on_the_way(today).values() for one in of_material]
    return sorted(coming, key=lambda one: (one.order.expected_on, one.order.pk))


@dataclass
class _Delivery:
    """What of a delivery counts against no order yet."""

    day: date
    left: Decimal

    def give(self, wanted: Decimal) -> Decimal:
        given = min(wanted, self.left)
        self.left -= given
        return given


def _deliveries_since(day: date, materials: Collection[int]) -> dict[int, list[_Delivery]]:
    rows = Movement.objects.not_undone().filter(
        material__in=materials, kind=MovementKind.RECEIVE, lot__origin=Origin.BOUGHT, lot__received_on__gte=day
    )
    came: dict[int, list[_Delivery]] = {}
    for material, received_on, quantity in rows.order_by("lot__received_on", "pk").values_list(
        "material", "lot__received_on", "quantity"
    ):
        came.setdefault(material, []).append(_Delivery(received_on, quantity))
    return came
