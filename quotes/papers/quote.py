"""The quote as a paper: set from its frozen content and nothing else, so that the same content gives the same page."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import date
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from django.utils.dateformat import format as day_words

from shop.papers.paper import render
from shop.text.formats import listed, within

LISTED = 3  # optional repairs of which every choice is on the paper; of more, the whole and what can be left
COUNTED = ("No way", "One way", "Two ways", "Three ways", "Four ways", "Five ways")


def pdf(content: dict[str, Any]) -> bytes:
    """The PDF bytes of a quote's content. Raises PaperProblem if it cannot be set as written."""
    return render("papers/quote.html", context(content))


def context(content: dict[str, Any]) -> dict[str, Any]:
    """What the template shows; also what the customer's screen shows."""
    made, until = date.fromisoformat(content["made_on"]), date.fromisoformat(content["valid_until"])
    name = f"Quote {content['number']}".strip()
    held = f"held until {day_words(until, 'D j M Y')}"
    sent = content["sent"]
    version = [f"version {content['version']}"] if content["version"] > 1 else []
    return {
        **{key: content[key] for key in ("currency", "locale", "paper", "seller", "buyer", "note", "tax", "terms")},
        "lang": "en",
        "document_name": name if content["number"] else "Quote, not sent yet",
        "document_lines": [*version, day_words(made, "D j M Y"), held],
        "foot_words": f"{name}, {held} · {content['seller']['name']}",
        "state_words": "" if sent else "PREVIEW",
        "other": {"name": content["brought_by"]} if content["brought_by"] else None,
        "boards": [_board(board) for board in content["boards"]],
        "several": len(content["boards"]) > 1,
        "plus_tax": content["tax"]["registered"] and not content["tax"]["included"],
        "may_turn_up": content["may_turn_up"],
        "later_yes": any(_worked_out(way) for board in content["boards"] for way in board["ways"]),
        "together": _together(content),
        "deposit_percent": content["deposit_percent"] if Decimal(content["deposit_percent"]) else "",
        "deposits_told": any(way.get("deposit") for board in content["boards"] for way in board["ways"]),
        "made_on": made,
        "valid_until": until,
    }


def _together(content: dict[str, Any]) -> dict[str, Any] | None:
    """What several boards come to, for each and in all; quotes of before say no sum. `one_price`: least is most."""
    sums = content.get("together")
    if not sums:
        return None
    one_price = sums["least"] == sums["most"] and all(row["least"] == row["most"] for row in sums["boards"])
    deposits = [row["deposit"] for row in (sums["least"], sums["most"]) if Decimal(row["deposit"])]
    return {**sums, "one_price": one_price, "deposits": list(dict.fromkeys(deposits))}


def _worked_out(way: dict[str, Any]) -> bool:
    """Whether a way's ready day was worked out for a yes on the day of the quote."""
    return bool(way["ready_on"]) and not way.get("ready_by_hand", True)


def _board(board: dict[str, Any]) -> SimpleNamespace:
    ways = [_way(way) for way in board["ways"]]
    damages = [_damage(damage) for damage in board["damages"]]
    shape = {name: Decimal(size) if size and name.endswith("_mm") else size for name, size in board["shape"].items()}
    pinned = ", ".join(f"{damage.number} {damage.get_kind_display}" for damage in damages)
    return SimpleNamespace(
        shape=SimpleNamespace(**shape),
        name=board["name"],
        tag=board["tag"],
        damages=damages,
        ways=ways,
        heading=f"{COUNTED[len(ways)]} to fix your {board['name']}",
        drawing_words=f"Drawing of the board with its damages: {pinned}" if damages else "Drawing of the board",
        tax_rows=[row for way in ways for row in way.tax_rows],
    )


def _damage(damage: dict[str, Any]) -> SimpleNamespace:
    return SimpleNamespace(
        number=damage["number"],
        side=damage["side"],
        from_tail_mm=Decimal(damage["from_tail_mm"]),
        from_stringer_mm=Decimal(damage["from_stringer_mm"]),
        get_kind_display=damage["kind"],
        get_side_display=damage["side_words"],
        words=", ".join(filter(None, (damage["words"], damage["size"]))),
    )


def weight_words(grams: float, *, felt: bool = False) -> str:
    """What a way does to the board's weight, and whether the rider may feel it."""
    words = f"Board {'gains' if grams >= 0 else 'loses'} about {abs(round(grams))} g"
    return f"{words}, enough to be felt" if felt else words


def choice_words(names: Sequence[str], wanted: Collection[int]) -> str:
    """A choice of some of these repairs (by number, from 0) in words: "All three", "Without …", "Only …"."""
    kept = [name for at, name in enumerate(names) if at in wanted]
    left = [name for at, name in enumerate(names) if at not in wanted]
    if not left:
        return {2: "Both", 3: "All three", 4: "All four"}.get(len(names), f"All {len(names)}")
    return (
        f"Only {listed([within(name) for name in kept])}"
        if len(kept) <= len(left)
        else f"Without {listed([within(name) for name in left])}"
    )


def choices(repairs: list[dict[str, Any]], found: list[dict[str, Any]], *, every: bool = False) -> list[dict[str, Any]]:
    """Choices to read, the whole first: each in words with its price, as the content has them.

    Of many optional repairs only the whole, what can be left of it, and the least; `every` gives all of them.
    """
    names = [one["name"] for one in repairs]
    few = sum(one["optional"] for one in repairs) <= LISTED
    sizes = [len(one["wanted"]) for one in found]
    shown = [
        one
        for one, size in zip(found, sizes, strict=True)
        if every or few or size >= len(names) - 1 or (sizes.count(min(sizes)) == 1 and size == min(sizes))
    ]
    rows = [{**one, "words": choice_words(names, one["wanted"])} for one in shown]
    return sorted(rows, key=lambda row: -len(row["wanted"]))


def _way(way: dict[str, Any]) -> SimpleNamespace:
    repairs, found = way.get("repairs", []), way.get("choices", [])
    rows = choices(repairs, found)
    of = f"Way {way['position']}" + (f", {rows[0]['words'].lower()}" if rows else "")
    return SimpleNamespace(
        **{key: way[key] for key in ("position", "title", "words", "shown", "gross", "extras", "layers", "pocket")},
        ready_on=date.fromisoformat(way["ready_on"]) if way["ready_on"] else None,
        deposit=way.get("deposit"),
        weight=weight_words(way["grams"], felt=way.get("felt", False)),
        tax_rows=[{**row, "of": of} for row in way["tax_rows"]],
        repairs=repairs,
        choices=rows,
        more_choices=len(found) > len(rows),
    )
