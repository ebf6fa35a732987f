"""Counting a shelf while the work goes on: each line keeps what the ledger said for the moment it was counted.

Invariant: what is booked is counted less expected for that moment, so whatever moved afterwards stays as it is.
Nothing is booked without a yes.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from datetime import datetime, timedelta
from decimal import Decimal

from django.db.models import Sum
from django.dispatch import Signal
from django.utils import timezone

from inventory.counting.explaining import Holds, Moved, likeliest
from inventory.counting.weighing import content_of
from inventory.formats import amount
from inventory.models import Container, Count, CountLine, Lot, Material, Movement, MovementKind, Weighing
from inventory.stock import ledger
from inventory.stock.standing import COUNT
from inventory.stock.totals import NOTHING
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused, Signed, action, checked
from shop.text.formats import day as day_words

count_booked = Signal()
"""Sent in the transaction that closes a round or takes a difference back: sender=Count, count, at. Rooms above learn
from it."""

LOOK_BACK = timedelta(days=180)  # how far back a slip is looked for where nothing was counted since; 60 to 400


@action("count.start", *EVERY_ROLE)
def start_count(*, shelf: str, everything: bool, blind: bool, signed: Signed) -> Count:
    """Begin a round: one line for each lot that should lie on the shelf, as the shelf is gone along. Raises Refused."""
    lots = Lot.objects.left().select_related("material").order_by("material__shelf", "material__kind", "material__name")
    if not everything:
        lots = lots.filter(material__shelf=shelf)
    count = Count(
        shelf="" if everything else shelf,
        everything=everything,
        blind=blind,
        started_at=signed.at,
        started_by=signed.by,
    )
    checked(count).save()
    CountLine.objects.bulk_create(CountLine(count=count, material=lot.material, lot=lot) for lot in lots)
    signed.record(count, f"Began to count {count}")
    return count


@action("count.enter", *EVERY_ROLE)
def enter_line(
    *,
    line: CountLine,
    packs: int,
    loose: Decimal,
    gross_g: Mapping[Container, Decimal],
    signed: Signed,
    happened_at: datetime | None = None,
) -> CountLine:
    """What is there of one lot: unopened packs, a loose amount, and containers by their gross weight, added up.

    `at` is the moment of counting; what the ledger holds for that moment is kept beside it. Raises Refused.
    """
    ledger.lock([line.material])
    row = CountLine.objects.select_related("count", "lot", "material").get(pk=line.pk)
    _still_open(row)
    happened_at = happened_at or signed.at
    if happened_at > signed.at:
        raise Refused("Counted at must not lie in the future.", field="at")
    nets = {container: content_of(container=container, gross_g=gross) for container, gross in gross_g.items()}
    content = row.lot.pack.content if row.lot and row.lot.pack else NOTHING
    row.counted = packs * content + loose + sum(nets.values(), NOTHING)
    row.typed = ", ".join(_as_entered(row, packs, loose, gross_g))[:200]
    row.counted_at, row.counted_by, row.expected = happened_at, signed.by, NOTHING
    look_again([row])
    checked(row).save()
    Weighing.objects.bulk_create(
        Weighing(container=container, gross_g=gross_g[container], net=net, weighed_at=happened_at, by=signed.by)
        for container, net in nets.items()
    )
    return row


@action("count.found", *EVERY_ROLE)
def add_found(
    *, count: Count, material: Material, quantity: Decimal, signed: Signed, happened_at: datetime | None = None
) -> CountLine:
    """Something stands there that the ledger knows no lot of. Raises Refused."""
    if count.closed_at is not None:
        raise Refused("This count is closed; begin another.")
    line = CountLine.objects.create(count=count, material=material)
    return enter_line(line=line, packs=0, loose=quantity, gross_g={}, happened_at=happened_at, signed=signed)


@action("count.close", *SEES_MONEY)
def book_count(*, count: Count, lines: Collection[int], signed: Signed) -> list[Movement]:
    """Close a round and book the differences of those lines that were said yes to; the others stay as they were.

    Raises Refused, and books nothing at all, if more was used of a lot since than the count found in it.
    """
    rows = list(count.lines.filter(pk__in=lines, movement__isnull=True).select_related("material", "lot"))
    ledger.lock(row.material for row in rows)
    look_again(rows)
    row = Count.objects.select_for_update().get(pk=count.pk)
    if row.closed_at is not None:
        raise Refused("This count is closed already.")
    booked = [_book(line, signed=signed) for line in rows if line.counted is not None and line.counted != line.expected]
    row.closed_at = signed.at
    row.save(update_fields=["closed_at"])
    words = f"Counted {row}: {len(booked)} differences booked"
    signed.record(row, words)
    count_booked.send(sender=Count, count=row, at=signed.at)
    return booked


def _book(line: CountLine, *, signed: Signed) -> Movement:
    difference, at = line.difference, line.counted_at
    assert at is not None, "counted at some moment"
    reason = f"counted {day_words(at)}"
    if line.lot is None:
        line.movement = ledger.book_found(
            material=line.material, quantity=difference, reason=reason, happened_at=at, signed=signed
        )
        line.lot = line.movement.lot
    else:
        try:
            line.movement = ledger.book_difference(
                lot=line.lot, quantity=difference, reason=reason, happened_at=at, signed=signed
            )
        except Refused:
            raise Refused(
                f"More of {line.material.name} was used since it was counted than the count found. Count it again."
            ) from None
    line.save(update_fields=["movement", "lot", "expected"])
    return line.movement


@action("count.undo", *SEES_MONEY)
def undo_difference(*, line: CountLine, signed: Signed) -> list[Movement]:
    """Take back the difference that a closed round booked for one lot: the count of it was a mistake. Raises Refused.

    The round stays closed and the line keeps what was counted; rooms above learn from it no more.
    """
    if line.movement is None:
        raise Refused("Nothing was booked for this line.")
    reason = f"counted wrongly: {line.count}"
    undone = ledger.undo(act=line.movement.act, signed=signed, reason=reason[:200], room=COUNT)
    words = f"Took back what the count of {line.count} booked of {line.material.name}"
    signed.record(line.count, words[:400])
    count_booked.send(sender=Count, count=line.count, at=signed.at)
    return undone


def _still_open(line: CountLine) -> None:
    if line.count.closed_at is not None:
        raise Refused("This count is closed; begin another.")


def look_again(lines: Iterable[CountLine]) -> None:
    """Set on each line what its lot held when it was counted, by all that was booked or put right since. One query."""
    counted = {line.lot_id: line for line in lines if line.lot_id and line.counted_at and line.movement_id is None}
    since = (  # `then` is laid on by as_they_count
        Movement.objects.filter(lot__in=counted)  # type: ignore[misc]
        .as_they_count()
        .order_by()
        .values_list("lot", "then")
        .annotate(Sum("quantity"))
    )
    for line in counted.values():
        line.expected = NOTHING
    for lot, then, quantity in since:
        if then <= counted[lot].counted_at:
            counted[lot].expected += quantity


def _as_entered(line: CountLine, packs: int, loose: Decimal, gross_g: Mapping[Container, Decimal]) -> list[str]:
    said = [f"{packs} × {line.lot.pack.words}"] if packs and line.lot and line.lot.pack else []
    said += [amount(loose, line.material.unit)] if loose else []
    return said + [f"{container.name} {amount(gross, 'g')} gross" for container, gross in gross_g.items()]


def explained(lines: Collection[CountLine]) -> dict[int, str]:
    """The likeliest explanation of each line that differs, by its key. Three queries for all of them."""
    materials = {line.material_id for line in lines if line.counted is not None and line.counted != line.expected}
    moved: dict[int, list[Moved]] = {}
    counted: dict[int, datetime | None] = {}
    last = CountLine.objects.filter(material__in=materials, movement__isnull=False).order_by("pk")
    for material, moment in last.values_list("material", "counted_at"):
        counted[material] = moment
    kinds = [MovementKind.RECEIVE, MovementKind.USE, MovementKind.WRITE_OFF]
    entries = Movement.objects.not_undone().filter(material__in=materials, kind__in=kinds).select_related("material")
    if lines:
        entries = entries.filter(happened_at__gt=max(line.count.started_at for line in lines) - LOOK_BACK)
    for one in entries.order_by("pk"):
        since = counted.get(one.material_id)
        if since is None or one.happened_at > since:
            day = timezone.localdate(one.happened_at)
            words = f"{amount(abs(one.quantity), one.material.unit)} {one.get_kind_display()} on {day_words(day)}"
            moved.setdefault(one.material_id, []).append(Moved(one.quantity, day, words))
    packs: dict[int, list[Holds]] = {}
    for row in Material.objects.filter(pk__in=materials).prefetch_related("packs"):
        packs[row.pk] = [Holds(pack.content, pack.words) for pack in row.packs.all()]
    return {
        line.pk: likeliest(
            line.difference,
            line.material.unit,
            moved.get(line.material_id, []),
            packs.get(line.material_id, []),
            line.expected or NOTHING,
        )
        for line in lines
        if line.counted is not None
    }
