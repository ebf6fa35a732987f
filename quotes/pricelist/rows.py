"""The rows of the price list: put in, changed, moved and taken out, and those a new shop starts with.

Invariant: positions run from 1 without gaps, and the rows of one repair stand together when they are put in.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import NamedTuple

from django.db.models import Max

from quotes.models import PRICE_ROWS_AT_MOST, PriceListRow, Recipe
from shop.models import Role
from shop.platform.acts import Refused, Signed, action, internal


class StartingRow(NamedTuple):
    """A row that a new shop starts with; measures as typed, the largest of its size class."""

    repair: str
    size: str
    recipe: str
    measures: dict[str, str]
    only_from: bool = False


_SPOT = {
    "length": ("40 mm", "120 mm", "250 mm"),
    "width": ("25 mm", "70 mm", "150 mm"),
    "depth": ("8 mm", "15 mm", "25 mm"),
}
_EDGE = {
    "length": ("40 mm", "120 mm", "250 mm"),
    "around": ("35 mm", "90 mm", "180 mm"),
    "depth": ("8 mm", "15 mm", "25 mm"),
}
_SIZES = ("small", "medium", "large")
_UP_TO = ("hole up to 4 cm", "hole up to 12 cm", "hole up to 25 cm")
_FIN = {"fin_base": "130 mm", "fin_height": "120 mm", "fin_tip": "70 mm", "pockets": "0"}
_BOX = {"pocket_length": "125 mm", "pocket_width": "34 mm", "pocket_depth": "24 mm"}
_SHORT = {"board_width": "500 mm", "board_thickness": "62 mm"}
_LONG = {"board_width": "580 mm", "board_thickness": "76 mm"}


def _dings(repair: str, where: str, sizes: Mapping[str, Sequence[str]]) -> tuple[StartingRow, ...]:
    return tuple(
        StartingRow(repair, words, f"ding-{where}-{size}", {name: typed[index] for name, typed in sizes.items()})
        for index, (size, words) in enumerate(zip(_SIZES, _UP_TO, strict=True))
    )


STARTING_ROWS: tuple[StartingRow, ...] = (
    *_dings("Open ding on deck or bottom", "deck", _SPOT),
    *_dings("Open ding on the rail", "rail", _EDGE),
    *_dings("Open ding on nose or tail", "nose", _EDGE),
    StartingRow(
        "Pressure dents", "one", "pressure-dent", {"dents": "1", "length": "80 mm", "width": "60 mm", "depth": "4 mm"}
    ),
    StartingRow(
        "Pressure dents", "five", "pressure-dent", {"dents": "5", "length": "80 mm", "width": "60 mm", "depth": "4 mm"}
    ),
    StartingRow("Leash plug", "one", "leash-plug", {"plugs": "1", "hole_diameter": "34 mm", "hole_depth": "20 mm"}),
    StartingRow("Fin box out and new", "one", "fin-box", {"boxes": "1", **_BOX}, True),
    StartingRow("Fin box out and new", "two", "fin-box", {"boxes": "2", **_BOX}, True),
    StartingRow("Glass-on fins, fins brought along", "one", "glass-on-fin", {"fins": "1", **_FIN}, True),
    StartingRow("Glass-on fins, fins brought along", "two", "glass-on-twin", {"fins": "2", **_FIN}, True),
    StartingRow("Glass-on fins, fins brought along", "three", "glass-on-three", {"fins": "3", **_FIN}, True),
    StartingRow("Delamination", "up to 15 cm", "delamination", {"length": "150 mm", "width": "100 mm"}, True),
    StartingRow("Delamination", "up to 40 cm", "delamination", {"length": "400 mm", "width": "200 mm"}, True),
    StartingRow("Buckle", "shortboard", "buckle", {**_SHORT, "crease_width": "40 mm", "crease_depth": "12 mm"}, True),
    StartingRow("Buckle", "longboard", "buckle", {**_LONG, "crease_width": "50 mm", "crease_depth": "15 mm"}, True),
    StartingRow("Snapped in two", "shortboard", "snap", {**_SHORT, "gap": "6 mm"}, True),
    StartingRow("Snapped in two", "longboard", "snap-stringer", {**_LONG, "gap": "8 mm"}, True),
    StartingRow(
        "Waterlogged",
        "opening up to 10 cm",
        "waterlogged",
        {"length": "100 mm", "width": "70 mm", "depth": "30 mm"},
        True,
    ),
    StartingRow(
        "Gloss coat, whole board", "shortboard", "re-gloss", {"board_length": "1830 mm", "board_width": "500 mm"}
    ),
    StartingRow(
        "Gloss coat, whole board", "longboard", "re-gloss", {"board_length": "2750 mm", "board_width": "580 mm"}
    ),
    StartingRow("Colour made good", "up to 20 cm", "paint-repair", {"length": "200 mm", "width": "120 mm"}, True),
)


@internal
def load_starting_rows() -> list[PriceListRow]:
    """The rows a shop starts with, where the list is empty and their recipes are there."""
    if PriceListRow.objects.exists():
        return []
    recipes = {recipe.key: recipe for recipe in Recipe.objects.in_use()}
    rows = [
        PriceListRow(
            position=position, repair=start.repair, size=start.size, recipe=recipes[start.recipe],
            measures=start.measures, only_from=start.only_from,
        )
        for position, start in enumerate((s for s in STARTING_ROWS if s.recipe in recipes), 1)
    ]  # fmt: skip
    return PriceListRow.objects.bulk_create(rows)


@action("wall_list.add", Role.KEEPER)
def add_row(*, repair: str, size: str, recipe: Recipe, only_from: bool, signed: Signed) -> PriceListRow:
    """A row at the end of its repair's rows, its measures still to be said. Refused when the sheet is full."""
    if PriceListRow.objects.count() >= PRICE_ROWS_AT_MOST:
        raise Refused(f"The sheet holds {PRICE_ROWS_AT_MOST} rows: take one out first.")
    last = PriceListRow.objects.filter(repair=repair.strip()).aggregate(last=Max("position"))["last"]
    if last is None:
        last = PriceListRow.objects.aggregate(last=Max("position"))["last"] or 0
    row = PriceListRow.objects.create(
        position=last + 1, repair=repair.strip(), size=size.strip(), recipe=recipe, only_from=only_from
    )
    _renumber([*PriceListRow.objects.filter(position__lte=last), row])
    signed.record(row, f"Put {row} on the price list")
    return row


@action("wall_list.change", Role.KEEPER)
def change_row(
    *,
    row: PriceListRow,
    repair: str,
    size: str,
    only_from: bool,
    measures: Mapping[str, str],
    signed: Signed,
    accepted_odd: Sequence[str] = (),
) -> PriceListRow:
    """What a row is called and the measures it is priced for."""
    row.repair, row.size, row.only_from = repair.strip(), size.strip(), only_from
    row.measures, row.accepted_odd = dict(measures), list(accepted_odd)
    row.save()
    signed.record(row, f"Changed {row} on the price list")
    return row


@action("wall_list.move", Role.KEEPER)
def move_row(*, row: PriceListRow, steps: int, signed: Signed) -> PriceListRow:
    """The row `steps` places further down (up: −1); at an end it stays."""
    rows = list(PriceListRow.objects.select_for_update())
    here = next(index for index, one in enumerate(rows) if one.pk == row.pk)
    to = here + steps
    if 0 <= to < len(rows):
        rows[here], rows[to] = rows[to], rows[here]
        _renumber(rows)
        signed.record(row, f"Moved {row} on the price list")
    return row


@action("wall_list.remove", Role.KEEPER)
def remove_row(*, row: PriceListRow, signed: Signed) -> None:
    """Takes a row off the list; earlier prints keep it."""
    signed.record(row, f"Took {row} off the price list")
    row.delete()


def _renumber(first: Sequence[PriceListRow]) -> None:
    """Positions in this order, then all other rows in theirs."""
    kept = {row.pk for row in first}
    rows = [*first, *PriceListRow.objects.exclude(pk__in=kept)]
    for position, row in enumerate(rows, 1):
        if row.position != position:
            row.position = position
            row.save(update_fields=["position"])
