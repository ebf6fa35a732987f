"""The store with 200 000 movements over 300 materials against the same store with 2 000; and how fast stock is moved.

The floor of a page is the same page on the small store. The floor of a verb is a transaction written by hand with the
same statements, through Django's cursor, on the same database.
"""

from __future__ import annotations

import uuid
from collections.abc import Callable
from datetime import date, datetime, timedelta
from decimal import Decimal

from django.db import connection, transaction
from django.db.models import Sum
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from inventory.models import Lot, Material, Supplier
from inventory.stock import ledger
from shop.models import Role
from shop.platform.acts import Signed
from tests import walker
from tests.inventory import walk as _pages  # noqa: F401
from tests.tools.bench import Ratio, measure
from tests.tools.bench.store_rows import Store, stores

SMALL, LARGE = 2_000, 200_000
AT_MOST = 2.0
SLOWEST_VERB = 3.0  # measured 2.9 without the collector: Django puts the rows that are new into words each time, the floor does not


def ratios() -> list[Ratio]:
    with stores(SMALL, LARGE) as (small, large):
        return [*reads(small, large), *pages(small, large), *verbs(large)]


def reads(small: Store, large: Store) -> list[Ratio]:
    def on(store: Store, read: Callable[[], object]) -> Callable[[], object]:
        def run() -> None:
            store.open()
            read()

        return run

    asked: dict[str, Callable[[], object]] = {
        "stock of every material": lambda: list(Material.objects.with_stock()),
        "value of the store": lambda: Lot.objects.left().aggregate(worth=Sum("value_left")),
    }
    return [
        measure(name, ours=on(large, read), floor=on(small, read), floor_words=f"{SMALL} movements", most=AT_MOST)
        for name, read in asked.items()
    ]


def pages(small: Store, large: Store) -> list[Ratio]:
    """Every page that the store's walk lists, opened by the keeper."""
    found = []
    both = addresses(small), addresses(large)
    for name, there in both[1].items():
        here = both[0][name]
        found.append(
            measure(
                f"page {name}",
                ours=lambda there=there: large.page(there),
                floor=lambda here=here: small.page(here),
                floor_words=f"the same page with {SMALL} movements",
                most=AT_MOST,
            )
        )
    return found


def addresses(store: Store) -> dict[str, str]:
    """Where each page is, for the material that most happened to."""
    store.open()
    rows = walker.Rows({Role.KEEPER: store.keeper})
    rows["material"] = Material.objects.get(key="material-0")
    Material.objects.create(key="nowhere", name="Tape that lies nowhere yet", kind="tape", unit="m", shelf="")
    rows["supplier"] = Supplier.objects.order_by("pk").first()
    rows["lot"] = rows["material"].lots.left().first()
    rows["movement"] = rows["material"].movements.filter(kind="use").last()
    found = {str(page): walker.address(page, rows) for page in walker.PAGES if page.get == 200}
    long_ago, month_ago = (timezone.localdate() - timedelta(days=days) for days in (150, 30))
    found["stock-worth, a past time"] = f"{found['stock-worth']}?first={long_ago}&last={month_ago}"
    return found


def verbs(store: Store) -> list[Ratio]:
    """Ours and the floor take turns on the large store, each on a material of its own."""
    store.open()
    ours, floor = Material.objects.filter(key__in=["material-8", "material-18"])
    quantity = Decimal("1.5")

    def signed() -> Signed:
        return Signed(store.keeper, timezone.now())

    def use() -> None:
        ledger.use(material=ours, quantity=quantity, signed=signed())

    def write_off() -> None:
        ledger.write_off(material=ours, quantity=quantity, reason="spilt", signed=signed())

    def receive() -> None:
        ledger.receive(
            lot=Lot(material=ours, received_on=timezone.localdate()),
            quantity=quantity,
            value=Decimal("0.01"),
            signed=signed(),
        )

    by_hand = Hand(floor.pk, store.keeper.pk)
    pairs = {
        "use": (use, lambda: by_hand.out("use")),
        "write off": (write_off, lambda: by_hand.out("write_off")),
        "receive": (receive, by_hand.receive),
    }
    for verb, (act, hand) in pairs.items():
        act(), hand()  # the first of a day makes the day's total
        as_many_statements(verb, act, hand)
    return [
        measure(
            f"ledger: {verb}", ours=act, floor=hand, floor_words="the same statements by hand", most=SLOWEST_VERB,
            rounds=15, loops=40,
        )
        for verb, (act, hand) in pairs.items()
    ]  # fmt: skip


def as_many_statements(verb: str, act: Callable[[], object], hand: Callable[[], object]) -> None:
    """Raises where the floor does less, or more, than the ledger does."""
    counts = []
    for one in (act, hand):
        with CaptureQueriesContext(connection) as asked:
            one()
        counts.append(len(asked))
    if counts[0] != counts[1]:
        raise AssertionError(f"{verb}: the ledger sends {counts[0]} statements, the floor {counts[1]}.")


class Hand:
    """The ledger's statements, written out for one material: lock, lots, movement, day's total, balance, journal."""

    STEP = 1_500_000  # what is moved, in the column's own step

    def __init__(self, material: int, by: int) -> None:
        self.material, self.by = material, by
        self.lock = "" if connection.vendor == "sqlite" else " FOR NO KEY UPDATE"

    def out(self, kind: str) -> None:
        now = timezone.now()
        with transaction.atomic(), connection.cursor() as cursor:
            self._lock(cursor)
            cursor.execute(
                "SELECT id, good_until, received_on, opened_on, quantity_left, value_left FROM inventory_lot "
                "WHERE material_id = %s AND quantity_left > 0 ORDER BY good_until ASC NULLS LAST, received_on, id",
                [self.material],
            )
            lot, good_until, _, opened_on, left, worth = cursor.fetchall()[0]
            value = worth * self.STEP // left
            act = uuid.uuid4()
            self._movement(cursor, lot, kind, -self.STEP, -value, now, act)
            self._balance(cursor, lot, left - self.STEP, worth - value, opened_on, good_until)
            self._journal(cursor, now, kind, act)

    def receive(self) -> None:
        now = timezone.now()
        day = now.date()
        use_by = day + timedelta(days=365)  # as long as the ledger's own, so that both find as many lots to choose from
        with transaction.atomic(), connection.cursor() as cursor:
            self._lock(cursor)
            cursor.execute(
                "INSERT INTO inventory_lot (material_id, origin, delivery_note, received_on, use_by, good_until, brand, "
                "quantity_left, value_left) VALUES (%s, 'bought', '', %s, %s, %s, '', 0, 0) RETURNING id",
                [self.material, day, use_by, use_by],
            )
            lot = cursor.fetchone()[0]
            act = uuid.uuid4()
            self._movement(cursor, lot, "receive", self.STEP, 100, now, act)
            self._balance(cursor, lot, self.STEP, 100, None, use_by)
            self._journal(cursor, now, "receive", act)

    def _lock(self, cursor) -> None:
        cursor.execute(
            "SELECT id, name, unit, opened_life_days, (SELECT valuation FROM shop_profile LIMIT 1), "
            f"(SELECT timezone FROM shop_profile LIMIT 1) FROM inventory_material WHERE id = %s{self.lock}",
            [self.material],
        )
        cursor.fetchone()

    def _movement(self, cursor, lot: int, kind: str, quantity: int, value: int, now: datetime, act: uuid.UUID) -> None:
        moment = connection.ops.adapt_datetimefield_value(now)
        kept_act = act if connection.features.has_native_uuid_field else act.hex
        cursor.execute(
            "INSERT INTO inventory_movement (lot_id, material_id, kind, quantity, value, happened_at, recorded_at, by_id, "
            "reason, act) VALUES (%s, %s, %s, %s, %s, %s, %s, %s, '', %s) RETURNING id",
            [lot, self.material, kind, quantity, value, moment, moment, self.by, kept_act],
        )
        cursor.fetchone()
        cursor.execute(
            "INSERT INTO inventory_daytotal AS there (material_id, side, recorded_on, quantity, value) "
            "VALUES (%s, %s, %s, %s, %s) ON CONFLICT (material_id, side, recorded_on) "
            "DO UPDATE SET quantity = there.quantity + excluded.quantity, value = there.value + excluded.value",
            [self.material, kind, now.date(), quantity, value],
        )
        if kind == "use":
            self._week(cursor, now.date() - timedelta(days=now.weekday()), -quantity)

    def _week(self, cursor, monday: date, used: int) -> None:
        cursor.execute(
            "INSERT INTO inventory_weekuse AS there (material_id, week, quantity) VALUES (%s, %s, %s) "
            "ON CONFLICT (material_id, week) DO UPDATE SET quantity = there.quantity + excluded.quantity",
            [self.material, monday, used],
        )

    def _balance(self, cursor, lot: int, left: int, worth: int, opened_on, good_until) -> None:
        cursor.execute(
            "UPDATE inventory_lot SET quantity_left = %s, value_left = %s, opened_on = %s, good_until = %s WHERE id = %s",
            [left, worth, opened_on, good_until, lot],
        )

    def _journal(self, cursor, now: datetime, kind: str, act: uuid.UUID) -> None:
        cursor.execute(
            "INSERT INTO shop_journalentry (at, by_id, verb, about, words, details) VALUES (%s, %s, %s, %s, %s, %s) "
            "RETURNING id",
            [
                connection.ops.adapt_datetimefield_value(now), self.by, f"stock.{kind}",
                f"inventory.material:{self.material}", "Moved 1.5 g", f'{{"act": "{act}"}}',
            ],
        )  # fmt: skip
        cursor.fetchone()
