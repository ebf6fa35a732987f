"""Why a count and the ledger may differ. PURE: the difference, what moved, what packs hold; out comes a sentence.

Idea: most differences are one slip of one entry, a delivery entered twice, a pack forgotten, an ounce read as a gram.
Each slip that could have happened foretells a difference of its own; the one that comes closest, within 2 %, is the
likeliest. It is a hint and no more: nothing is booked by it. The rules are common practice, no source; the factors
between units are exact (NIST SP 811, appendix B.8).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import date
from decimal import Decimal
from typing import NamedTuple

CLOSE = Decimal("0.02")  # how near a foretold difference must come, as a share of it; range 0.01 to 0.05
SCATTER = Decimal("0.02")  # of what was used since: so much weighing and cutting scatter; range 0.01 to 0.05
TWICE_WITHIN = 10  # days between two entries of one delivery; range 3 to 30

# What one of the unit meant is in the unit it was read as.
SLIPS: dict[str, tuple[tuple[str, str, Decimal], ...]] = {
    "g": (
        ("ounces", "grams", Decimal("28.349523125")),
        ("pounds", "grams", Decimal("453.59237")),
        ("kilograms", "grams", Decimal(1000)),
    ),
    "mL": (("US fluid ounces", "millilitres", Decimal("29.5735295625")), ("litres", "millilitres", Decimal(1000))),
    "m": (
        ("yards", "metres", Decimal("0.9144")),
        ("feet", "metres", Decimal("0.3048")),
        ("inches", "metres", Decimal("0.0254")),
        ("centimetres", "metres", Decimal("0.01")),
    ),
    "m2": (("square yards", "square metres", Decimal("0.83612736")),),
    "piece": (("dozens", "pieces", Decimal(12)), ("pieces", "dozens", 1 / Decimal(12))),
}


class Moved(NamedTuple):
    """An entry of the ledger: what came in (+) or went out (−), its day, and itself in words with the amount."""

    quantity: Decimal
    day: date
    words: str


class Holds(NamedTuple):
    """A pack the material is sold in, and what it holds."""

    content: Decimal
    words: str


class _Slip(NamedTuple):
    difference: Decimal
    words: str


def likeliest(
    difference: Decimal, unit: str, moved: Sequence[Moved], packs: Iterable[Holds] = (), expected: Decimal = Decimal(0)
) -> str:
    """The likeliest explanation of counted less `expected`, in one sentence. `moved` since the last count.

    All quantities are in the material's stock unit, `unit`. Empty when there is no difference.
    """
    if not difference:
        return ""
    close = [
        (abs(difference - slip.difference) / abs(slip.difference), slip.words)
        for slip in (*_slips(unit, moved, packs), *_of_the_count(unit, expected))
        if slip.difference * difference > 0
    ]
    nearest = min(close, default=None, key=lambda one: one[0])
    if nearest and nearest[0] <= CLOSE:
        return nearest[1]
    used = sum((-one.quantity for one in moved if one.quantity < 0), Decimal(0))
    if abs(difference) <= used * SCATTER:
        return "Within what weighing and cutting scatter over so much use."
    return "No single entry explains it; count it once more."


def _slips(unit: str, moved: Sequence[Moved], packs: Iterable[Holds]) -> Iterator[_Slip]:
    """Every slip that is thought of, the likelier first, with the difference it would leave behind."""
    deliveries = [one for one in moved if one.quantity > 0]
    for number, one in enumerate(deliveries):
        if any(_twins(one, other) for other in deliveries[:number]):
            yield _Slip(-one.quantity, f"{one.words} may be entered twice.")
    for one in deliveries:
        yield _Slip(-one.quantity, f"{one.words} may not have come.")
    for pack in packs:
        yield _Slip(pack.content, f"A delivery of {pack.words} may not have been entered.")
        yield _Slip(-pack.content, f"A whole {pack.words} may be used up or gone without an entry.")
    for one in moved:
        if one.quantity < 0:
            yield _Slip(-one.quantity, f"{one.words} may be entered twice, or did not happen.")
            yield _Slip(one.quantity, f"{one.words} may have happened twice.")
        for meant, read, factor in SLIPS.get(unit, ()):
            yield _Slip(one.quantity * (factor - 1), f"{one.words}: {meant} may have been read as {read}.")
            yield _Slip(one.quantity * (1 / factor - 1), f"{one.words}: {read} may have been read as {meant}.")


def _of_the_count(unit: str, expected: Decimal) -> Iterator[_Slip]:
    """What a slip of the count itself would leave behind: a nought, or another unit."""
    if expected <= 0:
        return
    yield _Slip(expected * 9, "The count may have a nought too many.")
    yield _Slip(expected / 10 - expected, "The count may lack a nought.")
    for meant, read, factor in SLIPS.get(unit, ()):
        if factor > 1:
            yield _Slip(expected / factor - expected, f"The count may be in {meant}, not in {read}.")


def _twins(one: Moved, other: Moved) -> bool:
    return one.quantity == other.quantity and abs((other.day - one.day).days) <= TWICE_WITHIN
