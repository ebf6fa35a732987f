"""Deliveries as they are typed: one material, or all that came on a note with what it cost to get it here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.catalogue.materials import set_pack_price
from inventory.counting.weighing import weight_of
from inventory.models import Delivery, Lot, Material, Pack, PackPrice, Supplier
from inventory.receiving.landed import landed
from inventory.stock.ledger import lock, receive
from shop.measures.money import stored
from shop.measures.units import to_step
from shop.platform.acts import SEES_MONEY, Refused, Signed, action, checked


def without_tax(price: Decimal, percent: Decimal) -> Decimal:
    """What is left of a price when the tax in it is taken out, to 1/10 000: 123.00 with 23 % holds 100.00."""
    return stored(price * 100 / (100 + percent))


def area_of(length_mm: Decimal, width_mm: Decimal) -> Decimal:
    """The area of an offcut in m², to the step that cloth is kept in."""
    return to_step(length_mm * width_mm / 1_000_000, "m2")


def price_of_packs(pack: Pack, count: int, day: date) -> Decimal | None:
    """What so many packs cost on a day by the price list, without tax; None if it names no price."""
    price = PackPrice.objects.in_force(day).filter(pack=pack).first()
    return price.price * count if price else None


def entered_before(*, material: Material, supplier: Supplier | None, delivery_note: str) -> Lot | None:
    """A lot of this material that came on the same delivery note of the same supplier, if there is one."""
    lots = Lot.objects.filter(material=material, supplier=supplier, delivery_note__iexact=delivery_note)
    return lots.order_by("-pk").first() if delivery_note else None


def noted_before(*, supplier: Supplier, note: str) -> date | None:
    """The day on which something came on a delivery note of this number from this supplier before."""
    lots = Lot.objects.filter(supplier=supplier, delivery_note__iexact=note)
    return lots.order_by("-pk").values_list("received_on", flat=True).first() if note else None


@action("stock.deliver", *SEES_MONEY)
def take_delivery(*, lot: Lot, quantity: Decimal, value: Decimal, count: int, keep_price: bool, signed: Signed) -> Lot:
    """Receive a lot, and with `keep_price` remember what one of its `count` packs cost as the pack's price."""
    lot = receive(lot=lot, quantity=quantity, value=value, signed=signed)
    if keep_price and lot.pack is not None:
        each = stored(value / count)
        if each != price_of_packs(lot.pack, 1, lot.received_on):
            set_pack_price(pack=lot.pack, price=each, from_day=lot.received_on, signed=signed)
    return lot


@dataclass(frozen=True)
class DeliveryLine:
    """Some packs of a delivery: what all of them cost without tax, in the currency of the purchase."""

    pack: Pack
    count: int
    price: Decimal
    use_by: date | None = None

    @property
    def quantity(self) -> Decimal:
        """Quantity that came, in the material's unit."""
        return self.pack.content * self.count


@action("delivery.take_in", *SEES_MONEY)
def take_in(*, delivery: Delivery, lines: Sequence[DeliveryLine], keep_prices: bool, signed: Signed) -> list[Lot]:
    """Receive all that came on one note; freight and duty less discount are shared over the lines into their cost.

    `delivery` is handed in unsaved. With `keep_prices` the packs' prices of that day are what they cost here, freight
    apart. Raises Refused, and then nothing of it is stored.
    """
    if not lines:
        raise Refused("Nothing came: enter how many of at least one pack.")
    lock(line.pack.material for line in lines)
    delivery.made_at, delivery.by = signed.at, signed.by
    checked(delivery).save()
    goods = [stored(line.price * delivery.rate) for line in lines]
    values = _landed(delivery, lines, goods)
    lots = []
    for line, cost, value in zip(lines, goods, values, strict=True):
        lot = Lot(
            material=line.pack.material,
            pack=line.pack,
            received_on=delivery.received_on,
            use_by=line.use_by,
            delivery_note=delivery.note,
            delivery=delivery,
        )
        receive(lot=lot, quantity=line.quantity, value=value, signed=signed)
        each = stored(cost / line.count)
        if keep_prices and each and each != price_of_packs(line.pack, 1, delivery.received_on):
            set_pack_price(pack=line.pack, price=each, from_day=delivery.received_on, signed=signed)
        lots.append(lot)
    words = f"Took in {len(lots)} lines from {delivery.supplier}"
    signed.record(delivery, words)
    return lots


def _landed(delivery: Delivery, lines: Sequence[DeliveryLine], goods: Sequence[Decimal]) -> list[Decimal]:
    extra = stored((delivery.freight + delivery.duty - delivery.discount) * delivery.rate)
    if not extra:
        return list(goods)
    weights = None
    if delivery.spread_by == "weight":
        weights = [weight_of(line.pack.material, line.quantity) for line in lines]
    try:
        return landed(goods, extra, weights)
    except ValueError:
        raise Refused(
            "Freight, duty and discount cannot be shared over these lines: the discount is more than what came, or "
            "nothing of it cost anything.",
            field="discount",
        ) from None
