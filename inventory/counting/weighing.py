"""Containers on the scale: gross less tare is what is left, and what is gone since the last time was used.

Invariant: what a container should hold is what it held when last weighed, and what moved of its lot since then; what
was booked by weighing another container of the lot is of that one. Where a lot stands in several, what was entered by
hand may have come out of any of them: then a container should hold something between two figures, and only what lies
beyond them is booked, so that nothing is booked that nobody took.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection
from datetime import datetime
from decimal import Decimal
from typing import NamedTuple

from django.db.models import Q

from inventory.models import Container, Lot, Material, Movement, Weighing
from inventory.stock import ledger
from inventory.stock.totals import NOTHING
from shop.measures import units
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action, checked


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


def tares_of(materials: Collection[Material]) -> dict[int, Decimal]:
    """What the newest container of each material weighs empty in g, by the material's key. One query."""
    rows = Container.objects.filter(lot__material__in=materials).order_by("pk")
    return dict(rows.values_list("lot__material", "tare_g"))


def weight_of(material: Material, quantity: Decimal) -> Decimal:
    """What an amount of a material weighs, in g. Raises Refused naming the fact that is missing."""
    if not quantity:
        return NOTHING
    try:
        return units.to_stock(units.quantity(quantity, material.unit), "g", name=material.name, **material.unit_facts())
    except units.UnitError as problem:
        raise Refused(problem.sentence) from None


class Should(NamedTuple):
    """What a container should hold by the books, at least and at most, in the material's unit."""

    least: Decimal
    most: Decimal

    def difference(self, net: Decimal) -> Decimal:
        """How much more (+) or less (−) than it should a container holds; nothing between the two."""
        return net - min(max(net, self.least), self.most)


def should_hold(container: Container, last: Weighing | None) -> Should:
    """What a container should hold by its last weighing and the moves of its lot since.

    All of the lot if never weighed.
    """
    if last is None:
        return Should(container.lot.quantity_left, container.lot.quantity_left)
    others = Container.objects.filter(lot=container.lot_id).exclude(pk=container.pk)
    others = others.filter(Q(emptied_at__isnull=True) | Q(emptied_at__gt=last.weighed_at))
    theirs = Weighing.objects.filter(container__lot=container.lot_id, act__isnull=False).exclude(container=container.pk)
    since = Movement.objects.not_undone().filter(lot=container.lot_id, happened_at__gt=last.weighed_at)
    moved = list(since.exclude(act__in=theirs.values("act")).values_list("quantity", flat=True))
    least = most = last.net + sum(moved, NOTHING)
    if others.exists():
        least = last.net + sum((one for one in moved if one < 0), NOTHING)
        most = last.net + sum((one for one in moved if one > 0), NOTHING)
    return Should(max(NOTHING, least), max(NOTHING, most))


@action("container.add", *EVERY_ROLE)
def add_container(
    *, lot: Lot, name: str, tare_g: Decimal, holds: Decimal, signed: Signed, happened_at: datetime | None = None
) -> Container:
    """A container of a lot, its empty weight in g, and what it holds now in the material's unit. Raises Refused."""
    ledger.lock([lot.material])
    container = Container(lot=lot, name=name, tare_g=tare_g)
    checked(container).save()
    keep_weighing(
        container, gross_g=tare_g + weight_of(lot.material, holds), net=holds, signed=signed, happened_at=happened_at
    )
    words = f"{name} of {lot.material} weighs {units.show(tare_g, 'g')} empty"
    signed.record(lot.material, words)
    return container


class Gone(NamedTuple):
    """What the scale says is gone out of a container: its lot, what it holds now, and what was taken, in its unit."""

    lot: Lot
    net: Decimal
    quantity: Decimal


def gone(container: Container, gross_g: Decimal) -> Gone:
    """What is gone since a container was last weighed; its material is locked. Raises Refused when nothing is."""
    lot = _locked_lot(container)
    net = content_of(container=container, gross_g=gross_g)
    should = should_hold(container, container.weighings.last())
    if net >= should.least:
        more = net - should.most
        held = f"{units.show(more, lot.material.unit)} more than" if more > 0 else "just"
        raise Refused(
            f"It holds {held} what it should; nothing was used. If it was only weighed, enter it as a check.",
            field="gross",
        )
    return Gone(lot, net, should.least - net)


@action("container.use", *EVERY_ROLE)
def weigh_after_use(
    *, container: Container, gross_g: Decimal, signed: Signed, happened_at: datetime | None = None, reason: str = ""
) -> list[Movement]:
    """Book as used what is gone from a container since it was last weighed. Raises Refused when nothing is gone."""
    taken = gone(container, gross_g)
    out = ledger.use(
        material=taken.lot.material,
        quantity=taken.quantity,
        lot=taken.lot,
        reason=reason,
        happened_at=happened_at,
        signed=signed,
    )
    keep_weighing(container, gross_g=gross_g, net=taken.net, signed=signed, happened_at=happened_at, act=out[0].act)
    return out


@action("container.empty", *EVERY_ROLE)
def empty_container(*, container: Container, signed: Signed, happened_at: datetime | None = None) -> list[Movement]:
    """Nothing is left in it: the rest that it should have held was used. It is weighed no more. Raises Refused."""
    lot = _locked_lot(container)
    if container.emptied_at is not None:
        raise Refused(f"This {container.name} is empty already.")
    rest = should_hold(container, container.weighings.last()).least
    out = (
        ledger.use(
            material=lot.material, quantity=rest, lot=lot, reason="emptied", happened_at=happened_at, signed=signed
        )
        if rest
        else []
    )
    act = out[0].act if out else None
    keep_weighing(container, gross_g=container.tare_g, net=NOTHING, signed=signed, happened_at=happened_at, act=act)
    return out


@action("container.check", *EVERY_ROLE)
def weigh_as_check(
    *, container: Container, gross_g: Decimal, signed: Signed, happened_at: datetime | None = None
) -> Movement | None:
    """Take the scale's word for what a container holds: a count difference books the rest. None if it agrees."""
    lot = _locked_lot(container)
    net = content_of(container=container, gross_g=gross_g)
    difference = should_hold(container, container.weighings.last()).difference(net)
    # The ledger may hold less of the lot than the container should: no more than that can be taken out of it.
    difference = max(difference, -lot.quantity_left)
    booked = None
    if difference:
        booked = ledger.book_difference(
            lot=lot, quantity=difference, reason="weighed", happened_at=happened_at, signed=signed
        )
    keep_weighing(
        container, gross_g=gross_g, net=net, signed=signed, happened_at=happened_at, act=booked.act if booked else None
    )
    return booked


def _locked_lot(container: Container) -> Lot:
    """The lot as it is now, its material locked, so that two on one scale come one after the other."""
    ledger.lock([container.lot.material])
    lot = Lot.objects.select_related("material").get(pk=container.lot_id)
    container.lot = lot
    return lot


def keep_weighing(
    container: Container,
    *,
    gross_g: Decimal,
    net: Decimal,
    signed: Signed,
    happened_at: datetime | None = None,
    act: uuid.UUID | None = None,
) -> Weighing:
    """What the scale said, and the act of the ledger that was booked by it; an empty container is done with."""
    at = happened_at or signed.at
    weighing = Weighing.objects.create(
        container=container, gross_g=gross_g, net=net, weighed_at=at, by=signed.by, act=act
    )
    if not net and container.emptied_at is None:
        container.emptied_at = at
        container.save(update_fields=["emptied_at"])
    return weighing
