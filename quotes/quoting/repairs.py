"""A way's repairs priced as one board: what each comes to with the others and alone, and every choice of the optional
ones.

Invariant: what the repairs come to adds up to the work of the way, and the price of a choice is that of a way made of
just these.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from quotes import costing
from quotes.costing import PlannedStep
from quotes.estimating import Asked, HandLine, Inputs, construction, document_of, estimate_board, price_way, shop_inputs
from quotes.models import Way, WayPart
from shop.measures import money
from shop.platform.acts import Refused
from shop.text.formats import listed, within

SIZES = (", small", ", medium", ", large")  # said by the measures
_PART = WayPart.objects.select_related("recipe_version__recipe", "damage")
PARTS = Prefetch("parts", _PART)  # the repairs of ways with all that pricing them takes, in one query


def parts_of(way: Way) -> list[WayPart]:
    """The way's repairs in order, with their recipes and damages. One query."""
    return list(_PART.filter(way=way))


def names_of(parts: Sequence[WayPart]) -> list[str]:
    """What each repair is called beside the others: two of one name are told apart by their damage, else in order."""
    names = [_short(part) for part in parts]
    twice = Counter(names)
    return [
        name
        if twice[name] == 1
        else f"{name} (damage {part.damage.number})"
        if part.damage
        else f"{name} ({at})"
        for at, (name, part) in enumerate(zip(names, parts, strict=True), 1)
    ]  # fmt: skip


def bench_steps(parts: Sequence[WayPart], made: costing.BoardEstimate) -> list[PlannedStep]:
    """The steps of several repairs as the bench meets them, each place by its pin; none while there is no price.

    Each says in `serves` which repairs it is for, by key as `part`.
    """
    if made.way is None or len(parts) < 2:
        return []
    steps = made.planned_steps([_at_pin(part, name) for part, name in zip(parts, names_of(parts), strict=True)])
    return [_at_repairs(step, parts) for step in steps]


def _at_repairs(step: PlannedStep, parts: Sequence[WayPart]) -> PlannedStep:
    """A step of the bench with the keys of the repairs that it serves, and where it is done in its title."""
    own = [parts[one.damage or 0] for one in step.serves]
    where = "" if step.operation in costing.VISITS else _pins(own)
    serves = tuple(one._replace(part=part.pk) for one, part in zip(step.serves, own, strict=True))
    return replace(step, serves=serves, title=f"{step.title} at {where}" if where else step.title)


def _at_pin(part: WayPart, name: str) -> str:
    """A repair as the bench calls it: 3 (ding on the nose)."""
    return f"{part.damage.number} ({within(name)})" if part.damage else name


def _pins(parts: Sequence[WayPart]) -> str:
    """Where a step is done, by its pins: 1, 3 and 4; nothing where one of its repairs has no pin."""
    if not all(part.damage for part in parts):
        return ""
    numbers = sorted({part.damage.number for part in parts if part.damage})
    return listed([str(number) for number in numbers])


def title_of(parts: Sequence[WayPart]) -> str:
    """What a way of these repairs is called where nobody says: "Ding on the nose, leash plug"."""
    if len(parts) == 1:
        return str(parts[0].recipe_version.recipe.name)
    counted = Counter(_short(part) for part in parts)
    named = [name if at == 0 else within(name) for at, name in enumerate(counted)]
    told = [f"{name} × {times}" if times > 1 else name for name, times in zip(named, counted.values(), strict=True)]
    while len(", ".join(told)) > 120:
        told = [*told[:-2], "and more"]
    return ", ".join(told)


def words_of(parts: Sequence[WayPart]) -> str:
    """What the customer reads of these repairs where nobody says: what their recipes do, each once."""
    return "\n".join(filter(None, dict.fromkeys(str(part.recipe_version.body.get("about", "")) for part in parts)))


def _short(part: WayPart) -> str:
    name = str(part.recipe_version.recipe.name)
    return next((name.removesuffix(size) for size in SIZES if name.endswith(size)), name)


def follow(way: Way, before: Sequence[WayPart], after: Sequence[WayPart]) -> None:
    """The way's title and words as its repairs now are, where they were those of its repairs before. Not saved."""
    if way.title == title_of(before):
        way.title = title_of(after)
    if way.words.split() == words_of(before).split():
        way.words = words_of(after)


def board_of(way: Way, parts: Sequence[WayPart], inputs: Inputs, *, choices: bool = True) -> costing.BoardEstimate:
    """These repairs of a way worked out as one job. Raises Refused as `estimate_board` does."""
    asked = [
        Asked(
            str(part.pk), name, part.recipe_version, part.measures, part.accepted_odd, part.optional and len(parts) > 1
        )
        for part, name in zip(parts, names_of(parts), strict=True)
    ]
    built = construction(way.board.takein)
    return estimate_board(asked=asked, day=inputs.day, board=built, inputs=inputs, choices=choices)


def hand_lines(way: Way) -> list[HandLine]:
    """The way's lines by hand as they are priced."""
    return [HandLine(line.words, line.price, line.cost, line.tax_percent) for line in way.lines.all()]


def figures_of(
    way: Way, parts: Sequence[WayPart], made: costing.BoardEstimate, inputs: Inputs, *, by_hand: Decimal | None
) -> dict[str, Any]:
    """What a way keeps of its price: the figures of `price_way`, what each repair comes to, and every choice.

    `damages` and `choices` are empty while there is no price; `boards` says how many boards were reckoned to share a
    session, `worked_alone` what the work would come to if none did.
    """
    lines = hand_lines(way)
    figures = price_way([part.estimate for part in parts], inputs=inputs, lines=lines, by_hand=by_hand)
    kept = {
        **figures, "day": inputs.day.isoformat(), "boards": costing.boards_together(inputs.shop), "damages": [],
        "choices": [], "worked_alone": None,
    }  # fmt: skip
    if made.way is None or figures["price"] is None:
        return kept
    work = Decimal(figures["lines"][0]["price"])
    alone = [made.alone[one.key].priced.shown for one in made.damages]
    costs = [part.cost_unrounded or 0.0 for part in made.parts]
    told = costing.split_price(work, costs, alone, inputs.shop.pricing.decimals)
    kept["damages"] = [
        {
            "part": part.pk, "number": part.damage.number if part.damage else None, "name": one.name,
            "optional": one.optional, "with_others": str(shown), "alone": str(own),
        }
        for part, one, shown, own in zip(parts, made.damages, told, alone, strict=True)
    ]  # fmt: skip
    if len(made.choices) > 1:
        kept["choices"] = [_choice(one, made.way, work, inputs, lines) for one in made.choices]
    if not inputs.shop.alone:
        by_itself = board_of(way, parts, inputs.alone(), choices=False).way
        kept["worked_alone"] = str(by_itself.priced.shown) if by_itself else None
    return kept


def _choice(
    choice: costing.Choice, whole: costing.Choice, work: Decimal, inputs: Inputs, lines: Sequence[HandLine]
) -> dict[str, Any]:
    """A choice with the totals of its document. Under a price by hand of the whole way it goes down by as much."""
    shown, worked_out = choice.priced.shown, whole.priced.shown
    if work != worked_out:
        shown = money.round_money(shown * work / worked_out, inputs.currency) if worked_out else work
    _, document = document_of(shown, inputs=inputs, lines=lines)
    return {
        "parts": [int(key) for key in choice.damages],
        "shown": str(document.lines_total),
        "document": document.as_dict(),
    }


def set_ups_in_words(way: Way) -> str:
    """With how many boards in a session a way reckons, in a sentence; "" of one worked out before that was kept."""
    boards = way.totals.get("boards")
    return costing.together_in_words(boards) if boards else ""


def leave_out(way: Way, wanted: Collection[int]) -> None:
    """The way as the customer chose it, at the price that was said: of its optional repairs only those `wanted` (keys).

    Steps and costs are worked out anew for just these with the prices of the day the quote was worked out. The repairs
    are saved, the way is not. Refused for what is not to choose, and for nothing.
    """
    parts = parts_of(way)
    free = {one["part"] for one in way.totals.get("damages") or () if one["optional"]}
    if unknown := set(wanted) - free:
        raise Refused(
            f"Repair {min(unknown)} is not one to choose on this way: tick only those it offers.", field="wanted"
        )
    kept = [part for part in parts if part.pk not in free or part.pk in wanted]
    if len(kept) == len(parts):
        return
    if not kept:
        raise Refused("Nothing is chosen: tick at least one repair, or decline the quote.", field="wanted")
    keys = [part.pk for part in kept]
    said = next(one for one in way.totals["choices"] if one["parts"] == keys)
    left = [part for part in parts if part not in kept]
    _rename(way, parts, kept, left)
    not_wanted = [one for one in way.totals["damages"] if one["part"] not in keys]
    way.totals = {**_worked_anew(way, kept, Decimal(said["shown"])), "left": not_wanted}
    WayPart.objects.filter(pk__in=[part.pk for part in left]).delete()


def _rename(way: Way, parts: Sequence[WayPart], kept: Sequence[WayPart], left: Sequence[WayPart]) -> None:
    """Title and words of what is done; words of the shop's own say what is left out."""
    own = way.title
    follow(way, parts, kept)
    if way.title == own:
        names = [name for part, name in zip(parts, names_of(parts), strict=True) if part in left]
        way.title = f"{own}, without {listed([within(name) for name in names])}"[:120]


def _worked_anew(way: Way, kept: Sequence[WayPart], promised: Decimal) -> dict[str, Any]:
    """The figures of just these repairs at the price promised; what each is worth is kept if it can be had no more."""
    quote = way.board.quote
    inputs = shop_inputs(day=date.fromisoformat(way.totals["day"]))
    inputs = inputs.of_quote(quote.payer.discount_percent, quote.rush_percent)
    made = board_of(way, kept, inputs, choices=False)
    if not made.problems:
        for part, own in zip(kept, made.parts, strict=True):
            part.estimate = own.snapshot()
        WayPart.objects.bulk_update(kept, ["snapshot"])
    way.planned_steps = bench_steps(kept, made)
    figures = figures_of(way, kept, made, inputs, by_hand=None)
    if way.price_by_hand is not None:
        way.price_by_hand = promised
    if figures["shown"] != str(promised):
        figures = figures_of(way, kept, made, inputs, by_hand=promised)
        figures["margin"]["trail"][0]["words"] = "as the quote said"
    return figures
