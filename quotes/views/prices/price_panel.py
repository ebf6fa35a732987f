"""What a recipe costs on its reference board, beside whatever is being changed: its price, or what is missing."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal
from typing import Any

from django.urls import reverse
from django.utils import timezone

from inventory.models import Material
from quotes import quoting
from quotes.costing import REGISTRY, Problem, Remedy, guessed_in
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.estimating import Inputs
from quotes.recipes import on_reference, reference_of
from shop.models import Board
from shop.platform.acts import Refused

TYPE_PRICES = "Type the prices"
SHOP_PAGES = {"tax": "tax-rates", "wage_per_hour": "labour-rates", "overhead_per_hour": "overheads"}
CORES, RESINS = dict(Board.Core.choices), dict(Board.Resin.choices)


def price_panel(
    key: str,
    body: Mapping[str, Any],
    reference: Mapping[str, Any],
    inputs: Inputs,
    saved: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The panel of a body; `saved` is the last version's body, to say what the change does to the price."""
    core = CoreRecipe.from_dict(body)
    board = reference_of(core, reference)
    panel: dict[str, Any] = {
        "key": key,
        "board": f"core {CORES[board.board.core]}, skin resin {RESINS[board.board.resin]}{', wet' * board.board.wet}",
        "measures": [(m.label, board.measures[m.name]) for m in core.measures],
    }
    try:
        made = on_reference(body, reference, inputs)
    except Refused as wrong:
        return panel | {"problems": [{"text": sentence} for sentence in wrong.messages]}
    if made.problems or made.priced is None:
        return panel | {"problems": problem_rows(made.problems, key)}
    old = on_reference(saved, reference, inputs).priced if saved is not None else None
    return panel | {
        "price": made.priced.gross,
        "cost": made.priced.cost,
        "guessed": guessed_in(made.lines),
        "sheet": reverse("recipe-price-sheet", args=[key]),
        **(_difference(old.gross, made.priced.gross) if old else {}),
        "minutes": made.minutes,
        "earned": made.earned_per_hour,
        "weight_g": made.added_weight_g,
        "days": round(made.ready_days, 1),
    }


def _difference(was: Decimal, now: Decimal) -> dict[str, Any]:
    """What it was, and by how much it is more or less; nothing if it is the same."""
    return {"was": was, "by": abs(now - was), "way": "more" if now > was else "less"} if now != was else {}


def problem_rows(problems: Iterable[Problem], key: str) -> list[dict[str, str]]:
    """What keeps a recipe from having a price, each thing once: the prices in one line, then the other sentences."""
    problems = list(problems)
    missing = quoting.missing_once(problems, timezone.localdate())
    pages = dict(Material.objects.values_list("key", "pk"))
    sheet = reverse("recipe-price-sheet", args=[key])
    prices = [{"text": missing.words, "operation": "", "href": sheet, "words": TYPE_PRICES}] if missing.words else []
    return prices + other_rows(problems, key, missing, pages)


def other_rows(
    problems: Iterable[Problem], key: str, missing: quoting.Missing, pages: Mapping[str, int]
) -> list[dict[str, str]]:
    """The sentences that are about no missing price, each once, with the operation and where it is put right."""
    said = {one.text for one in missing.others}
    rows: dict[str, dict[str, str]] = {}
    for problem in problems:
        if problem.text not in said:
            continue
        operation = REGISTRY.get(problem.operation)
        href, words = _put_right(problem.remedy, key, pages)
        name = operation.name if operation and operation.name not in problem.text else ""
        rows.setdefault(problem.text, {"text": problem.text, "operation": name, "href": href, "words": words})
    return list(rows.values())


def _put_right(remedy: Remedy, key: str, materials: Mapping[str, int]) -> tuple[str, str]:
    """Where a problem is put right, and the words of the link."""
    match remedy:
        case Remedy("material", name) if name in materials:
            return reverse("material", args=[materials[name]]), "Open it in the store"
        case Remedy("material"):
            return reverse("material-new"), "Add it to the store"
        case Remedy("setting", _, step):
            return reverse("recipe-step", args=[key, step]), "Open the step"
        case Remedy("shop", name):
            return reverse(SHOP_PAGES.get(name, "shop-edit")), "Open the shop's settings"
        case Remedy("measure" | "board"):
            return reverse("recipe-reference", args=[key]), "Open the reference board"
    return "", ""
