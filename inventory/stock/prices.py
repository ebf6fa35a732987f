"""What a material costs to buy again: the price of its usual pack on a day, else what the last delivery cost.

Where nobody has said either, the guess it started with stands in and says that it is one.

Costing asks for all materials at once, so the number of queries does not grow with them.
"""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.db.models import QuerySet
from django.utils.dateformat import format as day_words

from inventory.models import Material, Movement, Pack, PackPrice


class ReplacementPrice(NamedTuple):
    """Currency per stock unit without tax, not rounded; where it comes from, in words; the pack if it is a pack's.

    `guess` where nobody said it: it is the one the material started with.
    """

    per_unit: Decimal
    words: str
    from_day: date
    pack: Pack | None
    guess: bool = False


def prices_on(day: date, keys: set[str] | None = None) -> dict[str, ReplacementPrice]:
    """Replacement price by material key (only `keys` where given) on a day. A material without any is left out.

    The usual pack's price comes first, then the newest price of another pack in use, then the last delivery's cost,
    then the guess.
    """
    wanted = {} if keys is None else {"pack__material__key__in": keys}
    in_force = PackPrice.objects.in_force(day).filter(pack__retired_at__isnull=True, **wanted)
    in_force = in_force.select_related("pack__material", "pack__supplier")
    found: dict[str, ReplacementPrice] = {}
    for price in in_force.order_by("-pack__preferred", "-from_day", "-pk"):
        pack = price.pack
        words = f"{pack.words}, {pack.supplier.name}, {day_words(price.from_day, 'j M Y')}"
        found.setdefault(pack.material.key, ReplacementPrice(price.price / pack.content, words, price.from_day, pack))
    missing = Material.objects.exclude(key__in=found)
    if keys is not None:
        missing = missing.filter(key__in=keys - found.keys())
    return _guesses(day, missing) | found | _last_cost(day, missing)


def replacement_price(material: Material, day: date) -> ReplacementPrice | None:
    """What one stock unit of a material costs to buy again on a day; None asks for a pack price."""
    return prices_on(day, {material.key}).get(material.key)


def _guesses(day: date, materials: QuerySet[Material]) -> dict[str, ReplacementPrice]:
    rows = materials.filter(guess_price__isnull=False, guess_content__gt=0)
    return {
        key: ReplacementPrice(price / content, f"a guess: {words}", day, None, guess=True)
        for key, words, content, price in rows.values_list("key", "guess_words", "guess_content", "guess_price")
        if price is not None and content is not None
    }


def _last_cost(day: date, materials: QuerySet[Material]) -> dict[str, ReplacementPrice]:
    receipts = Movement.objects.last_receipts(day).filter(material__in=materials)
    return {
        receipt.material.key: ReplacementPrice(
            receipt.value / receipt.quantity,
            ", ".join(
                filter(
                    None,
                    [
                        "last delivery",
                        receipt.lot.supplier.name if receipt.lot.supplier else "",
                        day_words(receipt.lot.received_on, "j M Y"),
                    ],
                )
            ),
            receipt.lot.received_on,
            None,
        )
        for receipt in receipts
    }
