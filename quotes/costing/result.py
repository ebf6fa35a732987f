"""What an estimate is made of: lines of cost, steps of work, problems, and the money on top.

Everything here is filled once by `working.estimate` and read afterwards. `Estimate.as_dict()` is the frozen snapshot that
a quote keeps, screens read and `price --json` prints; its schema has a number, and the build-up tree is read from it.
Invariant: `cost` is the rounded sum of the unrounded lines, and the shown cents of the lines add up to it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from quotes.costing.constants import Constant
from quotes.costing.usage import Factor
from quotes.costing.words import Text, Words

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

    __slots__ = ("cost", "factor", "kind", "need", "shown", "supply", "use", "words", "work")
    mixes: int = 0
    loss: float = 0.0
    least: float = 0.0
    moves_with: str = ""
    whole: bool = False
    parts: Sequence[tuple[Work, float, Constant]] = ()

    def __init__(
        self, work: Work, kind: LineKind, supply: Supply, need: float, words: Text, factor: Factor, use: float
    ) -> None:
        self.work = work
        self.kind = kind
        self.supply = supply
        self.need = need
        self.words = words
        self.factor = factor
        self.use = use
        self.cost = use * supply.price
        self.shown = 0  # minor units of the currency

    @property
    def formula(self) -> str:
        """How the need came about, in words with their figures."""
        return str(self.words)

    @property
    def name(self) -> str:
        """The material, or the time spent and what on."""
        return self.supply.name if self.supply.material else f"{self.supply.name}: {self.work.title}"

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


class TimeLine(Line):
    """Hands-on time: the wage and the overhead of one step come out high or low together."""

    __slots__ = ()
    moves_with = "minutes"


class MixedLine(Line):
    """A part of a mix: each mix leaves its cup, and none is smaller than can be metered."""

    __slots__ = ("least", "loss", "mixes", "moves_with")


class PooledLine(Line):
    """What several steps of a job share, counted together: `parts` are (step, need, trade default of the factor)."""

    __slots__ = ("alike", "parts", "trade", "whole")
    parts: list[tuple[Work, float, Constant]]
    trade: Constant
    alike: bool  # all parts are at that one trade default

    def pool(self, factor_of: Callable[[str, str, Constant], Factor] | None, trade: Mapping[str, Factor]) -> None:
        """Adds its parts up: need and expected use over all steps, whole pieces rounded up, at least one.

        `factor_of` looks a step's own factor up; None where the shop has none, then all is at the trade's default.
        """
        parts = self.parts
        need = 0.0
        for _, value, _ in parts:
            need += value
        self.need = need
        if factor_of is None and self.alike:
            self.factor = trade[self.trade.name]
        else:
            self.factor = _mean_factor(parts, need, factor_of, trade, self.supply.material or "")
        expected = need * self.factor.value
        self.use = use = float(max(1, math.ceil(expected - 1e-9))) if self.whole else expected
        self.cost = use * self.supply.price
        if len(parts) > 1:
            self.words = Words("{}, over {} steps", self.words, len(parts))


def _mean_factor(
    parts: Sequence[tuple[Work, float, Constant]], need: float,
    factor_of: Callable[[str, str, Constant], Factor] | None, trade: Mapping[str, Factor], material: str,
) -> Factor:  # fmt: skip
    """The factor of the whole where its parts have several: their mean by need."""
    found = [
        (value, factor_of(work.operation, material, kind) if factor_of else trade[kind.name])
        for work, value, kind in parts
    ]
    value, low, high = (
        sum(share * getattr(factor, end) for share, factor in found) / need for end in ("value", "low", "high")
    )
    return Factor(value, low, high, found[0][1].source, found[0][1].spread)


def minor_words(minor: int, decimals: int) -> str:
    """Whole minor units as a decimal string: 42731 with 2 decimals is "427.31"."""
    if decimals == 0:
        return str(minor)
    sign, digits = ("-" if minor < 0 else ""), str(abs(minor)).rjust(decimals + 1, "0")
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}"
