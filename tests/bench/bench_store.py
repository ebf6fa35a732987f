"""The store with 200 000 movements over 300 materials against the same store with 2 000: the same page is its floor."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta

from django.db.models import Sum
from django.utils import timezone

from inventory.models import Lot, Material, Supplier
from shop.models import Role
from tests import walker
from tests.bench import Ratio, measure
from tests.bench.store_rows import Store, stores
from tests.inventory import walk as _pages  # noqa: F401

SMALL, LARGE = 2_000, 200_000
AT_MOST = 2.0


def ratios() -> list[Ratio]:
    with stores(SMALL, LARGE) as (small, large):
        return [*reads(small, large), *pages(small, large)]


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
                rounds=3,
            )
        )
    return found


def addresses(store: Store) -> dict[str, str]:
    """Where each page is, for the material that most happened to."""
    store.open()
    rows = walker.Rows({Role.KEEPER: store.keeper})
    rows["material"] = Material.objects.get(key="material-0")
    rows["supplier"] = Supplier.objects.order_by("pk").first()
    rows["lot"] = rows["material"].lots.left().first()
    rows["movement"] = rows["material"].movements.filter(kind="use").last()
    found = {str(page): walker.address(page, rows) for page in walker.PAGES if page.get == 200}
    long_ago, month_ago = (timezone.localdate() - timedelta(days=days) for days in (150, 30))
    found["stock-worth, a past time"] = f"{found['stock-worth']}?first={long_ago}&last={month_ago}"
    return found
