"""Who did what: entries are appended inside the transaction of the verb they tell of."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.db import models

from shop.models import JournalEntry, User


def about(row: models.Model) -> str:
    """The journal's name for a row, like `quotes.job:12`."""
    return f"{row._meta.label_lower}:{row.pk}"


def record(
    *,
    by: User | None,
    verb: str,
    row: models.Model,
    words: str,
    at: datetime,
    details: dict[str, Any] | None = None,
) -> None:
    """Append one entry; `words` is the sentence people read, without personal data of customers."""
    JournalEntry.objects.create(at=at, by=by, verb=verb, about=about(row), words=words[:400], details=details or {})
