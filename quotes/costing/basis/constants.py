"""The figures the trade works by, each declared once with unit, value, range, kind and source together.

A figure that no publication stands behind (common practice, or from memory) is a shop setting: `Shop.constants` lays
the shop's own value and range over it. Published figures are left alone, except those a data sheet may replace.
Invariant: low ≤ value ≤ high, and a name is declared once; both are refused at import.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

FigureKind = Literal["published", "practice", "memory", "derived"]
COMMON_PRACTICE = "common practice, no source"
FROM_MEMORY = "from memory"

CONSTANTS: dict[str, Constant] = {}


@dataclass(frozen=True, slots=True)
class Constant:
    """A figure: `value` in `unit`, its usual range, what it stands for, and where it comes from."""

    name: str
    value: float
    low: float
    high: float
    unit: str
    words: str
    kind: FigureKind
    source: str
    data_sheet: bool = False

    @property
    def adjustable(self) -> bool:
        """Whether a shop may lay its own value over it."""
        return self.kind in ("practice", "memory") or self.data_sheet


def _declare(constant: Constant) -> Constant:
    if constant.name in CONSTANTS:
        raise ValueError(f"The constant {constant.name} is declared twice.")
    if not constant.low <= constant.value <= constant.high:
        raise ValueError(f"The constant {constant.name} must have low ≤ value ≤ high.")
    CONSTANTS[constant.name] = constant
    return constant


def practice(name: str, value: float, low: float, high: float, unit: str, words: str) -> Constant:
    """Constant of common practice, in `unit`: no source was found, so the shop may set its own."""
    return _declare(Constant(name, value, low, high, unit, words, "practice", COMMON_PRACTICE))


def memory(name: str, value: float, low: float, high: float, unit: str, words: str) -> Constant:
    """Constant from memory, in `unit`: plausible, not looked up, so the shop may set its own."""
    return _declare(Constant(name, value, low, high, unit, words, "memory", FROM_MEMORY))


def published(
    name: str, value: float, low: float, high: float, unit: str, words: str, *, source: str, data_sheet: bool = False
) -> Constant:
    """Published constant, in `unit`; `data_sheet` marks one that the sheet of the shop's own product replaces."""
    return _declare(Constant(name, value, low, high, unit, words, "published", source, data_sheet))


def derived(name: str, value: float, low: float, high: float, unit: str, words: str, *, source: str) -> Constant:
    """Constant worked out from others, in `unit`; `source` says from which."""
    return _declare(Constant(name, value, low, high, unit, words, "derived", source))


def laid_over(own: Mapping[str, tuple[float, float, float]]) -> dict[str, float]:
    """Values of all constants by name, each in its own unit, with the shop's (value, low, high) in place where given.

    Raises ValueError naming the figure if it is unknown, not the shop's to set, or not in the order low ≤ value ≤ high.
    """
    for name, (value, low, high) in own.items():
        check_own(name, value, low, high)
    return {name: own[name][0] if name in own else constant.value for name, constant in CONSTANTS.items()}


def check_own(name: str, value: float, low: float, high: float) -> None:
    """Check of a figure that a shop sets, in the unit of the constant.

    Raises ValueError with a sentence if there is no such figure, it is published, or it is not low ≤ value ≤ high.
    """
    constant = CONSTANTS.get(name)
    if constant is None:
        raise ValueError(f"There is no figure called {name}; the shop's own figures carry the names of the core's.")
    if not constant.adjustable:
        raise ValueError(f"{name} is published ({constant.source}); it is not a shop setting.")
    if not low <= value <= high:
        raise ValueError(f"{name} must have low ≤ value ≤ high; {low:g}, {value:g}, {high:g} are not in order.")
