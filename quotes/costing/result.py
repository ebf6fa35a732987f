"""What an estimate is made of: lines of cost, steps of work, problems, and the money on top.

Everything here is filled once by `working.estimate` and read afterwards. `Estimate.as_dict()` is the frozen snapshot that
a quote keeps, screens read and `price --json` prints; its schema has a number, and the build-up tree is read from it.
Invariant: `cost` is the rounded sum of the unrounded lines, and the shown cents of the lines add up to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from quotes.costing.constants import Constant
from quotes.costing.usage import Factor

if TYPE_CHECKING:
    from quotes.costing.work import Work

SCHEMA = 1
LineKind = Literal["material", "labour", "overhead", "consumable"]


class Problem(NamedTuple):
    """Why there is no price yet: a sentence, and where it is put right.

    `fix` is "measure:NAME", "material:KEY", "setting:STEP:NAME", "shop:FIELD" or "board:construction". `odd` marks a
    measure that only needs a yes (pass its name in `accepted_odd`).
    """

    operation: str
    field: str
    text: str
    fix: str
    odd: bool = False

    def as_dict(self) -> dict[str, Any]:
        """The problem as the snapshot keeps it."""
        return {"operation": self.operation, "field": self.field, "text": self.text, "fix": self.fix, "odd": self.odd}


class Supply(NamedTuple):
    """How a material (None for hands-on time) is counted and paid for: `scale` stock units to one asked for."""

    material: str | None
    name: str
    unit: str
    scale: float
    price: float
    source: str


class Line:
    """One line of cost.

    `need` is what geometry asks for, `use` what this shop is expected to use up; `loss` is what each of `mixes` leaves
    in its cup, `least` the smallest use; all in the unit of the supply. Lines of one step with the same `moves_with` are
    one uncertain thing (resin and its hardener, wage and overhead). A pooled line holds the needs of several steps in
    `parts`: (step, need, trade default of the factor); `whole` rounds their sum up to whole pieces.
    """

    mixes: int = 0
    loss: float = 0.0
    least: float = 0.0
    moves_with: str = ""
    whole: bool = False
    shown: int = 0  # minor units of the currency
    parts: Sequence[tuple[Work, float, Constant]] = ()

    def __init__(
        self, work: Work, kind: LineKind, supply: Supply, need: float, formula: str, factor: Factor, use: float
    ) -> None:
        self.work = work
        self.kind = kind
        self.supply = supply
        self.need = need
        self.formula = formula
        self.factor = factor
        self.use = use
        self.cost = use * supply.price

    @property
    def name(self) -> str:
        """The material, or the time spent and what on."""
        return self.supply.name if self.supply.material else f"{self.supply.name}: {self.work.title}"

    def pool(self, factor_of: Callable[[str, str, Constant], Factor]) -> None:
        """Adds its parts up: need and expected use over all steps, whole pieces rounded up, at least one."""
        material = self.supply.material or ""
        need = expected = low = high = 0.0
        for work, value, trade in self.parts:
            factor = factor_of(work.operation, material, trade)
            need += value
            expected += value * factor.value
            low += value * factor.low
            high += value * factor.high
        self.need = need
        self.factor = factor if expected == need * factor.value else Factor(
            expected / need, low / need, high / need, factor.source)  # fmt: skip
        self.use = float(max(1, math.ceil(expected - 1e-9))) if self.whole else expected
        self.cost = self.use * self.supply.price
        if len(self.parts) > 1:
            self.formula = f"{self.formula}, over {len(self.parts)} steps"

    def as_dict(self, decimals: int = 2) -> dict[str, Any]:
        """The line as the snapshot keeps it."""
        supply, factor, work = self.supply, self.factor, self.work
        unit = supply.unit
        return {
            "operation": work.operation,
            "step": work.index,
            "kind": self.kind,
            "material": supply.material,
            "name": self.name,
            "need": {"value": self.need, "unit": unit},
            "formula": self.formula,
            "factor": {"value": factor.value, "low": factor.low, "high": factor.high, "source": factor.source,
                       "spread": factor.spread},
            "mixes": self.mixes,
            "loss": self.loss,
            "least": self.least,
            "whole": self.whole,
            "moves_with": f"{work.index}:{self.moves_with}" if self.moves_with else "",
            "use": {"value": self.use, "unit": unit},
            "unit_cost": {"value": supply.price, "per": unit, "source": supply.source},
            "cost": self.cost,
            "cost_shown": minor_words(self.shown, decimals),
        }  # fmt: skip


def minor_words(minor: int, decimals: int) -> str:
    """Whole minor units as a decimal string: 42731 with 2 decimals is "427.31"."""
    if decimals == 0:
        return str(minor)
    sign, digits = ("-" if minor < 0 else ""), str(abs(minor)).rjust(decimals + 1, "0")
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}"
