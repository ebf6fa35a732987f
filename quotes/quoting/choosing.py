"""Which recipe for which damage: what fits comes first, what must not be done to this board says why.

Read from the recipes themselves (kinds, names, limits of their measures), so that a shop's own recipes are found too.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from quotes.costing import Construction, CoreRecipe, Measure
from quotes.estimating import construction, core_recipe, read_typed
from quotes.models import Damage, RecipeVersion, TakeIn
from shop.models import Board

PLACE_WORDS = ("deck", "bottom", "rail", "nose", "tail")
FITS, SAME_KIND, OTHER = 0, 1, 2
SAME_AS = {"around": "width", "diameter": "width"}  # what a recipe calls a size that take-in knows by another name


@dataclass(frozen=True)
class RecipeChoice:
    """A recipe offered for a damage: how well it fits (0 best), and why not, if it must not be done."""

    version: RecipeVersion
    core: CoreRecipe
    rank: int
    refusals: tuple[str, ...]


def choices(versions: Iterable[RecipeVersion], damage: Damage | None, takein: TakeIn) -> list[RecipeChoice]:
    """Every recipe for a board as it was taken in, the best fitting first."""
    built = construction(takein)
    found = [_choice(version, damage, takein.board, built) for version in versions]
    return sorted(found, key=lambda choice: (choice.rank, bool(choice.refusals)))


def _choice(version: RecipeVersion, damage: Damage | None, board: Board, built: Construction) -> RecipeChoice:
    core = core_recipe(version)
    refusals = tuple(dict.fromkeys(problem.text for problem in core.refusals(built)))
    return RecipeChoice(version, core, _rank(core, damage, board), refusals)


def _rank(core: CoreRecipe, damage: Damage | None, board: Board) -> int:
    if damage is None:
        return FITS
    if damage.kind not in core.kinds:
        return OTHER
    named = [word for word in PLACE_WORDS if word in core.name.lower()]
    if named and not any(word in damage.side for word in named):
        return SAME_KIND
    given, _ = read_typed(core, prefilled(core, damage, board))
    limits = {measure.name: measure for measure in core.measures}
    small = all(limits[name].low <= one.value <= limits[name].high for name, one in given.items())
    return FITS if small else SAME_KIND


def prefilled(core: CoreRecipe, damage: Damage | None, board: Board) -> dict[str, str]:
    """What a recipe asks and take-in already knows, as typed; nothing is asked twice."""
    known = {name: str(text) for name, text in damage.measures.items()} if damage else {}
    for name in ("length", "width", "thickness"):
        size = getattr(board, f"{name}_mm")
        if size is not None:
            known[f"board_{name}"] = f"{size.normalize():f} mm"
    found = {measure.name: known.get(_known_as(measure, known), "") for measure in core.measures}
    return {name: text for name, text in found.items() if text}


def _known_as(measure: Measure, known: dict[str, str]) -> str:
    if measure.name in known:
        return measure.name
    last = measure.name.rpartition("_")[2]
    if measure.name.startswith(("board_", "fin_")) or measure.dimension != "length":
        return ""
    return SAME_AS.get(last, last)
