"""Settings of an operation: what a recipe may say about it, and the sentence when it says it wrongly."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

from quotes.costing.basis.constants import Constant

LISTS = ("materials", "choices")  # kinds of settings that hold several


class Setting(NamedTuple):
    """A setting of an operation. A number may be the name of a measure; a default may be a constant of the trade."""

    name: str
    label: str
    kind: Literal["number", "place", "material", "materials", "choice", "choices", "words"]
    default: float | str | tuple[str, ...] | Constant | None = None
    unit: str = ""
    low: float = 0.0
    high: float = 1e6
    choices: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()  # of material that fit; none: any

    @property
    def required(self) -> bool:
        """Whether the recipe must say it."""
        return self.default is None


def place(name: str = "place", label: str = "where") -> Setting:
    """Setting that names a place of the recipe."""
    return Setting(name, label, "place")


def number(
    name: str, label: str, default: float | Constant, unit: str = "", low: float = 0.0, high: float = 1e6
) -> Setting:
    """Setting that is a number in `unit`, or the name of a measure."""
    return Setting(name, label, "number", default, default.unit if isinstance(default, Constant) else unit, low, high)


def material(name: str, label: str, default: str, *kinds: str) -> Setting:
    """Setting that is the key of a material, of one of these kinds where any is named."""
    return Setting(name, label, "material", default, kinds=kinds)


def cloths(label: str) -> Setting:
    """Setting that is a list of cloths, as a laminate lays them."""
    return Setting("plies", label, "materials", kinds=("cloth",))


def choice(name: str, label: str, default: str, choices: tuple[str, ...]) -> Setting:
    """Setting that is one of a few words."""
    return Setting(name, label, "choice", default, choices=choices)


TIMES = number("times", "how many of them", 1, "piece", 0, 40)
SIDES = Setting("sides", "sides of each", "choice", "one", choices=("one", "both"))
ONTO = Setting("onto", "goes onto", "choice", "last coat", choices=("last coat", "another face"))
TITLE = Setting("title", "title on the job sheet", "words", "")
NOTE = Setting("note", "a word to the bench", "words", "")


def wrong_with(setting: Setting, value: Any, measures: list[str], places: Mapping[str, Any]) -> str:
    """Sentence if a value is not what a setting can be, else an empty text."""
    if setting.kind == "number":
        if isinstance(value, str):
            return "" if value in measures else f"{setting.label} names {value}, which is no measure of this recipe."
        if isinstance(value, bool) or not isinstance(value, int | float):
            return f"{setting.label} must be a number or the name of a measure."
        if not setting.low <= value <= setting.high:
            unit = "" if setting.unit in ("", "1", "piece") else f" {setting.unit}"
            return f"{setting.label} must be between {setting.low:g} and {setting.high:g}{unit}; it is {value:g}."
        return ""
    if setting.kind in LISTS:
        if not (isinstance(value, list | tuple) and value and all(isinstance(one, str) for one in value)):
            return f"{setting.label} must be a list with at least one in it."
        strange = [one for one in value if setting.choices and one not in setting.choices]
        return f"{setting.label}: {strange[0]} is none of {', '.join(setting.choices)}." if strange else ""
    if not isinstance(value, str):
        return f"{setting.label} must be a word."
    if setting.kind == "place" and value not in places:
        return f"{setting.label} names {value}, which is no place of this recipe."
    if setting.kind == "choice" and value not in setting.choices:
        return f"{setting.label} must be one of {', '.join(setting.choices)}; it is {value}."
    return ""
