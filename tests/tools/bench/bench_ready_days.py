"""Pages that show ready days against the same pages without any: what was worked out is only read there."""

from __future__ import annotations

from django.test import override_settings
from django.utils import timezone

from quotes import bench, quoting
from quotes.models import Outlook, Quote, Way
from quotes.ready_days.outlook import look_again, outlook
from shop.models import Role
from shop.platform.acts import Signed
from tests import sample_shop
from tests.conftest import make_user
from tests.quotes import seed
from tests.tools.bench import Ratio, measure
from tests.tools.bench.store_rows import Store, stores

BOARDS, WAYS = 12, 5


def ratios() -> list[Ratio]:
    with stores(2_000) as (shop,):
        quote = fill(shop)
        return [*quote_page(shop, quote), *rack(shop), *worked_out(shop, quote)]


def fill(shop: Store) -> Quote:
    """Twelve boards on the rack, promised; and a quote of five ways."""
    shop.open()
    now, by = timezone.now(), make_user(Role.COUNTER)
    sample_shop.stock_the_store()
    versions = seed.recipes()
    signed = Signed(by, now)

    def quoted(number: int) -> Way:
        takein = quoting.take_in(
            brought_by=seed.customer(f"Customer {number}"), board=seed.fish(), damages=[seed.crushed_box()],
            checks=seed.checked(), signed=signed,
        )  # fmt: skip
        quote = quoting.start_quote(takeins=[takein], signed=signed)
        keels = {"version": versions["glass-on-twin"], "measures": seed.KEELS, "damage": takein.damages.get()}
        return quoting.add_way(board=quote.boards.get(), signed=signed, **keels)

    for number in range(BOARDS):
        bench.accept_way(way=quoted(number), signed=signed, how="here", spoken=True)
    way = quoted(BOARDS)
    for _ in range(WAYS - 1):
        keels = {"version": versions["glass-on-twin"], "measures": seed.KEELS}
        quoting.add_way(board=way.board, signed=signed, **keels)
    look_again(at=now)
    return way.board.quote


def quote_page(shop: Store, quote: Quote) -> list[Ratio]:
    address, kept = f"/quote/{quote.pk}/", {way.pk: way.ready for way in Way.objects.filter(board__quote=quote)}

    def without() -> object:
        Way.objects.filter(pk__in=kept).update(ready={})
        return shop.page(address)

    def with_days() -> object:
        for pk, ready in kept.items():
            Way.objects.filter(pk=pk).update(ready=ready)
        return shop.page(address)

    words = "the same page without anything known of ready days"
    return [measure(f"page of a quote of {WAYS} ways, days and chances", ours=with_days, floor=without,
                    floor_words=words, most=2.0)]  # fmt: skip


def rack(shop: Store) -> list[Ratio]:
    seen = outlook()

    def with_it() -> object:
        seen.save()
        return shop.page("/")

    def without() -> object:
        Outlook(pk=1).save()
        return shop.page("/")

    words = "the same page before the bench ahead was worked out"
    found = measure(f"the rack with {BOARDS} boards, chances and plan", ours=with_it, floor=without, floor_words=words,
                    most=2.0)  # fmt: skip
    seen.save()
    return [found]


def worked_out(shop: Store, quote: Quote) -> list[Ratio]:
    """Report only: the act that works out five ways and what each does to twelve promises, against prices alone."""

    def again() -> object:
        return quoting.recompute(quote=quote, signed=Signed(shop.keeper, timezone.now()))

    def prices_alone() -> object:
        with override_settings(READY_DAY_DRAWS=1):
            return again()

    return [measure(f"{WAYS} ways worked out, prices and days", ours=again, floor=prices_alone, rounds=3,
                    floor_words="the same with a single draw")]  # fmt: skip
