"""A delivery of one material as it is typed: packs or a loose quantity, a price with or without tax, a note number."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal

from inventory.catalogue import set_pack_price
from inventory.ledger import receive
from inventory.models import Lot, Material, Origin, Pack, PackPrice, Supplier
from shop.acts import verb
from shop.models import User
from shop.money import stored


def without_tax(price: Decimal, percent: Decimal) -> Decimal:
    """What is left of a price when the tax in it is taken out, to 1/10 000: 123.00 with 23 % holds 100.00."""
    return stored(price * 100 / (100 + percent))


def price_of_packs(pack: Pack, count: int, day: date) -> Decimal | None:
    """What so many packs cost on a day by the price list, without tax; None if it names no price."""
    price = PackPrice.objects.in_force(day).filter(pack=pack).first()
    return price.price * count if price else None


def entered_before(*, material: Material, supplier: Supplier | None, delivery_note: str) -> Lot | None:
    """A lot of this material that came on the same delivery note of the same supplier, if there is one."""
    lots = Lot.objects.filter(material=material, supplier=supplier, delivery_note__iexact=delivery_note)
    return lots.order_by("-pk").first() if delivery_note else None


@verb
def take_delivery(
    *,
    material: Material,
    quantity: Decimal,
    value: Decimal,
    received_on: date,
    at: datetime,
    now: datetime,
    by: User,
    pack: Pack | None,
    count: int,
    keep_price: bool,
    supplier: Supplier | None,
    use_by: date | None,
    origin: str = Origin.BOUGHT,
    delivery_note: str,
    brand: str,
) -> Lot:
    """Receive a delivery, and with `keep_price` remember what one of its `count` packs cost as the pack's price."""
    lot = receive(
        material=material,
        quantity=quantity,
        value=value,
        received_on=received_on,
        at=at,
        now=now,
        by=by,
        pack=pack,
        supplier=supplier,
        use_by=use_by,
        origin=origin,
        delivery_note=delivery_note,
        brand=brand,
    )
    if keep_price and pack is not None:
        each = stored(value / count)
        if each != price_of_packs(pack, 1, received_on):
            set_pack_price(pack=pack, price=each, from_day=received_on, by=by, at=now)
    return lot
