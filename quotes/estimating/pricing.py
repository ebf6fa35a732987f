"""The price of a way, out of its estimates and what was added by hand."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from math import fsum
from typing import Any, NamedTuple

from quotes import costing
from quotes.costing import Snapshot, earned_per_hour
from quotes.costing.money.pricing import hands_on
from quotes.estimating.inputs import Inputs, as_float
from quotes.totals import DocumentLine, Totals, totals
from shop.measures import money
from shop.platform.acts import Refused


class HandLine(NamedTuple):
    """A line by hand: its price as the shop's prices are, what it costs the shop without tax, and its tax rate."""

    words: str
    price: Decimal
    cost: Decimal = Decimal(0)
    percent: Decimal = Decimal(0)


def price_way(
    snapshots: Sequence[Snapshot],
    *,
    inputs: Inputs,
    lines: Sequence[HandLine] = (),
    by_hand: Decimal | None = None,
) -> dict[str, Any]:
    """What a whole way costs and is sold at; money is None while a part has problems.

    `by_hand` is the price of the whole way as the customer sees it. Adds to the core's figures `lines` (the work, then
    the lines by hand, as prices are in this shop) and `document`, their totals. Raises Refused when a price by hand
    does not even hold the lines by hand.
    """
    pricing = inputs.shop.pricing
    extras = sum((line.price for line in lines), Decimal(0))
    work = None if by_hand is None else by_hand - extras
    if work is not None and work < 0:
        raise Refused(
            f"A price of {by_hand} does not hold the lines by hand, which come to {extras}: set a higher one.",
            field="price_by_hand",
        )
    way = costing.price_way(snapshots, pricing, shown=work)
    if way["price"] is None:
        return {**way, "lines": [], "document": None}
    rows, document = document_of(Decimal(way["shown"]), inputs=inputs, lines=lines)
    bought = sum((line.cost for line in lines), Decimal(0))
    cost = way["cost_unrounded"] + as_float(bought)
    outlay = fsum(part.outlay or 0.0 for part in snapshots) + as_float(bought)
    exact_cost = money.round_money(money.from_float(cost), inputs.currency)
    return {
        **way,
        "cost": str(exact_cost),
        "cost_unrounded": cost,
        "outlay": outlay,
        "price_before_tax": str(document.net),
        "tax": str(document.tax),
        "price": str(document.gross),
        "shown": str(document.lines_total),
        "earned_per_hour": earned_per_hour(as_float(document.net), outlay, hands_on(snapshots)),
        "margin": _margin(way["margin"], document.net, exact_cost, lines),
        "lines": [
            {
                "words": row.words,
                "price": f"{row.unit_price:.{pricing.decimals}f}",
                "tax_category": row.tax_category,
                "tax_percent": f"{row.tax_percent.normalize():f}",
                "by_hand": index > 0,
            }
            for index, row in enumerate(rows)
        ],
        "document": document.as_dict(),
    }


def document_of(work: Decimal, *, inputs: Inputs, lines: Sequence[HandLine] = ()) -> tuple[list[DocumentLine], Totals]:
    """The lines of a way whose work is sold at `work`, then those by hand, all as prices are in this shop, and their
    totals."""
    rows = [DocumentLine("Work", Decimal(1), work, *inputs.tax)]
    rows += [DocumentLine(line.words, Decimal(1), line.price, *inputs.rate_of(line.percent)) for line in lines]
    return rows, totals(rows, currency=inputs.currency, prices_include_tax=inputs.prices_include_tax, tie=inputs.tie)


def _margin(work: Mapping[str, Any], net: Decimal, cost: Decimal, lines: Sequence[HandLine]) -> dict[str, Any]:
    """The margin of the whole way: the work's trail, then what the lines by hand add."""
    gain = net - cost
    added = [{"words": f"line by hand: {line.words}", "amount": str(line.price)} for line in lines]
    return {
        **work,
        "amount": str(gain),
        "of_price_percent": as_float(gain / net * 100) if net else 0.0,
        "of_cost_percent": as_float(gain / cost * 100) if cost else 0.0,
        "trail": [*work["trail"], *added],
    }
