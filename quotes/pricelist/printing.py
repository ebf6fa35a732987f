"""A print of the price list: the paper with its hash, and what it said, so that what has moved since can be told."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.dateformat import format as day_words

from quotes.models import PriceListPrint
from quotes.papers import keeping
from quotes.papers import price_list as price_list_paper
from quotes.pricelist.prices import COLUMNS, WallPriceList, price_list
from shop.models import Profile, Role
from shop.papers.paper import letterhead
from shop.platform.acts import Refused, Signed, action


@action("wall_list.print", Role.KEEPER, Role.COUNTER)
def print_list(*, signed: Signed, day: date) -> PriceListPrint:
    """A print of the list: the paper kept with its hash, and what it says. Refused while no price at all is known."""
    listed = price_list(day=day)
    said = listed.said()
    if not any(one["price"] for one in said):
        raise Refused("No price on the list is known yet: put in rows, and what their recipes are missing.")
    content = content_of(listed)
    pdf = keeping.made(price_list_paper.pdf, content)
    document = keeping.keep("price list", f"price-list-{day.isoformat()}.pdf", pdf, signed=signed, content=content)
    made = PriceListPrint.objects.create(at=signed.at, by=signed.by, prices=said, document=document)
    signed.record(made, f"Printed the price list of {day_words(day, 'j M Y')}")
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
