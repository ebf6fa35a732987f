"""The order to one supplier as plain text, to be pasted into a letter or read out over the phone."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from inventory.buying.buy_list import SupplierList
from shop.models import Profile
from shop.text.formats import day_year


def subject(shop: Profile) -> str:
    """Subject line of an order."""
    return f"Order from {shop.name}"


def for_the_supplier(due: SupplierList, shop: Profile, today: date) -> str:
    """What is ordered, until when, how long it must keep, and where to; nothing of the shop's own reasons."""
    return "\n".join(_for_the_supplier(due, shop, today)) + "\n"


def _for_the_supplier(due: SupplierList, shop: Profile, today: date) -> Iterator[str]:
    yield subject(shop)
    yield day_year(today)
    yield ""
    for line in due.lines:
        if line.pack is None or not line.packs:
            continue
        article = f", your article {line.pack.supplier_code}" if line.pack.supplier_code else ""
        yield f"{line.packs} × {line.pack.words}, {line.material.name}{article}"
        keeps = f"; please send a batch good until {day_year(line.good_until)} or later" if line.good_until else ""
        wanted = "wanted as soon as you can" if line.late else f"wanted by {day_year(line.low_on)}"
        yield f"    {wanted}{keeps}"
    yield ""
    yield f"Deliver to: {', '.join([shop.name, *shop.address.splitlines()])}"
    if shop.phone or shop.email:
        yield f"Questions: {', '.join(filter(None, [shop.phone, shop.email]))}"


def for_the_shop(due: SupplierList) -> str:
    """Why each line stands there, and what holds it back."""
    said = ["For the shop only, not for the supplier", "-" * 39]
    for line in due.lines:
        said.append(f"{line.material.name}: {line.quantity}, order by {day_year(line.order_on)}")
        said += [f"    {sentence}" for sentence in (*line.why, *line.ceilings)]
    return "\n".join(said) + "\n"
