"""Containers on the scale: gross less tare is what is left, and what is gone since the last time was used.

Invariant: what a container should hold is what it held when last weighed, and what moved of its lot since then.
"""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal

from django.db.models import Sum

from inventory import ledger
from inventory.ledger import NOTHING
from inventory.models import Container, Lot, Material, Movement, Weighing
from shop import journal, units
from shop.access import EVERY_ROLE
from shop.acts import Refused, checked, may, verb
from shop.models import User


def content_of(*, container: Container, gross_g: Decimal) -> Decimal:
    """What a container of this gross weight holds, in the material's unit. Raises Refused below the tare."""
    material = container.lot.material
    if gross_g < container.tare_g:
        raise Refused(
            f"Weight must be at least what the {container.name} weighs empty, {units.show(container.tare_g, 'g')}.",
            field="gross",
        )
    try:
        return units.to_stock(
            units.quantity(gross_g - container.tare_g, "g"), material.unit, name=material.name, **material.unit_facts()
        )
    except units.UnitError as problem:
        raise Refused(problem.sentence, field="gross") from None


def weight_of(material: Material, quantity: Decimal) -> Decimal:
    """What an amount of a material weighs, in g. Raises Refused naming the fact that is missing."""
    if not quantity:
        return NOTHING
    try:
        return units.to_stock(units.quantity(quantity, material.unit), "g", name=material.name, **material.unit_facts())
    except units.UnitError as problem:
        raise Refused(problem.sentence) from None


def should_hold(container: Container, last: Weighing | None) -> Decimal:
    """What a container should hold by its last weighing and the moves of its lot since; all of the lot if never weighed."""
    if last is None:
        return container.lot.quantity_left
    since = Movement.objects.not_undone().filter(lot=container.lot_id, happened_at__gt=last.weighed_at)
    moved = since.aggregate(moved=Sum("quantity"))["moved"] or NOTHING
    return max(NOTHING, last.net + moved)


@verb
def add_container(
    *, lot: Lot, name: str, tare_g: Decimal, holds: Decimal, at: datetime, now: datetime, by: User
) -> Container:
    """A container of a lot, its empty weight in g, and what it holds now in the material's unit. Raises Refused."""
    may(by, *EVERY_ROLE)
    ledger.lock([lot.material])
    container = Container(lot=lot, name=name, tare_g=tare_g)
    checked(container).save()
    _weighed(container, gross_g=tare_g + weight_of(lot.material, holds), net=holds, at=at, by=by)
    words = f"{name} of {lot.material} weighs {units.show(tare_g, 'g')} empty"
    journal.record(by=by, verb="container.add", row=lot.material, words=words, at=now)
    return container


@verb
def weigh_after_use(
    *, container: Container, gross_g: Decimal, at: datetime, now: datetime, by: User, reason: str = ""
) -> list[Movement]:
    """Book as used what is gone from a container since it was last weighed. Raises Refused when nothing is gone."""
    may(by, *EVERY_ROLE)
    lot = _locked_lot(container)
    net = content_of(container=container, gross_g=gross_g)
    gone = should_hold(container, container.weighings.last()) - net
    if gone <= 0:
        more = f"{units.show(-gone, lot.material.unit)} more than" if gone else "just"
        raise Refused(
            f"It holds {more} what it should; nothing was used. If it was only weighed, enter it as a check.",
            field="gross",
        )
    _weighed(container, gross_g=gross_g, net=net, at=at, by=by)
    return ledger.use(material=lot.material, quantity=gone, lot=lot, reason=reason, at=at, now=now, by=by)


@verb
def weigh_as_check(*, container: Container, gross_g: Decimal, at: datetime, now: datetime, by: User) -> Movement | None:
    """Take the scale's word for what a container holds: a count difference books the rest. None if it agrees."""
    may(by, *EVERY_ROLE)
    lot = _locked_lot(container)
    net = content_of(container=container, gross_g=gross_g)
    difference = net - should_hold(container, container.weighings.last())
    _weighed(container, gross_g=gross_g, net=net, at=at, by=by)
    if not difference:
        return None
    # The ledger may hold less of the lot than the container should: no more than that can be taken out of it.
    difference = max(difference, -lot.quantity_left)
    if not difference:
        return None
    return ledger.book_difference(lot=lot, quantity=difference, reason="weighed", at=at, now=now, by=by)


def _locked_lot(container: Container) -> Lot:
    """The lot as it is now, its material locked, so that two on one scale come one after the other."""
    ledger.lock([container.lot.material])
    lot = Lot.objects.select_related("material").get(pk=container.lot_id)
    container.lot = lot
    return lot


def _weighed(container: Container, *, gross_g: Decimal, net: Decimal, at: datetime, by: User) -> Weighing:
    return Weighing.objects.create(container=container, gross_g=gross_g, net=net, weighed_at=at, by=by)
