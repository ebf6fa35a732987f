"""A board with its damages as a file for the command line: what it may say, and the sentence when it says it wrongly.

    {"core": "pu", "resin": "polyester",
     "damages": [{"name": "Nose", "recipe": "ding-nose-small", "optional": true,
                  "measures": {"length": "40 mm", "around": "35 mm", "depth": 8}}]}

Measures are words as people write them, or numbers in the measure's own unit.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any

from quotes.costing import Construction, CoreRecipe
from quotes.estimating import Asked, core_recipe
from quotes.models import RecipeVersion
from shop.models import Board

_BOARD = {"core", "resin", "damages"}
_DAMAGE = {"name", "recipe", "measures", "optional"}
_MOST = 40  # damages of one board; a page holds no more


@dataclass(frozen=True)
class BoardFile:
    """A board as a file says it: how it is built, and its damages."""

    board: Construction
    asked: tuple[Asked, ...]


class WrongFile(Exception):
    """A file that cannot be read as a board; says why in a sentence."""


def read_board(path: str, known: Mapping[str, RecipeVersion], *, accept_odd: bool = False) -> BoardFile:
    """The board of a file; `known` are the shop's recipes by short name. Raises WrongFile with a sentence."""
    try:
        text = Path(path).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError, ValueError) as wrong:
        raise WrongFile(f"The file {path[:200]} cannot be read: {_reason(wrong)}.") from wrong
    try:
        body = json.loads(text)
    except (json.JSONDecodeError, RecursionError) as wrong:
        where = f" in line {wrong.lineno}" if isinstance(wrong, json.JSONDecodeError) else ""
        raise WrongFile(f"The file {path[:200]} is no JSON: look{where}.") from wrong
    if not isinstance(body, dict):
        raise WrongFile("A board is an object with core, resin and damages.")
    _no_others(body, _BOARD, "A board")
    core = _one_of(body, "core", Board.Core.values, "pu")
    resin = _one_of(body, "resin", Board.Resin.values, "polyester" if core == "pu" else "epoxy")
    damages = body.get("damages")
    if not isinstance(damages, list) or not damages:
        raise WrongFile("“damages” must be a list with at least one damage in it.")
    if len(damages) > _MOST:
        raise WrongFile(f"A board may have {_MOST} damages at most; this one has {len(damages)}.")
    asked = tuple(_damage(number, one, known, accept_odd) for number, one in enumerate(damages, 1))
    return BoardFile(Construction(core, resin), asked)  # type: ignore[arg-type]


def _damage(number: int, one: Any, known: Mapping[str, RecipeVersion], accept_odd: bool) -> Asked:
    which = f"Damage {number}"
    if not isinstance(one, dict):
        raise WrongFile(f"{which} must be an object with recipe and measures.")
    _no_others(one, _DAMAGE, which)
    key = one.get("recipe")
    if not isinstance(key, str):
        raise WrongFile(f"{which} lacks its recipe: the short name of one, like ding-deck-small.")
    if key not in known:
        raise WrongFile(f"{which}: there is no recipe called {key[:60]}.{meant(key, known)}")
    version = known[key]
    recipe = core_recipe(version)
    name, optional = one.get("name", recipe.name), one.get("optional", False)
    if not isinstance(name, str) or not name.strip():
        raise WrongFile(f"{which}: “name” must be words, like Nose.")
    if not isinstance(optional, bool):
        raise WrongFile(f"{which}: “optional” must be true or false.")
    odd = [measure.name for measure in recipe.measures] if accept_odd else ()
    return Asked(
        str(number), name.strip()[:60], version, _measures(which, recipe, one.get("measures", {})), odd, optional
    )


def _measures(which: str, recipe: CoreRecipe, found: Any) -> dict[str, str | float]:
    if not isinstance(found, dict):
        raise WrongFile(f"{which}: “measures” must be an object of names and values, like length and 40 mm.")
    names = [measure.name for measure in recipe.measures]
    measures: dict[str, str | float] = {}
    for name, value in found.items():
        if name not in names:
            has = f"It has {', '.join(names)}."
            raise WrongFile(f"{which}: {recipe.name} has no measure called {name[:60]}.{meant(name, names)} {has}")
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise WrongFile(f"{which}: {name} must be a number or words like 40 mm.")
        measures[name] = value if isinstance(value, str) else f"{value}"
    return measures


def _one_of(body: Mapping[str, Any], name: str, choices: list[str], usual: str) -> str:
    value = body.get(name, usual)
    if value not in choices:
        raise WrongFile(f"“{name}” must be one of {', '.join(choices)}; it is {str(value)[:60]}.")
    return str(value)


def _no_others(body: Mapping[str, Any], known: set[str], what: str) -> None:
    for name in body:
        if name not in known:
            raise WrongFile(
                f"{what} has no “{name[:60]}”.{meant(name, sorted(known))} It has {', '.join(sorted(known))}."
            )


def _reason(wrong: Exception) -> str:
    if isinstance(wrong, FileNotFoundError):
        return "it is not there"
    if isinstance(wrong, IsADirectoryError):
        return "it is a folder"
    return (
        "it is no text"
        if isinstance(wrong, UnicodeDecodeError)
        else (getattr(wrong, "strerror", "") or "it is no file")
    )


def meant(word: str, known: Any) -> str:
    """“Did you mean …?”, where one of the known words is near."""
    close = get_close_matches(word, list(known), n=1, cutoff=0.5)
    return f" Did you mean {close[0]}?" if close else ""
