"""A quote being written: its boards, who pays, and its ways worked out at the day's prices.

Invariant: only a draft changes, and a way's figures are those of its parts and lines at its last working out.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

from quotes.costing import PlannedStep
from quotes.estimating import Calendar, Inputs, ready_on, shop_calendar, shop_inputs
from quotes.models import Job, Quote, QuoteBoard, TakeIn, Way, WayPart
from quotes.quoting.repairs import PARTS, bench_steps, board_of, figures_of, parts_of
from quotes.quoting.takein import shop_day
from shop.models import Customer
from shop.platform.acts import SEES_MONEY, Refused, Signed, action


@dataclass(frozen=True)
class Today:
    """All that working a way out takes: the shop's prices of the day, its calendar, and when work can begin.

    `waits` is the hands-on minutes of other jobs that are done first.
    """

    inputs: Inputs
    calendar: Calendar
    start: date
    waits: float

    @classmethod
    def of(cls, quote: Quote, at: datetime) -> Today:
        """Work begins on a worked day after the quote is made, once the jobs on the bench have had their hours; a rush
        goes before them. Takes the payer's discount."""
        inputs = shop_inputs(day=shop_day(at)).of_quote(quote.payer.discount_percent, quote.rush_percent)
        return cls(inputs, *_begun(quote, at))


def _begun(quote: Quote, at: datetime) -> tuple[Calendar, date, float]:
    """The shop's calendar, the day work on a quote would begin, and the minutes of work on the rack it waits for."""
    calendar = shop_calendar()
    waits = 0.0 if quote.rush_percent else Job.objects.minutes_ahead()
    return calendar, calendar.begun_after(shop_day(at) + timedelta(days=1), waits), waits


def day_to_promise(way: Way, at: datetime) -> date | None:
    """The day to promise if the customer says yes now: the one given by hand or said on the quote, unless work begun
    after this yes is ready later, or that day is over. None where no day is known."""
    today, said = shop_day(at), way.ready_on
    if way.ready_by_hand:
        return said if said and said >= today else None
    calendar, start, _ = _begun(way.board.quote, at)
    now = None if way.problems else ready_on(_in_turn(way, way.parts.all()), start=start, calendar=calendar)
    return max((day for day in (said, now) if day and day >= today), default=None)


def _in_turn(way: Way, parts: Iterable[WayPart]) -> list[Sequence[PlannedStep]]:
    """The steps of a way that wait for each other: those of the bench, before there were any those of each repair."""
    return [way.planned_steps] if way.steps else [part.estimate.steps for part in parts]


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
    keep_figures(way, {**figures, "waits": today.waits})
    way.tax_percent = today.inputs.tax.percent
    if not way.ready_by_hand:
        steps = _in_turn(way, parts)
        way.ready_on = None if way.problems else ready_on(steps, start=today.start, calendar=today.calendar)
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
