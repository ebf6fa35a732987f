"""What rows keep as JSON, read into the core's frozen shapes when it is first asked for."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django.db.models import Model

T = TypeVar("T")


def read_once(row: Model, name: str, read: Callable[[Any], T]) -> T:
    """A JSON column of a row as `read` makes it, made once for as long as the column holds the same."""
    kept = getattr(row, name)
    known = row.__dict__.get(f"_read_{name}")
    if known is None or known[0] is not kept:
        known = row.__dict__[f"_read_{name}"] = kept, read(kept)
    return known[1]
