"""Lines by hand on a way: what is charged beside its repairs, with its own cost and tax."""

from __future__ import annotations

from decimal import Decimal

from quotes.models import Way, WayLine
from quotes.quoting.drafting import Today, draft, work_out
from shop.platform.acts import SEES_MONEY, Signed, action


@action("line.add", *SEES_MONEY)
def add_line(
    *,
    way: Way,
    words: str,
    price: Decimal,
    signed: Signed,
    cost: Decimal = Decimal(0),
    tax_percent: Decimal | None = None,
) -> WayLine:
    """A line by hand: a fin set, a courier, a bought-in spray job. `tax_percent` None takes the rate for repairs."""
    quote = draft(way.board.quote)
    today = Today.of(quote, signed.at)
    percent = today.inputs.tax.percent if tax_percent is None else tax_percent
    line = WayLine.objects.create(way=way, words=words.strip(), price=price, cost=cost, tax_percent=percent)
    work_out(way, today)
    signed.record(quote, f"Line by hand on way {way.position} of {quote}")
    return line


@action("line.change", *SEES_MONEY)
def edit_line(
    *, line: WayLine, words: str, price: Decimal, cost: Decimal, tax_percent: Decimal, signed: Signed
) -> WayLine:
    """The line by hand with other words, price, cost or rate."""
    quote = draft(line.way.board.quote)
    line.words, line.price, line.cost, line.tax_percent = words.strip(), price, cost, tax_percent
    line.save()
    work_out(line.way, Today.of(quote, signed.at))
    signed.record(quote, f"Changed a line by hand of {quote}")
    return line


@action("line.remove", *SEES_MONEY)
def remove_line(*, line: WayLine, signed: Signed) -> Way:
    """Takes a line by hand out."""
    way = line.way
    quote = draft(way.board.quote)
    line.delete()
    work_out(way, Today.of(quote, signed.at))
    signed.record(quote, f"Took a line by hand out of {quote}")
    return way
