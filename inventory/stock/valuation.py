"""What stock is worth as it leaves: first in, first out, or weighted average. Pure: lots in, issue out.

Each lot carries a quantity and a value; a unit price is never stored and never rounded. An issue takes its share of the
value, rounded once to 1/10 000, and what is not taken stays: value issued + value left = value before, exactly, and the
last piece out of a lot takes all that is left of it, so a lot closes at zero.
Sources: IAS 2 Inventories, paragraphs 25 and 27 (first-in first-out or weighted average); OpenStax, Principles of
Accounting, Volume 1, section 10.3 (perpetual method).
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Literal, NamedTuple

from shop.measures.apportion import apportion
from shop.measures.money import STORED_STEP, stored

Method = Literal["fifo", "average"]
ZERO = Decimal(0)


class ShelfLot(NamedTuple):
    """A delivery as it lies on the shelf: the quantity left, in the material's unit, and its value in currency."""

    lot_id: int
    quantity: Decimal
    value: Decimal
    use_by: date | None
    received_on: date
    recorded_no: int


class Part(NamedTuple):
    """A quantity of one lot, in the material's unit, with its value in currency: taken out of it, or left in it."""

    lot_id: int
    quantity: Decimal
    value: Decimal


@dataclass(frozen=True)
class Issue:
    """An issue from the shelf: parts taken, parts left in every lot, and the shortfall in the material's unit."""

    parts: tuple[Part, ...]
    left: tuple[Part, ...]
    shortfall: Decimal

    @property
    def value(self) -> Decimal:
        """Value that leaves the shelf, in currency."""
        return sum((part.value for part in self.parts), ZERO)


def in_order_of_issue(lots: Iterable[ShelfLot]) -> list[ShelfLot]:
    """Lots in the order in which they are used up: earliest use-by first, then earliest receipt, then as recorded.

    Lots without a use-by come after all dated ones, because they lose nothing by waiting. Whether a lot that is out of
    date may still be used is the caller's to say: only lots that may be issued are handed in.
    """
    return sorted(lots, key=lambda lot: (lot.use_by is None, lot.use_by or date.max, lot.received_on, lot.recorded_no))


def issue_from_lots(lots: Iterable[ShelfLot], quantity: Decimal, *, method: Method = "fifo") -> Issue:
    """Issue of a quantity, in the material's unit, out of the lots in order of issue, valued by the method.

    "fifo": each lot gives value in proportion to what is taken of it. "average": the value of all lots is one pool,
    taken in proportion to the quantity; the parts and what is left are then shared by quantity, so that the values in
    `left`, and not the lots' own, are what the lots are worth from here on (see `averaged`). More than there is takes
    all there is and says the shortfall. Raises ValueError for a quantity of zero or less, and for lots below zero or
    with a value but no quantity.
    """
    ordered = in_order_of_issue(lots)
    if quantity <= 0:
        raise ValueError(f"An issue must be above zero; {quantity} is not")
    _check(ordered, method)
    taken = _quantities(ordered, quantity)
    if method == "fifo":
        values = [_share(lot.value, take, lot.quantity) for lot, take in zip(ordered, taken, strict=True)]
        values_left = [lot.value - value for lot, value in zip(ordered, values, strict=True)]
    else:
        remaining = [lot.quantity - take for lot, take in zip(ordered, taken, strict=True)]
        pool = _pool(ordered)
        out = _share(pool.value, sum(taken, ZERO), pool.quantity)
        worth = averaged({lot.lot_id: rest for lot, rest in zip(ordered, remaining, strict=True)}, pool.value - out)
        values, values_left = _by_quantity(out, taken), [worth[lot.lot_id] for lot in ordered]
    rows = list(zip(ordered, taken, values, values_left, strict=True))
    return Issue(
        parts=tuple(Part(lot.lot_id, take, value) for lot, take, value, _ in rows if take),
        left=tuple(Part(lot.lot_id, lot.quantity - take, rest) for lot, take, _, rest in rows),
        shortfall=quantity - sum(taken, ZERO),
    )


def _pool(lots: list[ShelfLot]) -> Part:
    """All lots as one: what the average is taken of."""
    return Part(0, sum((lot.quantity for lot in lots), ZERO), sum((lot.value for lot in lots), ZERO))


def _check(lots: list[ShelfLot], method: Method) -> None:
    """What can lie on a shelf; where all lots are one pool, a lot's own value says nothing."""
    for held in lots if method == "fifo" else [_pool(lots)]:
        if held.quantity < 0 or held.value < 0 or (held.value and not held.quantity):
            raise ValueError(f"{held.quantity} worth {held.value} (lot {held.lot_id}) cannot be on a shelf")
    if any(lot.quantity < 0 for lot in lots):
        raise ValueError("A lot below zero cannot be on a shelf")


def _quantities(ordered: list[ShelfLot], quantity: Decimal) -> list[Decimal]:
    """How much of each lot is taken, the first ones whole."""
    taken = []
    for lot in ordered:
        taken.append(min(lot.quantity, quantity))
        quantity -= taken[-1]
    return taken


def _share(value: Decimal, part: Decimal, whole: Decimal) -> Decimal:
    """The value of a part of a quantity, rounded once half up; all of it for the whole."""
    if part == whole:
        return value
    return stored(value * part / whole)


def averaged(quantities: Mapping[int, Decimal], value: Decimal) -> dict[int, Decimal]:
    """Value of each lot of one pool by weighted average, in currency, by lot number; adds up to `value` exactly.

    An odd 1/10 000 that several could have goes to the lot recorded first, in whatever order they are handed in.
    """
    lots = sorted(quantities)
    return dict(zip(lots, _by_quantity(value, [quantities[lot] for lot in lots]), strict=True))


def _by_quantity(value: Decimal, quantities: Sequence[Decimal]) -> list[Decimal]:
    return apportion(value, quantities, STORED_STEP) if any(quantities) else [ZERO for _ in quantities]
