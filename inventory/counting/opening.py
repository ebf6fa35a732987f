"""The opening count: what lies there when the store begins to be counted."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from decimal import Decimal

from inventory.counting.counts import count_booked
from inventory.formats import amount
from inventory.models import Count, CountLine, Material
from inventory.stock import ledger
from inventory.stock.totals import NOTHING
from shop.measures import units
from shop.platform.acts import SEES_MONEY, Refused, Signed, action, checked


@action("count.open", *SEES_MONEY)
def opening_count(
    *, there: Mapping[Material, Decimal], untracked: Collection[Material], signed: Signed
) -> Count | None:
    """Say for the first time how much is there of some materials, in their units; 0 is none. Booked and closed at once.

    What is `untracked` is asked about no more. None where only that was said. Raises Refused for what was counted
    before.
    """
    ledger.lock([*there, *untracked])
    Material.objects.filter(pk__in=[one.pk for one in untracked]).update(not_tracked=True)
    for one in untracked:
        signed.record(one, f"{one} is not tracked from now on", key="material.untracked")
    if not there:
        return None
    for one in Material.objects.filter(pk__in=[one.pk for one in there]).watched():
        raise Refused(f"{one.name} was counted meanwhile: open the page again.")
    count = Count(
        shelf="", everything=True, blind=False, started_at=signed.at, started_by=signed.by, closed_at=signed.at
    )
    checked(count).save()
    for material, amount_there in there.items():
        _say_first(count, material, amount_there, signed)
    words = f"Opening count of {len(there)} material{'s' if len(there) > 1 else ''}"
    signed.record(count, words)
    count_booked.send(sender=Count, count=count, at=signed.at)
    return count


def _say_first(count: Count, material: Material, there: Decimal, signed: Signed) -> None:
    """One line of an opening count, and the difference it makes; what a correction put back counts as there."""
    there = units.to_step(there, material.unit)
    lots = list(material.lots.left())
    held = sum((lot.quantity_left for lot in lots), NOTHING)
    line = CountLine(
        count=count, material=material, counted=there, expected=held, counted_at=signed.at, counted_by=signed.by
    )
    line.typed = amount(there, material.unit)[:200]
    reason = "opening count"
    if there > held:
        line.movement = ledger.book_found(material=material, quantity=there - held, reason=reason, signed=signed)
        line.lot = line.movement.lot
    else:
        over = held - there
        for lot in lots:
            less = min(over, lot.quantity_left)
            if less:
                line.movement = ledger.book_difference(lot=lot, quantity=-less, reason=reason, signed=signed)
            over -= less
    checked(line).save()
