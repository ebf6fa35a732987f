"""Document numbers: taken at issue, under a lock, in the same transaction, so without gaps and never twice.

Lock order everywhere: materials, then the document, then the series last.
"""

from __future__ import annotations

from datetime import date

from django.db import transaction

from shop.models import NumberSeries

STARTING_SERIES = {
    "tag": ("", 3),
    "quote": ("Q{year}-", 4),
    "invoice": ("{year}-", 4),
    "credit": ("C{year}-", 4),
    "receipt": ("R{year}-", 4),
}


def next_number(key: str, *, day: date) -> tuple[int, str]:
    """The next (sequence, printed number) of a series. Must be called inside the issuing transaction."""
    if not transaction.get_connection().in_atomic_block:
        raise RuntimeError("A number is taken only inside the transaction that issues its document.")
    prefix, width = STARTING_SERIES[key]
    series, _ = NumberSeries.objects.get_or_create(key=key, defaults={"prefix": prefix, "width": width})
    series = NumberSeries.objects.select_for_update().get(pk=series.pk)
    sequence = series.next_number
    series.next_number = sequence + 1
    series.save(update_fields=["next_number"])
    return sequence, series.printed(sequence, day.year)
