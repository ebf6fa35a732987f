"""A quote given out, and what becomes of it: sent, agreed, declined, replaced.

Invariant: a sent quote never changes. Its number is taken in the transaction that keeps its paper, so numbers have no
gaps and no quote has a number without its bytes; a second sending gives the first one back.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date, datetime
from decimal import Decimal

from django.utils.dateformat import format as day_words

from quotes.models import Quote, QuoteBoard, Way, WayLine, WayPart
from quotes.papers import keeping
from quotes.papers import quote as quote_paper
from quotes.quoting.conditions import refused_of_way, what_to_do
from quotes.quoting.content import content_of
from quotes.quoting.drafting import Today, draft, keep_figures, locked, ways_of, work_out_all
from quotes.quoting.lacking import missing_once
from quotes.quoting.repairs import leave_out
from quotes.quoting.takein import shop_day
from shop.business.numbering import next_number
from shop.models import Profile
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

State = Quote.State


def missing(quote: Quote, day: date) -> list[str]:
    """Why a draft cannot be sent yet on a day, a sentence each; empty when it can."""
    ways = ways_of(quote)
    told = {way.board_id for way in ways}
    lacking = Profile.objects.get().papers_lack
    found = [lacking] if lacking else []
    found += [
        f"{board.takein.board.name}, tag {board.takein.tag}, has no way to fix it yet: add one."
        for board in quote.boards.select_related("takein__board")
        if board.pk not in told
    ]
    return [*found, *_lacking(ways, day)]


def _lacking(ways: Sequence[Way], day: date) -> list[str]:
    """What keeps ways from having a price, a sentence each; what several of them lack, once."""
    lacks = missing_once([problem for way in ways for problem in way.lacks], day)
    about = {text: way for way in reversed(ways) for text in (problem.text for problem in way.lacks)}
    return [
        f"Way {about[text].position}, {about[text].title}: {text}" if text in about else text
        for text in lacks.sentences
    ]


@action("quote.send", *SEES_MONEY)
def send_quote(*, quote: Quote, signed: Signed) -> Quote:
    """The quote frozen, numbered and kept with the bytes of its paper.

    Refused with all that is missing, and when prices or ready days are no longer those that were worked out last. A
    quote that was sent already is given back as it is.
    """
    quote = locked(quote)
    if quote.state == State.SENT:
        return quote
    quote = draft(quote)
    day = signed.day
    if lacking := missing(quote, day):
        raise Refused({"__all__": lacking})
    if moved := _moved(quote, signed.at):
        raise Refused({"__all__": moved})
    if quote.sequence is None:
        quote.sequence, quote.number = next_number("quote", day=day)
    content = content_of(quote, on=day, sent=True)
    name = f"quote-{quote.number}" + (f"-{quote.version}" if quote.version > 1 else "")
    pdf = keeping.made(quote_paper.pdf, content)
    quote.document = keeping.keep("quote", f"{name}.pdf", pdf, signed=signed, content=content)
    quote.state, quote.sent_at = State.SENT, signed.at
    quote.valid_until = date.fromisoformat(content["valid_until"])
    quote.save()
    signed.record(quote, f"Sent {quote}")
    return quote


def _moved(quote: Quote, at: datetime) -> list[str]:
    """What working the quote out today changes, a sentence each; nothing is kept if there is anything."""
    before = {way.pk: (way.gross, way.ready_on) for way in ways_of(quote)}
    ways = work_out_all(quote, Today.of(quote, at, days_stand=True))
    said = _lacking(ways, shop_day(at))
    for way in ways:
        was = before[way.pk]
        if way.problems:
            continue
        if was[0] != way.gross:
            said.append(f"Way {way.position}, {way.title}: the price was {was[0]}, today it is {way.gross}.")
        elif was[1] != way.ready_on:
            said.append(f"Way {way.position}, {way.title}: the ready day is no longer the one that was worked out.")
    return [*said, "Work the quote out at today's prices, look at it again, then send it."] if said else []


@action("way.agree", *SEES_MONEY)
def agree(
    *,
    way: Way,
    signed: Signed,
    how: str,
    past_date: bool = False,
    spoken: bool = False,
    wanted: Collection[int] | None = None,
) -> Way:
    """The customer's yes to one way of a board: who heard it, when and how.

    Refused for a second way of the same board, for a way without a price, for one that must not be done to the board as
    it is now, and once for a quote past its date (`past_date` says that it still holds). `spoken` takes a draft too: a
    yes at the counter without a paper. `wanted` are the keys of the optional repairs the customer chose, None all of
    them: the way becomes that choice, at the price that was said. The quote is agreed when each of its boards has its
    way.
    """
    if not how.strip():
        raise Refused("Say how the customer agreed: at the counter, by phone, by message, signed.", field="how")
    quote = locked(way.board.quote)
    way = Way.objects.select_related("board__takein__board").get(pk=way.pk)
    if way.agreed_at is not None:
        raise Refused(f"Way {way.position} is agreed already.")
    if quote.state != State.SENT and not (spoken and quote.state == State.DRAFT):
        raise Refused(f"A way is agreed on a quote that was sent; this one is {quote.get_state_display()}.")
    if Way.objects.filter(board=way.board, agreed_at__isnull=False).exists():
        raise Refused("Another way for this board is agreed already: change it on its job.")
    if way.gross is None:
        raise Refused(f"Way {way.position} has no price yet: fill in what is missing first.")
    if wanted is not None:
        leave_out(way, wanted)
        keep_figures(way, way.totals)
    if refused := refused_of_way(way):
        raise Refused({"__all__": [*refused, *what_to_do(refused.values())]})
    if quote.expired(signed.day) and not past_date:
        assert quote.valid_until is not None
        until = day_words(quote.valid_until, "D j M Y")
        raise Refused(f"The quote was held until {until}. Tick the box if it still holds.", field="past_date")
    way.agreed_at, way.agreed_by, way.agreed_how = signed.at, signed.by, how.strip()
    way.save()
    if not _open_boards(quote):
        quote.state = State.AGREED
        quote.save(update_fields=["state"])
    elif quote.state == State.DRAFT:
        raise Refused("A quote for several boards is sent before a way on it is agreed.")
    signed.record(quote, f"Way {way.position} of {quote} agreed, {way.agreed_how}", details={"left": [one["name"] for one in way.totals.get("left", ())]})  # fmt: skip
    return way


def _open_boards(quote: Quote) -> bool:
    agreed = Way.objects.filter(board__quote=quote, agreed_at__isnull=False).values("board")
    return QuoteBoard.objects.filter(quote=quote).exclude(pk__in=agreed).exists()


@action("quote.decline", *SEES_MONEY)
def decline_quote(*, quote: Quote, reason: str, signed: Signed) -> Quote:
    """The customer's no, with why. Boards of it whose way is agreed stay agreed; the others are declined."""
    if not reason.strip():
        raise Refused("Say why, in a few words: too dear, too late, no reason given.", field="reason")
    quote = locked(quote)
    if quote.state not in Quote.UNANSWERED:
        raise Refused(f"This quote is {quote.get_state_display()}; there is nothing left to decline.")
    agreed = Way.objects.filter(board__quote=quote, agreed_at__isnull=False).exists()
    quote.state, quote.decline_reason = State.AGREED if agreed else State.DECLINED, reason.strip()
    quote.save(update_fields=["state", "decline_reason"])
    what = f"What was left of {quote}" if agreed else str(quote)
    signed.record(quote, f"{what} declined: {quote.decline_reason}")
    return quote


@action("quote.replace", *SEES_MONEY)
def replace_quote(*, quote: Quote, signed: Signed) -> Quote:
    """A draft of the next version under the same number, worked out at today's prices; the old one is replaced.

    Refused once a way is agreed: a change after the yes belongs to the job.
    """
    old = locked(quote)
    if old.state not in (State.SENT, State.DECLINED) or old.sequence is None:
        raise Refused(f"Only a quote that was sent can be replaced; this one is {old.get_state_display()}.")
    if Way.objects.filter(board__quote=old, agreed_at__isnull=False).exists():
        raise Refused("A way of this quote is agreed: change it on its job.")
    new = Quote.objects.create(
        payer=old.payer, series=old.series, sequence=old.sequence, number=old.number, version=old.version + 1,
        replaces=old, made_at=signed.at, by=signed.by, note=old.note, rush_percent=old.rush_percent,
    )  # fmt: skip
    for board in old.boards.prefetch_related("ways__parts", "ways__lines"):
        copy = QuoteBoard.objects.create(quote=new, takein=board.takein)
        for way in board.ways.all():
            _copy_way(way, copy)
    old.state = State.REPLACED
    old.save(update_fields=["state"])
    work_out_all(new, Today.of(new, signed.at))
    signed.record(new, f"{old} replaced by version {new.version}")
    return new


def _copy_way(way: Way, board: QuoteBoard) -> None:
    kept = {name: getattr(way, name) for name in ("position", "title", "words", "price_by_hand", "price_reason")}
    copy = Way.objects.create(board=board, cost=Decimal(0), net=Decimal(0), tax=Decimal(0), gross=Decimal(0), **kept)
    for part in way.parts.all():
        WayPart.objects.create(
            way=copy, damage_id=part.damage_id, recipe_version_id=part.recipe_version_id, measures=part.measures,
            accepted_odd=part.accepted_odd, optional=part.optional,
        )  # fmt: skip
    for line in way.lines.all():
        WayLine.objects.create(
            way=copy, words=line.words, price=line.price, cost=line.cost, tax_percent=line.tax_percent
        )
