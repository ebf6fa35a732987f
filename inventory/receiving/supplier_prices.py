"""A supplier's price list beside what the shop knows: every change is seen before any of it counts."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from inventory.catalogue.materials import set_pack_price
from inventory.models import Pack, PackPrice, PriceList, Supplier
from inventory.receiving.pricelist import PricedArticle, read_list
from shop.models import Profile
from shop.platform.acts import SEES_MONEY, Refused, Signed, action, checked

UNUSUAL = Decimal(50)  # per cent a price may move before it is pointed out; range 20 to 100


class Change(NamedTuple):
    """A pack whose price the list changes; `percent` is None where there was no price yet."""

    pack: Pack
    line: int
    before: Decimal | None
    after: Decimal
    percent: Decimal | None

    @property
    def unusual(self) -> bool:
        """Whether the price moved by more than is usual."""
        return self.percent is not None and abs(self.percent) > UNUSUAL


@dataclass(frozen=True)
class Comparison:
    """All that a list says, and all that it does not.

    Changes, same prices, strangers, packs it leaves out, problems.
    """

    changes: Sequence[Change]
    same: int
    strangers: Sequence[PricedArticle]
    left_out: Sequence[Pack]
    without_article: Sequence[Pack]
    problems: Sequence[str]
    more_problems: int


@action("pricelist.keep", *SEES_MONEY)
def keep_list(*, supplier: Supplier, name: str, text: str, from_day: date, signed: Signed) -> PriceList:
    """Keep a list to look at. No price changes yet."""
    row = PriceList(supplier=supplier, name=name, text=text, from_day=from_day, by=signed.by, made_at=signed.at)
    checked(row).save()
    signed.record(row, f"Looked at price list {row}")
    return row


def compare(price_list: PriceList) -> Comparison:
    """What the list would change on its day. Three queries, however long it is."""
    reading = read_list(price_list.text, currency=Profile.objects.values_list("currency", flat=True).get())
    packs = Pack.objects.in_use().filter(supplier=price_list.supplier_id).select_related("material", "supplier")
    known: dict[str, list[Pack]] = {}
    for pack in packs:
        if pack.supplier_code:
            known.setdefault(pack.supplier_code.casefold(), []).append(pack)
    in_force = PackPrice.objects.in_force(price_list.from_day).filter(pack__supplier=price_list.supplier_id)
    prices = {price.pack_id: price.price for price in in_force}
    changes, same, listed = [], 0, set()
    priced_packs = ((priced, pack) for priced in reading.priced for pack in known.get(priced.article.casefold(), ()))
    for priced, pack in priced_packs:
        listed.add(pack.pk)
        before = prices.get(pack.pk)
        if before == priced.price:
            same += 1
        else:
            percent = (priced.price - before) * 100 / before if before else None
            changes.append(Change(pack, priced.line, before, priced.price, percent))
    return Comparison(
        changes=changes,
        same=same,
        strangers=[priced for priced in reading.priced if priced.article.casefold() not in known],
        left_out=[pack for alike in known.values() for pack in alike if pack.pk not in listed],
        without_article=[pack for pack in packs if not pack.supplier_code],
        problems=reading.problems,
        more_problems=reading.more_problems,
    )


@action("pricelist.take_over", *SEES_MONEY)
def take_over(*, price_list: PriceList, signed: Signed) -> list[PackPrice]:
    """Let the prices of a list count from its day on: all of its changes, or none. Raises Refused."""
    row = PriceList.objects.select_for_update(of=("self",)).select_related("supplier").get(pk=price_list.pk)
    if row.taken_at is not None:
        raise Refused("This list was taken over already.")
    comparison = compare(row)
    if comparison.problems:
        raise Refused("Something in this list cannot be read, so none of it is taken over. Mend it and send it again.")
    if not comparison.changes:
        raise Refused("This list changes no price of a pack that the shop buys.")
    prices = [
        set_pack_price(pack=change.pack, price=change.after, from_day=row.from_day, signed=signed)
        for change in comparison.changes
    ]
    row.taken_at = signed.at
    row.save(update_fields=["taken_at"])
    words = f"Took over {len(prices)} prices of {row}"
    signed.record(row, words)
    return prices
