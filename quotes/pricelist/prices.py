"""The wall price list: repairs by size class and construction, priced by the same engine as a quote.

A row names a recipe with the measures of its size class; each construction is a column. A price is shown only if all of
it is known: otherwise it is asked for at the counter, or the repair is not done on such a board.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from functools import reduce
from itertools import groupby
from typing import Any, NamedTuple

from quotes.costing import Construction, Guessed, Problem, Remedy, boards_together, guessed_in, together_in_words
from quotes.costing.parts.guessed_prices import NO_COST
from quotes.estimating import Inputs, core_recipe, estimate, shop_inputs
from quotes.models import PriceListRow, RecipeVersion
from shop.countries import tax
from shop.models import Profile
from shop.platform.acts import Refused


class Column(NamedTuple):
    """One construction the list has prices for."""

    key: str
    words: str
    board: Construction


COLUMNS = (
    Column("pu", "PU foam, polyester", Construction("pu", "polyester", "glass")),
    Column("eps", "EPS foam, epoxy", Construction("eps", "epoxy", "glass")),
)


@dataclass(frozen=True)
class PriceCell:
    """The price of a row on one construction, as the customer sees it; None with `problems`, or `refused` with why."""

    column: Column
    price: Decimal | None
    problems: tuple[Problem, ...] = ()
    refused: bool = False
    guessed: Guessed = NO_COST


@dataclass(frozen=True)
class PriceLine:
    """One row of the list with its prices."""

    row: PriceListRow
    cells: tuple[PriceCell, ...]


@dataclass(frozen=True)
class WallPriceList:
    """The list as it is on a day; `groups` holds the lines under their repair's name, in order."""

    day: date
    currency: str
    tax_words: str
    groups: tuple[tuple[str, tuple[PriceLine, ...]], ...]
    together: str  # how many boards the prices reckon with, for the shop

    @property
    def lines(self) -> list[PriceLine]:
        """Lines of all groups, in order."""
        return [line for _, lines in self.groups for line in lines]

    @property
    def guessed(self) -> Guessed:
        """What its prices rest on in all, and the most that rests on guesses in one of them. For the shop only."""
        return reduce(Guessed.beside, (cell.guessed for line in self.lines for cell in line.cells), NO_COST)

    def said(self) -> list[dict[str, Any]]:
        """Each price as a print keeps it."""
        return [
            {
                "row": line.row.pk,
                "repair": line.row.repair,
                "size": line.row.size,
                "only_from": line.row.only_from,
                "column": cell.column.key,
                "column_words": cell.column.words,
                "price": None if cell.price is None else str(cell.price),
                "refused": cell.refused,
            }
            for line in self.lines
            for cell in line.cells
        ]


class Move(NamedTuple):
    """A price that differs from what the last print says; None where one of them has none."""

    repair: str
    size: str
    column_words: str
    old: Decimal | None
    new: Decimal | None


def price_list(*, day: date, inputs: Inputs | None = None) -> WallPriceList:
    """Every row priced at the day's prices. Thirteen queries, however many rows."""
    inputs = inputs or shop_inputs(day=day)
    versions = {version.recipe_id: version for version in RecipeVersion.objects.current()}
    rows = PriceListRow.objects.select_related("recipe")
    lines = [PriceLine(row, _cells(row, versions.get(row.recipe_id), inputs)) for row in rows]
    groups = tuple((repair, tuple(found)) for repair, found in groupby(lines, lambda line: line.row.repair))
    return WallPriceList(
        day, inputs.currency, _tax_words(inputs), groups, together_in_words(boards_together(inputs.shop))
    )


def _cells(row: PriceListRow, version: RecipeVersion | None, inputs: Inputs) -> tuple[PriceCell, ...]:
    if version is None:
        text = f"{row.recipe.name} is retired: give this row another recipe."
        return tuple(
            PriceCell(column, None, (Problem("", "recipe", text, Remedy("row", str(row.pk))),)) for column in COLUMNS
        )
    return tuple(_cell(row, version, column, inputs) for column in COLUMNS)


def _cell(row: PriceListRow, version: RecipeVersion, column: Column, inputs: Inputs) -> PriceCell:
    refusals = core_recipe(version).refusals(column.board)
    if refusals:
        return PriceCell(column, None, tuple(refusals), refused=True)
    try:
        made = estimate(
            version=version,
            measures=row.measures,
            day=inputs.day,
            board=column.board,
            inputs=inputs,
            accepted_odd=row.accepted_odd,
        )
    except Refused as wrong:
        texts = (Problem("", "measures", text, Remedy("row", str(row.pk))) for text in wrong.messages)
        return PriceCell(column, None, tuple(texts))
    if made.priced is None:
        return PriceCell(column, None, tuple(made.problems))
    return PriceCell(column, made.priced.shown, guessed=guessed_in(made.lines))


def _tax_words(inputs: Inputs) -> str:
    profile = tax.profile(Profile.objects.values_list("tax_profile", flat=True).get())
    if not profile.registered:
        return ""
    return f"{profile.tax_word} included" if inputs.prices_include_tax else f"plus {profile.tax_word}"


def moved(now: Sequence[Mapping[str, Any]], before: Sequence[Mapping[str, Any]]) -> list[Move]:
    """What differs between what is said now and what a print said: moved, new and gone, in the list's order."""
    was = {(one["row"], one["column"]): one for one in before}
    there = {(one["row"], one["column"]): one for one in now}
    moves = []
    for key in [*there, *(key for key in was if key not in there)]:
        old, new = was.get(key), there.get(key)
        prices = [Decimal(one["price"]) if one and one["price"] else None for one in (old, new)]
        if prices[0] != prices[1]:
            one = new or old
            assert one is not None, "a key comes from one of the two"
            moves.append(Move(one["repair"], one["size"], one["column_words"], *prices))
    return moves
