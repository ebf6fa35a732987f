"""A shelf to move things on: one material at a time, moved by the keeper a minute apart in the hour before NOW."""

from __future__ import annotations

import itertools
from datetime import date, datetime, timedelta
from decimal import Decimal

import pytest

from inventory.counting import opening
from inventory.models import Lot, Material, Movement, Pack, PackPrice, Supplier
from inventory.stock import ledger
from shop.models import User
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY

FACTS = {"pack", "supplier", "use_by", "origin", "delivery_note", "brand", "length_mm", "width_mm"}  # of a lot


class Shelf:
    """One material and whoever moves it. Quantities and values are written as text."""

    def __init__(self, by: User, **facts: object) -> None:
        self.by = by
        self.material = Material.objects.create(
            **{"key": "resin", "name": "Laminating resin", "kind": "resin", "unit": "g", "shelf": "A1", **facts}
        )
        self.minutes = itertools.count(-59)

    def signed(self, by: User | None = None) -> Signed:
        return Signed(by or self.by, NOW + timedelta(minutes=next(self.minutes)))

    def receive(self, quantity: str, value: str, received_on: date = TODAY, **more: object) -> Lot:
        lot = Lot(material=self.material, received_on=received_on, **{k: more.pop(k) for k in FACTS & set(more)})
        return ledger.receive(lot=lot, quantity=Decimal(quantity), value=Decimal(value), **self._when(**more))

    def use(self, quantity: str, *, reason: str = "", lot: Lot | None = None, **more: object) -> list[Movement]:
        what = {"material": self.material, "quantity": Decimal(quantity), "reason": reason, "lot": lot}
        return ledger.use(**what, **self._when(**more))

    def _when(self, *, recorded_at: datetime | None = None, happened_at: datetime | None = None) -> dict[str, object]:
        own = self.signed()
        return {"signed": Signed(self.by, recorded_at or own.at), "happened_at": happened_at}

    def cost_of_use(self, quantity: str, **more: object) -> Decimal:
        return -sum(movement.value for movement in self.use(quantity, **more))

    def undo(self, movement: Movement) -> list[Movement]:
        return ledger.undo(act=movement.act, signed=self.signed())

    def reverse(self, movement: Movement) -> Movement:
        return ledger.reverse(movement=movement, signed=self.signed())

    def is_counted_out(self, material: Material | None = None) -> None:
        """The opening count says that there is none of it."""
        now = NOW - timedelta(hours=1)
        opening.opening_count(there={material or self.material: Decimal(0)}, untracked=[], signed=Signed(self.by, now))

    @property
    def on_hand(self) -> Decimal:
        return Material.objects.with_stock().get(pk=self.material.pk).on_hand

    @property
    def value(self) -> Decimal:
        return Material.objects.with_stock().get(pk=self.material.pk).stock_value

    def price(self, words: str, content: str, price: str, from_day: date = TODAY, preferred: bool = True) -> Pack:
        supplier, _ = Supplier.objects.get_or_create(name="Slipway Supplies")
        pack = Pack.objects.create(
            material=self.material, supplier=supplier, words=words, content=Decimal(content), preferred=preferred
        )
        PackPrice.objects.create(pack=pack, price=Decimal(price), from_day=from_day)
        return pack


@pytest.fixture
def shelf(keeper) -> Shelf:
    return Shelf(keeper)


@pytest.fixture
def averaging(profile) -> None:
    profile.valuation = "average"
    profile.save()
