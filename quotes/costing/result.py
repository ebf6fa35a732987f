"""What an estimate is made of: lines of cost, steps of work, problems, and the money on top.

Everything here is filled once by `working.estimate` and read afterwards. `Estimate.as_dict()` is the frozen snapshot that
a quote keeps, screens read and `price --json` prints; its schema has a number, and the build-up tree is read from it.
Invariant: `cost` is the rounded sum of the unrounded lines, and the shown cents of the lines add up to it.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from quotes.costing.schedule import Timed

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


class Ranged(NamedTuple):
    """A factor with its 5 to 95 % range, where it comes from, and the job-to-job scatter (sd of the logarithm)."""

    value: float
    low: float
    high: float
    source: str
    spread: float | None = None


@dataclass(slots=True)
class Line:
    """One line of cost.

    `need` is what geometry asks for, `use` what this shop is expected to use up, in `unit`.
    `loss` is what each of `mixes` leaves in its cup, `least` the smallest use (a smallest mix times mixes), both in
    `unit`; `whole` says that use is rounded up to whole pieces. `cost` is unrounded.
    """

    operation: str
    step: int
    kind: LineKind
    material: str | None
    name: str
    need: float
    unit: str
    formula: str
    factor: Ranged
    mixes: int
    loss: float
    least: float
    whole: bool
    use: float
    unit_cost: float
    unit_cost_source: str
    cost: float
    moves_with: str = ""  # lines of one name are one uncertain thing: resin and its hardener, wage and overhead
    shown: int = 0  # minor units of the currency

    def as_dict(self, decimals: int = 2) -> dict[str, Any]:
        """The line as the snapshot keeps it."""
        return {
            "operation": self.operation,
            "step": self.step,
            "kind": self.kind,
            "material": self.material,
            "name": self.name,
            "need": {"value": self.need, "unit": self.unit},
            "formula": self.formula,
            "factor": {
                "value": self.factor.value,
                "low": self.factor.low,
                "high": self.factor.high,
                "source": self.factor.source,
            },
            "mixes": self.mixes,
            "loss": self.loss,
            "least": self.least,
            "whole": self.whole,
            "moves_with": self.moves_with,
            "use": {"value": self.use, "unit": self.unit},
            "unit_cost": {"value": self.unit_cost, "per": self.unit, "source": self.unit_cost_source},
            "cost": self.cost,
            "cost_shown": minor_words(self.shown, decimals),
        }


@dataclass(slots=True)
class Step:
    """One piece of work at the bench: what to do, how long, from when to when, with what."""

    index: int
    operation: str
    title: str
    instruction: str
    minutes: float
    earliest_start_h: float = 0.0
    latest_start_h: float | None = None
    if_late: str = ""
    mixes: list[dict[str, Any]] = field(default_factory=list)
    materials: list[dict[str, Any]] = field(default_factory=list)
    cautions: list[str] = field(default_factory=list)
    weight_g: float = 0.0
    in_time: bool = True  # its window is met when every day is worked

    @property
    def timed(self) -> Timed:
        """What the schedule needs of it."""
        return Timed(self.minutes, self.earliest_start_h, self.latest_start_h)

    def as_dict(self) -> dict[str, Any]:
        """The step as the snapshot keeps it."""
        return {
            "index": self.index,
            "operation": self.operation,
            "title": self.title,
            "instruction": self.instruction,
            "minutes": self.minutes,
            "earliest_start_h": self.earliest_start_h,
            "latest_start_h": self.latest_start_h,
            "if_late": self.if_late,
            "mixes": self.mixes,
            "materials": self.materials,
            "cautions": self.cautions,
            "weight_g": self.weight_g,
            "bench_hours_ok": self.in_time,
        }


def minor_words(minor: int, decimals: int) -> str:
    """Whole minor units as a decimal string: 42731 with 2 decimals is "427.31"."""
    if decimals == 0:
        return str(minor)
    sign, digits = ("-" if minor < 0 else ""), str(abs(minor)).rjust(decimals + 1, "0")
    return f"{sign}{digits[:-decimals]}.{digits[-decimals:]}"
