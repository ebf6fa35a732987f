"""Who stands on an act of the ledger: what was booked on purpose elsewhere is undone there and nowhere else.

Idea: a step's use, a counter sale and a count each keep rows of their own beside the movements they made. Were the
movements undone in the store alone, those rows would go on telling what is no longer so. The rooms above say which acts
they stand on, by the signal `who_stands`; the store knows only its own counts.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection
from typing import NamedTuple, cast

from django.dispatch import Signal

from inventory.models import CountLine, Movement
from shop.models import User
from shop.platform.acts import EVERY_ROLE, Refused

COUNT = "count"  # the room of this house; the rooms above have names of their own

who_stands = Signal()
"""Asks the rooms above: sender=Movement, acts (UUIDs). Each answers with a dict of `Stand` by act, in one query."""


class Stand(NamedTuple):
    """What stands on an act.

    `room` may undo it; `words` say what it is, like "step “Sand” of 057"; `way_out` is a sentence that says how it is
    undone, on the page of the name `page` with the row `pk`, which `opens_to` some roles.
    """

    room: str
    words: str
    way_out: str
    page: str
    pk: int
    opens_to: Collection[str] = EVERY_ROLE

    @property
    def sentence(self) -> str:
        """Why it is not undone in the store, and where it is."""
        return f"The {self.words} stands on this entry. {self.way_out}"

    def opens_for(self, person: User) -> bool:
        """Whether a person may open the page where it is undone."""
        return person.role in self.opens_to


def standing(acts: Collection[uuid.UUID]) -> dict[uuid.UUID, Stand]:
    """What stands on some acts of the ledger, by act; those that nothing stands on are left out. A query a room."""
    found = _counts(acts)
    for _, told in who_stands.send(sender=Movement, acts=acts):
        found.update(cast(dict[uuid.UUID, Stand], told))
    return found


def check_stands_alone(acts: Collection[uuid.UUID], room: str) -> None:
    """Raises Refused where something stands on one of these acts and the caller is not its room."""
    for stand in standing(acts).values():
        if stand.room != room:
            raise Refused(stand.sentence)


def _counts(acts: Collection[uuid.UUID]) -> dict[uuid.UUID, Stand]:
    lines = CountLine.objects.filter(movement__act__in=acts).select_related("count", "movement")
    return {
        line.movement.act: Stand(
            COUNT, f"count of {line.count}", "It is undone from what that count found.", "count-result", line.count_id
        )
        for line in lines
        if line.movement is not None
    }
