"""What came onto the shelf, what is known to be gone, and what was counted there."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from datetime import datetime

from django.db.models import Exists, OuterRef

from inventory.models import CountLine, Movement, MovementKind, Weighing
from quotes.costing.learning.files.interchange import grown
from quotes.costing.learning.history import HistoryMaterial, Receipt, ShelfCount, Trade
from quotes.experience.rows import day_number

COUNTED_TO = {"g": 1.0, "mL": 1.0, "m": 0.1, "m2": 0.01, "each": 1.0}  # and at the shelf


def receipts_of(trade: Trade) -> list[tuple[datetime, Receipt]]:
    rows = Movement.objects.not_undone().filter(kind=MovementKind.RECEIVE, material__key__in=trade.materials)
    return [
        (at, Receipt(day_number(at), key, float(quantity)))
        for key, at, quantity in rows.order_by("happened_at", "pk").values_list(
            "material__key", "happened_at", "quantity"
        )
    ]


def _known_gone(trade: Trade) -> dict[str, list[tuple[datetime, float]]]:
    """What left the shelf and was no job's, by material; less what of it was put back, which stands in the same act.

    A use without a reason and what a scale found gone out of a container may well have been a job's: they are not here.
    """
    kinds = [MovementKind.WRITE_OFF, MovementKind.USE, MovementKind.RETURN]
    on_scale = Weighing.objects.filter(container__lot=OuterRef("lot"), weighed_at=OuterRef("happened_at"))
    rows = Movement.objects.not_undone().filter(kind__in=kinds, material__key__in=trade.materials, step_uses=None)
    rows = rows.exclude(kind=MovementKind.USE, reason="").exclude(Exists(on_scale), kind=MovementKind.USE)
    found: dict[str, list[tuple[datetime, float]]] = defaultdict(list)
    acts = set()
    for kind, act, key, at, quantity in rows.order_by("pk").values_list(
        "kind", "act", "material__key", "happened_at", "quantity"
    ):
        if kind == MovementKind.RETURN and act not in acts:
            continue  # put back of what a job took
        acts.add(act)
        found[key].append((at, -float(quantity)))
    return found


def counts_of(trade: Trade, receipts: Sequence[tuple[datetime, Receipt]]) -> list[ShelfCount]:
    """Of each booked round the materials that were counted whole and believed, as far as none came in meanwhile.

    A difference that was not said yes to when the round was booked, or was taken back since, was not believed, and its
    count teaches nothing.
    """
    rounds: dict[tuple[int, str], list[tuple[float | None, datetime | None, datetime]]] = defaultdict(list)
    refused: set[tuple[int, str]] = set()
    rows = CountLine.objects.filter(count__closed_at__isnull=False, material__key__in=trade.materials).order_by("pk")
    for number, key, counted, expected, moved, undone, at, start in rows.values_list(
        "count_id", "material__key", "counted", "expected", "movement", "movement__reversed_by", "counted_at",
        "count__started_at",
    ):  # fmt: skip
        rounds[number, key].append((None if counted is None else float(counted), at, start))
        if counted != expected and (moved is None or undone is not None):
            refused.add((number, key))
    gone = _known_gone(trade)
    found: dict[str, list[ShelfCount]] = defaultdict(list)
    for (number, key), lines in rounds.items():
        if (number, key) in refused:
            continue
        moments = [at for _, at, _ in lines if at is not None]
        if len(moments) < len(lines):
            continue  # a lot of it was passed over
        last, start = max(moments), lines[0][2]
        if any(receipt.material == key and start < at <= last for at, receipt in receipts):
            continue
        lost = math.fsum(quantity for at, quantity in gone[key] if at <= last)
        total = math.fsum(counted for counted, _, _ in lines if counted is not None)
        found[key].append(ShelfCount(day_number(last), key, total + lost))
    arrived = [receipt for _, receipt in receipts]
    return [count for key, counts in found.items() for count in _believable(counts, trade.materials[key], arrived)]


def _believable(
    counts: Sequence[ShelfCount], material: HistoryMaterial, receipts: Sequence[Receipt]
) -> list[ShelfCount]:
    """Counts in order of days; one that a later count shows to have been far too low is left out."""
    kept: list[ShelfCount] = []
    for count in sorted(counts, key=lambda one: one.day):
        while kept and (kept[-1].day >= count.day or _grew(kept[-1], count, material, receipts)):
            kept.pop()
        kept.append(count)
    return kept


def _grew(before: ShelfCount, count: ShelfCount, material: HistoryMaterial, receipts: Sequence[Receipt]) -> bool:
    came = math.fsum(one.qty for one in receipts if one.material == material.key and before.day < one.day <= count.day)
    return grown(before, count, came, material)
