"""Who was rung, when, and what came of it: written in the journal of the board's stay, and read from there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from quotes.models import TakeIn
from shop.models import JournalEntry
from shop.platform.acts import SEES_MONEY, Refused, Signed, action
from shop.platform.journal import about

SPOKE, LEFT_WORD = "spoke", "left a word"
KEYS = {"ring.spoke": SPOKE, "ring.left_word": LEFT_WORD}


@dataclass(frozen=True)
class Rung:
    """The last time a customer was rung about a board: when, by whom, and whether somebody was spoken to."""

    at: datetime
    by: str
    what: str


@action("ring.note", *SEES_MONEY)
def rang(*, takein: TakeIn, what: str, signed: Signed) -> None:
    """The customer of a board in the shop was rung; `what` is SPOKE or LEFT_WORD. Raises Refused."""
    if what not in KEYS.values():
        raise Refused("Say whether you spoke or left a word.")
    takein = TakeIn.objects.get(pk=takein.pk)
    if takein.gone_at:
        raise Refused(f"{takein.tag} has gone home: there is nobody to ring about it.")
    signed.record(
        takein,
        f"{takein.tag}: rang the customer, {what}",
        key=next(key for key, words in KEYS.items() if words == what),
    )


def last_rung(takeins: Iterable[TakeIn]) -> dict[int, Rung]:
    """The last ringing about each take-in, by its key; those nobody rang about are not in it. One query."""
    keys = {about(takein): takein.pk for takein in takeins}
    rows = JournalEntry.objects.filter(verb__in=KEYS, about__in=keys).select_related("by").order_by("pk")
    return {keys[row.about]: Rung(row.at, row.by.name if row.by else "", KEYS[row.verb]) for row in rows}
