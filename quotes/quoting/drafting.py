"""A quote being written: its boards, who pays, and its ways worked out at the day's prices.

Invariant: only a draft changes, and a way's figures are those of its parts and lines at its last working out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from quotes.estimating import Inputs, shop_inputs
from quotes.models import Quote, QuoteBoard, TakeIn, Way, WayPart
from quotes.planner import WrongState
from quotes.quoting.repairs import PARTS, bench_steps, board_of, figures_of, parts_of
from quotes.quoting.takein import shop_day
from quotes.ready_days.way_days import BenchAsked, DayAsked, ready_day
from shop.models import Customer
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

YEAR = 366  # days


@dataclass(frozen=True)
class Today:
    """All that working a way out takes: the shop's prices of the day, and the bench that is asked when it is ready."""

    inputs: Inputs
    bench: BenchAsked
    days_stand: bool = False

    @classmethod
    def of(cls, quote: Quote, at: datetime, *, days_stand: bool = False) -> Today:
        """Prices of the day with the payer's discount and the quote's rush, and the bench as it is now.

        With `days_stand` a ready day that was worked out before stays while it holds eight in ten.
        """
        inputs = shop_inputs(day=shop_day(at)).of_quote(quote.payer.discount_percent, quote.rush_percent)
        return cls(inputs, BenchAsked(at), days_stand)


def day_may_be(day: date, today: date, *, field: str) -> None:
    """Refused beside the field for a ready day that is past, or more than a year ahead: that is a slip."""
    if day < today:
        raise Refused("Ready on lies in the past: give a day from today on.", field=field)
    if (day - today).days > YEAR:
        raise Refused("Ready on lies more than a year ahead: give a day within a year.", field=field)


@dataclass(frozen=True)
class DayToPromise:
    """The day to promise with a yes, None where none is known; and the bench that was asked, where it could be."""

    day: date | None
    asked: DayAsked | None


def day_to_promise(way: Way, at: datetime, given: date | None = None) -> DayToPromise:
    """The day to promise if the customer says yes now.

    `given` or one set by hand is promised as it is; so is the one said on the quote while it holds eight in ten. Else
    it is the day that does now, and never before the one said.
    """
    said = given or way.ready_on
    said = said if said and said >= shop_day(at) else None
    by_hand = said is not None and (given is not None or way.ready_by_hand)
    if way.problems or (by_hand and said == shop_day(at)):  # done while the customer waits
        return DayToPromise(said, None)
    bench, parts = BenchAsked(at, to_promise=True), list(way.parts.all())
    try:
        found = bench.day_of(way, parts, day=said, begun_now=True)
        if not by_hand and said is not None and not found.holds:
            later = bench.sure_day_of(way, parts)
            found = later if later.day > said else found
        elif said is None:
            found = bench.sure_day_of(way, parts)
    except WrongState:
        return DayToPromise(said, None)
    return DayToPromise(found.day, found)


def locked(quote: Quote) -> Quote:
    return Quote.objects.select_for_update(of=("self",)).select_related("payer").get(pk=quote.pk)


def draft(quote: Quote) -> Quote:
    """The quote, locked. Refused unless it is still being written."""
    quote = locked(quote)
    if not quote.open_to_change:
        raise Refused("This quote was given out and does not change: replace it by a new version.")
    return quote


@action("quote.start", *SEES_MONEY)
def start_quote(*, takeins: Sequence[TakeIn], signed: Signed, payer: Customer | None = None) -> Quote:
    """A draft for one or more boards that are here, for who pays for the first."""
    if not takeins:
        raise Refused("A quote needs at least one board: take one in first.")
    quote = Quote.objects.create(payer=payer or takeins[0].who_pays, made_at=signed.at, by=signed.by)
    for takein in takeins:
        _put_board(quote, takein)
    signed.record(quote, f"Began a quote for tag {takeins[0].tag}")
    return quote


@action("quote.add_board", *SEES_MONEY)
def add_board(*, quote: Quote, takein: TakeIn, signed: Signed) -> QuoteBoard:
    """One more board on a draft. Refused when it has left the shop or is on the quote already."""
    quote = draft(quote)
    if quote.boards.filter(takein=takein).exists():
        raise Refused(f"The board with tag {takein.tag} is on this quote already.", field="takein")
    board = _put_board(quote, takein)
    signed.record(quote, f"Put tag {takein.tag} on {quote}")
    return board


@action("quote.change", *SEES_MONEY)
def edit_quote(
    *,
    quote: Quote,
    signed: Signed,
    note: str,
    payer: Customer | None = None,
    rush_percent: Decimal | None = None,
) -> Quote:
    """The word to the customer, who pays, and the supplement for a rush; where the price may change by it, all is
    worked out anew."""
    quote = draft(quote)
    rush = quote.rush_percent if rush_percent is None else rush_percent
    other = (payer is not None and payer != quote.payer) or rush != quote.rush_percent
    quote.note, quote.payer, quote.rush_percent = note, payer or quote.payer, rush
    quote.save(update_fields=["note", "payer", "rush_percent"])
    if other:
        work_out_all(quote, Today.of(quote, signed.at))
    signed.record(quote, f"Changed {quote}")
    return quote


@action("quote.work_out", *SEES_MONEY)
def recompute(*, quote: Quote, signed: Signed) -> Quote:
    """Every way of a draft at the prices, rates and days of today."""
    quote = draft(quote)
    work_out_all(quote, Today.of(quote, signed.at))
    signed.record(quote, f"Worked {quote} out at today's prices")
    return quote


def ways_of(quote: Quote) -> list[Way]:
    """The quote's ways in order, with all that working them out or showing them takes."""
    ways = Way.objects.filter(board__quote=quote).select_related("board__takein__board", "board__quote")
    return list(ways.prefetch_related(PARTS, "lines"))


def work_out_all(quote: Quote, today: Today) -> list[Way]:
    """Every way worked out anew and saved."""
    ways = ways_of(quote)
    for way in ways:
        work_out(way, today)
    return ways


def work_out(way: Way, today: Today) -> None:
    """The way's repairs worked out as one board, and its figures from them and its lines by hand, saved.

    Raises Refused when a price by hand does not hold the lines by hand.
    """
    parts = parts_of(way)
    made = board_of(way, parts, today.inputs)
    for part, own in zip(parts, made.parts, strict=True):
        part.estimate = own.snapshot()
    WayPart.objects.bulk_update(parts, ["snapshot"])
    way.planned_steps = bench_steps(parts, made)
    figures = figures_of(way, parts, made, today.inputs, by_hand=way.price_by_hand)
    keep_figures(way, figures)
    way.tax_percent = today.inputs.tax.percent
    if not way.problems:
        way.ready_on, way.ready = ready_day(today.bench, way, parts, stands=today.days_stand)
    else:
        way.ready_on, way.ready = (way.ready_on if way.ready_by_hand else None), {}
    way.save()


def keep_figures(way: Way, figures: Mapping[str, Any]) -> None:
    """A way's figures in its columns; not saved."""
    way.totals, way.problems = dict(figures), figures["problems"]
    way.cost, way.net, way.tax, way.gross = (
        None if figures[name] is None else Decimal(figures[name])
        for name in ("cost", "price_before_tax", "tax", "price")
    )
    way.minutes, way.added_weight_g = figures["minutes"], figures["added_weight_g"]


def _put_board(quote: Quote, takein: TakeIn) -> QuoteBoard:
    if takein.gone_at is not None:
        raise Refused(f"The board with tag {takein.tag} has left the shop: take it in again first.", field="takein")
    return QuoteBoard.objects.create(quote=quote, takein=takein)
