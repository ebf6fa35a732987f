"""A print of the price list: the paper with its hash, and what it said, so that what has moved since can be told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

from django.utils.dateformat import format as day_words

from quotes.models import Document, PriceListPrint
from quotes.pricelist.prices import COLUMNS, WallPriceList, price_list
from shop.models import Profile, Role, User
from shop.papers.paper import fingerprint, letterhead
from shop.platform.acts import Refused, may, verb
from shop.platform.journal import record


@verb
def print_list(*, by: User, at: datetime, day: date, paper: Callable[[dict[str, Any]], bytes]) -> PriceListPrint:
    """A print of the list: the paper kept with its hash, and what it says. Refused while no price at all is known."""
    may(by, Role.KEEPER, Role.COUNTER)
    listed = price_list(day=day)
    said = listed.said()
    if not any(one["price"] for one in said):
        raise Refused("No price on the list is known yet: put in rows, and what their recipes are missing.")
    content = content_of(listed)
    pdf = paper(content)
    document = Document.objects.create(
        kind="price list",
        name=f"price-list-{day.isoformat()}.pdf",
        pdf=pdf,
        sha256=fingerprint(pdf),
        content=content,
        made_at=at,
        by=by,
    )
    made = PriceListPrint.objects.create(at=at, by=by, prices=said, document=document)
    record(
        by=by, verb="print price list", row=made, words=f"Printed the price list of {day_words(day, 'j M Y')}", at=at
    )
    return made


def content_of(listed: WallPriceList) -> dict[str, Any]:
    """What the paper and the customers' page show: prices, no cost and no reason."""
    shop = Profile.objects.get()
    return {
        "day": listed.day.isoformat(),
        "currency": listed.currency,
        "locale": shop.locale,
        "paper": shop.paper,
        "tax_words": listed.tax_words,
        "seller": letterhead(shop),
        "columns": [column.words for column in COLUMNS],
        "groups": [
            {
                "repair": repair,
                "rows": [
                    {
                        "size": line.row.size,
                        "only_from": line.row.only_from,
                        "prices": [
                            {"price": None if cell.price is None else str(cell.price), "refused": cell.refused}
                            for cell in line.cells
                        ],
                    }
                    for line in lines
                ],
            }
            for repair, lines in listed.groups
        ],
    }
