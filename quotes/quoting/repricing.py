"""What a new price of a resin, a wage or a rate does to everything that is still open, and what to do about it.

Old prices are those that were said: stored on a quote, worked out for a recipe at the prices of an earlier day, printed
on the wall. New ones are those of the day asked about, which may lie ahead. Invariant: nothing here changes a sent
quote.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.utils.dateformat import format as day_words

from quotes import costing, quoting
from quotes.costing import Snapshot
from quotes.estimating import Inputs, as_float, price_way
from quotes.models import Quote, RecipeVersion, Way
from quotes.recipes import on_reference
from shop.measures import money, units
from shop.platform.acts import SEES_MONEY, Refused, Signed, action


class Input(NamedTuple):
    """One price or rate that differs between two days; None where there was or is none."""

    name: str
    old: float | None
    new: float | None
    per: str
    source: str


@dataclass(frozen=True)
class WayMove:
    """A way's price as it stands and as it would be worked out; None while something is missing.

    `earned_then` and `earned_now` are what an hour earns at the standing price, at the costs then and now.
    """

    way: Way
    old: Decimal | None
    new: Decimal | None
    earned_then: float | None
    earned_now: float | None
    problems: tuple[str, ...]

    @property
    def moved(self) -> bool:
        return self.old != self.new


@dataclass(frozen=True)
class QuoteMove:
    """An open quote with its ways, and what to do about it: `do` is "work out", "replace", "fill in" or nothing."""

    quote: Quote
    ways: tuple[WayMove, ...]
    do: str
    advice: str

    @property
    def moved(self) -> bool:
        return any(way.moved for way in self.ways)


class RecipeMove(NamedTuple):
    """A recipe's price on its reference board at the prices of two days."""

    version: RecipeVersion
    old: Decimal | None
    new: Decimal | None


def what_moved(old: Inputs, new: Inputs) -> list[Input]:
    """Every price and rate that differs between two days: materials, wage, overheads, tax."""
    rates = [
        ("Wage", old.shop.wage_per_hour, new.shop.wage_per_hour, "hour", new.shop.wage_source),
        ("Overhead", old.shop.overhead_per_hour, new.shop.overhead_per_hour, "hour", new.shop.overhead_source),
        ("Tax on repairs", as_float(old.tax.percent), as_float(new.tax.percent), "%", ""),
    ]
    moved = [Input(*rate) for rate in rates if rate[1] != rate[2]]
    was = old.shop.materials
    for key, material in new.shop.materials.items():
        before = was[key].price if key in was else None
        first, last = before.value if before else None, material.price.value if material.price else None
        if first != last:
            source = material.price.source if material.price else "no price any more"
            moved.append(Input(material.name, first, last, units.symbol(material.unit), source))
    return moved


def quote_moves(*, inputs: Inputs) -> list[QuoteMove]:
    """Every quote that is written or sent and not answered yet, those with something to do first. Flat in queries."""
    quotes = Quote.objects.filter(state__in=Quote.UNANSWERED).select_related("payer")
    ways: dict[int, list[Way]] = {}
    found = Way.objects.filter(board__quote__in=quotes).select_related("board__takein__board")
    for way in found.prefetch_related(quoting.PARTS, "lines"):
        ways.setdefault(way.board.quote_id, []).append(way)
    by_terms: dict[tuple[Decimal, Decimal], Inputs] = {}
    moves = []
    for quote in quotes:
        terms = (quote.payer.discount_percent, quote.rush_percent)
        own = by_terms.setdefault(terms, inputs.of_quote(*terms))
        moves.append(_quote_move(quote, [_way_move(way, own) for way in ways.get(quote.pk, ())], own.day))
    return sorted(moves, key=lambda move: (not move.do, not move.moved))


def _way_move(way: Way, inputs: Inputs) -> WayMove:
    try:
        made = quoting.board_of(way, list(way.parts.all()), inputs, choices=False)
        parts, lines = [brief(part) for part in made.parts], quoting.hand_lines(way)
        new = price_way(parts, inputs=inputs, lines=lines, by_hand=way.price_by_hand)
        standing = way.totals.get("shown")
        stays = price_way(parts, inputs=inputs, lines=lines, by_hand=Decimal(standing)) if standing else new
    except Refused as wrong:
        return WayMove(way, way.gross, None, way.totals.get("earned_per_hour"), None, tuple(wrong.messages))
    price = None if new["price"] is None else Decimal(new["price"])
    old = None if way.gross is None else money.round_money(way.gross, inputs.currency)
    lacks = tuple(problem.text for part in parts for problem in part.problems)
    return WayMove(way, old, price, way.totals.get("earned_per_hour"), stays["earned_per_hour"], lacks)


def brief(made: costing.Estimate) -> Snapshot:
    """The part of a snapshot that `price_way` reads."""
    return Snapshot(
        problems=tuple(made.problems),
        minutes=made.minutes,
        expected_minutes=made.minutes,
        cost_unrounded=made.cost_unrounded,
        outlay=made.outlay,
        again=tuple(one.kept() for one in made.again),
    )


def _quote_move(quote: Quote, ways: Sequence[WayMove], day: date) -> QuoteMove:
    do, advice = _advice(quote, ways, day)
    return QuoteMove(quote, tuple(ways), do, advice)


def _advice(quote: Quote, ways: Sequence[WayMove], day: date) -> tuple[str, str]:
    """What to do about an open quote, as a key and as a sentence."""
    moved = any(way.moved for way in ways)
    if quote.expired(day):
        assert quote.valid_until is not None, "only a dated quote expires"
        return "replace", f"Ran out on {_day(quote.valid_until)}: replace it by a new version at these prices."
    if quote.state == Quote.State.SENT:
        if not moved:
            return "", "Stays as it was sent."
        held = f" until {_day(quote.valid_until)}" if quote.valid_until else ""
        return "stays", f"Stays as it was sent{held}. Afterwards replace it by a new version."
    if any(way.problems for way in ways):
        return "fill in", "Something is missing for a price: open it and put it in."
    return ("work out", "Not sent yet: work it out again.") if moved else ("", "Nothing to do.")


def _day(day: date) -> str:
    return day_words(day, "D j M Y")


def recipe_moves(*, old: Inputs, new: Inputs, versions: Iterable[RecipeVersion] | None = None) -> list[RecipeMove]:
    """Each recipe in use whose price on its reference board differs between the two days."""
    moves = []
    for version in RecipeVersion.objects.current() if versions is None else versions:
        prices = [_reference_price(version, inputs) for inputs in (old, new)]
        if prices[0] != prices[1]:
            moves.append(RecipeMove(version, *prices))
    return moves


def _reference_price(version: RecipeVersion, inputs: Inputs) -> Decimal | None:
    try:
        priced = on_reference(version.body, version.recipe.reference, inputs).priced
    except Refused:
        return None
    return priced.gross if priced else None


@action("quote.work_out", *SEES_MONEY)
def work_out_drafts(*, quotes: Sequence[Quote], signed: Signed) -> tuple[list[Quote], list[str]]:
    """Every one of these drafts at the prices of today; a sentence for each that refuses, the others are done."""
    done, refusals = [], []
    for quote in sorted(quotes, key=lambda one: one.pk):
        try:
            done.append(quoting.recompute(quote=quote, signed=signed))
        except Refused as wrong:
            refusals += [f"{quote}: {text}" for text in wrong.messages]
    return done, refusals
