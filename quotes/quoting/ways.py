"""Ways to fix a board: each a sum of repairs with their measures, and lines by hand, under one price.

Invariant: after each change the way's figures are those of its parts and lines; nothing is kept that must not be done.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from datetime import date
from decimal import Decimal

from django.db.models import F, Max

from quotes.estimating import construction, core_recipe, estimate
from quotes.models import WAYS_AT_MOST, Damage, Quote, QuoteBoard, RecipeVersion, TakeIn, Way, WayPart
from quotes.quoting.drafting import Today, day_may_be, draft, work_out
from quotes.quoting.repairs import follow, parts_of, title_of, words_of
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

STORED_AS_MISSING = ("material", "shop")  # a way may be kept while these are missing; it cannot be sent


@action("way.add", *SEES_MONEY)
def add_way(
    *,
    board: QuoteBoard,
    version: RecipeVersion,
    measures: Mapping[str, str],
    signed: Signed,
    damage: Damage | None = None,
    accepted_odd: Collection[str] = (),
    title: str = "",
    words: str = "",
) -> Way:
    """A way with its first part, worked out. Measures as typed.

    Refused beside the measure that is missing, unreadable or odd; refused with the reason where the recipe must not be
    done to this board; refused beyond five ways.
    """
    quote = draft(board.quote)
    if board.ways.count() >= WAYS_AT_MOST:
        raise Refused(f"A board has at most {WAYS_AT_MOST} ways on a quote: change or take out one of them.")
    today = Today.of(quote, signed.at)
    last = board.ways.aggregate(last=Max("position"))["last"] or 0
    way = Way(board=board, position=last + 1)
    part = WayPart(way=way, damage=damage, recipe_version=version)
    way.title, way.words = title.strip() or title_of([part]), words.strip() or words_of([part])
    way.save()
    _fill(part, board.takein, measures, accepted_odd, today)
    part.save()
    work_out(way, today)
    signed.record(quote, f"Way {way.position} on {quote}: {version.recipe.name}")
    return way


@action("repair.add", *SEES_MONEY)
def add_part(
    *,
    way: Way,
    version: RecipeVersion,
    measures: Mapping[str, str],
    signed: Signed,
    damage: Damage | None = None,
    accepted_odd: Collection[str] = (),
    optional: bool = False,
) -> WayPart:
    """One more repair in the same way, priced with the others; `optional` leaves it to the customer.

    The way's title and words follow its repairs where nobody wrote their own. Refused as `add_way` is.
    """
    quote = draft(way.board.quote)
    today = Today.of(quote, signed.at)
    before = parts_of(way)
    part = WayPart(way=way, damage=damage, recipe_version=version, optional=optional)
    _fill(part, way.board.takein, measures, accepted_odd, today)
    part.save()
    follow(way, before, [*before, part])
    work_out(way, today)
    part.refresh_from_db(fields=["snapshot"])
    signed.record(quote, f"{version.recipe.name} added to way {way.position} of {quote}")
    return part


@action("repair.change", *SEES_MONEY)
def edit_part(
    *,
    part: WayPart,
    measures: Mapping[str, str],
    signed: Signed,
    damage: Damage | None = None,
    accepted_odd: Collection[str] = (),
) -> WayPart:
    """Other measures for a repair. Refused as `add_way` is."""
    way = part.way
    quote = draft(way.board.quote)
    today = Today.of(quote, signed.at)
    part.damage = damage
    _fill(part, way.board.takein, measures, accepted_odd, today)
    part.save()
    work_out(way, today)
    part.refresh_from_db(fields=["snapshot"])
    signed.record(quote, f"New measures in way {way.position} of {quote}")
    return part


@action("repair.remove", *SEES_MONEY)
def remove_part(*, part: WayPart, signed: Signed) -> Way:
    """Takes a repair out of a way that has another one."""
    way = part.way
    quote = draft(way.board.quote)
    before = parts_of(way)
    if len(before) == 1:
        raise Refused("This is the only repair in the way: take the whole way out instead.")
    follow(way, before, [one for one in before if one.pk != part.pk])
    part.delete()
    work_out(way, Today.of(quote, signed.at))
    signed.record(quote, f"Took a repair out of way {way.position} of {quote}")
    return way


@action("repair.choose", *SEES_MONEY)
def leave_to_customer(*, part: WayPart, optional: bool, signed: Signed) -> WayPart:
    """Whether the customer may leave a repair: then the quote says the price of each choice.

    Refused where the way has no other repair, and beyond six optional ones.
    """
    way = part.way
    quote = draft(way.board.quote)
    if optional and way.parts.count() == 1:
        raise Refused("This is the only repair in the way: there is nothing to choose from. Add another one first.")
    part.optional = optional
    part.save(update_fields=["optional"])
    work_out(way, Today.of(quote, signed.at))
    said = "left to the customer" if optional else "part of it in any case"
    words = f"{part.recipe_version.recipe.name} in way {way.position} of {quote} is {said}"
    signed.record(quote, words)
    return part


@action("way.change", *SEES_MONEY)
def edit_way(
    *,
    way: Way,
    signed: Signed,
    title: str,
    words: str = "",
    ready_on: date | None = None,
    price_by_hand: Decimal | None = None,
    price_reason: str = "",
    below_cost: bool = False,
) -> Way:
    """What the customer reads, and what is set by hand: the ready day, the price of the whole way.

    Refused for a day in the past, a price without a reason, and once for a price below cost (`below_cost` says yes).
    """
    quote = draft(way.board.quote)
    today = Today.of(quote, signed.at)
    if ready_on is not None:
        day_may_be(ready_on, today.inputs.day, field="ready_on")
    if price_by_hand is not None and not price_reason.strip():
        raise Refused("A price by hand needs a reason: say why, for the shop only.", field="price_reason")
    way.title, way.words = title.strip(), words.strip()
    way.ready_on, way.ready_by_hand = ready_on, ready_on is not None
    way.price_by_hand = price_by_hand
    way.price_reason = price_reason.strip() if price_by_hand is not None else ""
    work_out(way, today)
    if (
        price_by_hand is not None
        and way.net is not None
        and way.cost is not None
        and way.net < way.cost
        and not below_cost
    ):
        raise Refused(
            f"Without tax that is {way.net:.2f}, below the expected cost of {way.cost:.2f}. Is that meant?",
            field="below_cost",
        )
    words_said = f"Changed way {way.position} of {quote}" + (", price by hand" if price_by_hand is not None else "")
    signed.record(quote, words_said, details={"reason": way.price_reason})
    return way


@action("way.move", *SEES_MONEY)
def move_way_up(*, way: Way, signed: Signed) -> Way:
    """Changes places with the way above; the first stays where it is."""
    quote = draft(way.board.quote)
    above = Way.objects.filter(board=way.board, position__lt=way.position).order_by("-position").first()
    if above is not None:
        here, there = way.position, above.position
        for row, position in ((above, 0), (way, there), (above, here)):
            row.position = position
            row.save(update_fields=["position"])
        signed.record(quote, f"Way {here} of {quote} is now way {there}")
    return way


@action("way.remove", *SEES_MONEY)
def remove_way(*, way: Way, signed: Signed) -> Quote:
    """Takes a way out of its quote; those after it move up."""
    quote = draft(way.board.quote)
    board, position, title = way.board, way.position, way.title
    way.delete()
    for row in board.ways.filter(position__gt=position).order_by("position"):
        Way.objects.filter(pk=row.pk).update(position=F("position") - 1)
    signed.record(quote, f"Took way {position} “{title}” out of {quote}")
    return quote


def _fill(
    part: WayPart, takein: TakeIn, measures: Mapping[str, str], accepted_odd: Collection[str], today: Today
) -> None:
    """The part with its measures and its estimate. Refused where a measure is wrong or the work must not be done."""
    typed = {name: text.strip() for name, text in measures.items() if text.strip()}
    built = construction(takein)
    made = estimate(
        version=part.recipe_version,
        measures=typed,
        day=today.inputs.day,
        board=built,
        inputs=today.inputs,
        accepted_odd=accepted_odd,
    )
    refused = core_recipe(part.recipe_version).refusals(built)
    wrong: dict[str, list[str]] = {}
    for problem in [*refused, *made.problems]:
        if problem.remedy.where == "measure":
            wrong.setdefault(problem.field, []).append(problem.text)
        elif problem.remedy.where not in STORED_AS_MISSING:
            wrong.setdefault("__all__", []).append(problem.text)
    if wrong:
        raise Refused({field: list(dict.fromkeys(texts)) for field, texts in wrong.items()})
    part.measures, part.accepted_odd, part.estimate = typed, list(accepted_odd), made.snapshot()
