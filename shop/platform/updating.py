"""After an update and after a restore: what rooms derive from rows and keep is brought up to this version."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from django.dispatch import Signal

from shop.models import Profile

brought_up = Signal()
"""Sent once the database has every migration: sender=Profile, at. Rooms above work out anew what another version kept,
and answer with a sentence on what they did, or with nothing."""


def bring_up(*, at: datetime) -> Iterator[str]:
    """Asks every room to bring up what it keeps; gives the sentences of those that had to."""
    for _, said in brought_up.send(sender=Profile, at=at):
        if said:
            yield said
