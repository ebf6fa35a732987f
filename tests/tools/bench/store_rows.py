"""Two stores to compare: the same materials, shelves and habits, one with a hundred times the movements of the other.

Each is a database of its own, of the kind that DATABASE_URL names. Rows are put in at once and not by the verbs, which
would take an hour; `inventory.stock.books` then proves that they are what the verbs would have left.
"""

from __future__ import annotations

import copy
import os
import tempfile
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from decimal import Decimal
from pathlib import Path

from django.conf import settings
from django.core.management.color import no_style
from django.db import connection, connections
from django.test import Client, override_settings
from django.utils import timezone

from inventory.models import (
    Lot,
    Material,
    Movement,
    MovementKind,
    Pack,
    PackPrice,
    Reservation,
    StockQuestion,
    Supplier,
)
from inventory.stock import books, totals
from shop.models import Role, User
from tests.conftest import make_user
from tests.sample_shop import make_profile

MATERIALS, SHELVES, SUPPLIERS = 300, 20, 6
DAYS = 180  # all of it lies in the half year that the usual use is worked out from: the hardest case for the pages
BUSY = 10  # so many times as much happens to one material as to the others
USED_IN_ALL = Decimal(60_000)  # of each material, however many movements that takes
ROUND = 20  # movements from one delivery to the next, at most
EACH = Decimal("0.0048")  # what a gram costs
LITTLE, PLENTY = Decimal(2_000), Decimal(60_000)  # what is left: of one material in ten so little that it is ordered
NOTHING = Decimal(0)


class Store:
    """A database with a shop in it, and somebody logged in to it."""

    def __init__(self, movements: int, folder: Path) -> None:
        self.connection = connections.create_connection("default")
        self.connection.settings_dict = copy.deepcopy(self.connection.settings_dict)
        name = f"bench_{os.getpid()}_{movements}"
        self.connection.settings_dict["TEST"]["NAME"] = (
            str(folder / name) if self.connection.vendor == "sqlite" else name
        )
        self.movements = movements
        self.before = self.connection.settings_dict["NAME"]
        self.made = False

    def open(self) -> None:
        """From here on every query goes to this store."""
        connections["default"] = self.connection

    def build(self) -> None:
        self.open()
        self.connection.creation.create_test_db(verbosity=0, autoclobber=True, serialize=False)
        self.made = True
        make_profile()
        self.keeper = make_user(Role.KEEPER)
        fill(self.movements, self.keeper, timezone.now())
        if self.connection.vendor == "postgresql":
            with self.connection.cursor() as cursor:
                cursor.execute("ANALYZE")
        wrong = books.problems()
        if wrong:
            raise AssertionError(f"The store of {self.movements} does not add up: {wrong[0]}")
        self.client = Client(SERVER_NAME="localhost")
        self.client.force_login(self.keeper)

    def page(self, address: str) -> object:
        self.open()
        answer = self.client.get(address)
        if answer.status_code != 200:
            raise AssertionError(f"{address} answers {answer.status_code}")
        return answer

    def drop(self) -> None:
        """Only what was made here, and never what stood there before."""
        if not self.made:
            return
        self.open()
        self.connection.creation.destroy_test_db(self.before, verbosity=0)


@contextmanager
def stores(*sizes: int) -> Iterator[list[Store]]:
    """A store for each number of movements; gone afterwards."""
    first = connections["default"]
    plain = {**settings.STORAGES, "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"}}
    with tempfile.TemporaryDirectory() as folder, override_settings(STORAGES=plain, MEDIA_ROOT=folder):
        built = [Store(size, Path(folder)) for size in sizes]
        try:
            for store in built:
                store.build()
            yield built
        finally:
            for store in built:
                store.drop()
            connections["default"] = first


def fill(movements: int, keeper: User, now: datetime) -> None:
    """Materials with packs, prices and reservations, and what happened to them in the last half year."""
    materials = _materials(now)
    first = movements * BUSY // (MATERIALS + BUSY - 1)
    rest = (movements - first) / (MATERIALS - 1)
    ends = [0, *(first + round(rest * number) for number in range(MATERIALS))]
    rows, lots = [], []
    for material, begin, end in zip(materials, ends, ends[1:], strict=False):
        made = Happened(material, keeper, now, end - begin, LITTLE if material.pk % 10 == 0 else PLENTY)
        rows += made.movements
        lots += made.lots
    Lot.objects.bulk_create(lots, batch_size=2000)
    rows.sort(key=lambda movement: movement.recorded_at)
    for number, movement in enumerate(rows, 1):
        movement.pk, movement.lot_id = number, movement.lot.pk
    Movement.objects.bulk_create(rows, batch_size=2000)
    with connection.cursor() as cursor:
        for words in connection.ops.sequence_reset_sql(no_style(), [Movement]):
            cursor.execute(words)
    totals.work_out_anew(totals.shop_zone())
    asked = rows[:: len(rows) // 20]
    StockQuestion.objects.bulk_create(
        StockQuestion(material=one.material, movement=one, words="Where did it come from?", asked_at=now)
        for one in asked
    )


def _materials(now: datetime) -> list[Material]:
    suppliers = Supplier.objects.bulk_create(Supplier(name=f"Supplier {n}", lead_days=7) for n in range(SUPPLIERS))
    materials = Material.objects.bulk_create(
        Material(
            key=f"material-{n}", name=f"Material {n:03}", kind="resin", unit="g", shelf=f"A{n % SHELVES}",
            density_kg_m3=Decimal(1130), shelf_life_days=365,
        )
        for n in range(MATERIALS)
    )  # fmt: skip
    packs = Pack.objects.bulk_create(
        Pack(
            material=one, supplier=suppliers[n % SUPPLIERS], words="20 kg drum", content=Decimal(20_000), preferred=True
        )
        for n, one in enumerate(materials)
    )
    day = timezone.localdate(now)
    PackPrice.objects.bulk_create(PackPrice(pack=pack, price=Decimal(96), from_day=day) for pack in packs)
    Reservation.objects.bulk_create(
        Reservation(material=one, quantity=Decimal(200), needed_on=day + timedelta(days=n % 30), made_at=now)
        for n, one in enumerate(materials)
    )
    return materials


class Happened:
    """What happened to one material: a delivery that is used up in small parts, one after the other; the last one holds
    a little. One part in twenty is written off, one is undone."""

    def __init__(self, material: Material, keeper: User, now: datetime, movements: int, left: Decimal) -> None:
        self.material, self.keeper = material, keeper
        self.lots: list[Lot] = []
        self.movements: list[Movement] = []
        outs = max(1, movements - 1 - movements // ROUND)
        part = (USED_IN_ALL / outs).quantize(Decimal("0.001"))
        step = timedelta(days=DAYS) / (movements + 1)
        at = now - timedelta(days=DAYS)
        while len(self.movements) < movements:
            at += step
            todo = movements - len(self.movements)
            self._delivery(at, part * ROUND)
            for number in range(min(ROUND, todo) - 1):
                at += step
                if number == 3 and todo >= ROUND:
                    self._undo(at)
                else:
                    self._out(at, part, MovementKind.WRITE_OFF if number == 5 else MovementKind.USE)
            self._leave(NOTHING if todo > ROUND else left)

    def _delivery(self, at: datetime, quantity: Decimal) -> None:
        day = timezone.localdate(at)
        lot = Lot(
            material=self.material, received_on=day, use_by=day + timedelta(days=365), opened_on=day,
            good_until=day + timedelta(days=365),
        )  # fmt: skip
        self.lots.append(lot)
        self._move(at, MovementKind.RECEIVE, quantity)

    def _out(self, at: datetime, quantity: Decimal, kind: str) -> None:
        self._move(at, kind, -quantity)

    def _undo(self, at: datetime) -> None:
        first = self.movements[-1]
        self._move(at, MovementKind.REVERSAL, -first.quantity, reverses=first)

    def _leave(self, quantity: Decimal) -> None:
        """So much was delivered that this much of it is left."""
        lot = self.lots[-1]
        receipt = next(one for one in reversed(self.movements) if one.kind == MovementKind.RECEIVE)
        value = (quantity * EACH).quantize(Decimal("0.0001"))
        receipt.quantity += quantity - lot.quantity_left
        receipt.value += value - lot.value_left
        lot.quantity_left, lot.value_left = quantity, value

    def _move(self, at: datetime, kind: str, quantity: Decimal, reverses: Movement | None = None) -> None:
        value = (quantity * EACH).quantize(Decimal("0.0001"))
        lot = self.lots[-1]
        lot.quantity_left += quantity
        lot.value_left += value
        self.movements.append(
            Movement(
                lot=lot, material=self.material, kind=kind, quantity=quantity, value=value, happened_at=at,
                recorded_at=at, by=self.keeper, act=uuid.uuid4(), reverses=reverses,
            )
        )  # fmt: skip
