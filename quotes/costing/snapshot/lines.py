"""The lines of cost of a snapshot: need, the factor it was used with, use, its mean, and what that costs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, Literal, NamedTuple

LineKind = Literal["material", "labour", "overhead", "consumable"]
TIME = ("labour", "overhead")
POOLED = "whole job"  # what several steps share is learned for the job as a whole, not for one of its operations


class FactorLearned(NamedTuple):
    """Learning behind a factor when it was used: trade default, the shop's own figure, and what came of both.

    `own` is None without a log of the shop's own; beside it the default's range and source, the 80 % range and the sd
    of the logarithm of what came of both, and from how much.
    """

    trade: float
    trade_low: float
    trade_high: float
    trade_source: str
    own: float | None
    low: float
    high: float
    sd: float
    logs: int
    counts: int


class FactorUsed(NamedTuple):
    """A usage factor as an estimate took it: really used over planned, its 5 to 95 % range, and where it is from.

    `spread` is the scatter from job to job (sd of the logarithm, None: the trade's), `name` that of the constant.
    """

    value: float
    low: float
    high: float
    source: str
    spread: float | None = None
    name: str = ""
    learned: FactorLearned | None = None

    def to_json(self) -> dict[str, Any]:
        """Factor as the row keeps it."""
        return {**self._asdict(), "learned": None if self.learned is None else self.learned._asdict()}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> FactorUsed:
        """Factor read back; the oldest know neither scatter, name nor learning."""
        learned = kept.get("learned")
        return cls(
            kept["value"], kept["low"], kept["high"], kept["source"], kept.get("spread"), kept.get("name", ""),
            FactorLearned(**learned) if learned else None,
        )  # fmt: skip


class UnitCost(NamedTuple):
    """Cost in currency of buying one unit again, without tax, and its source; `guess` where nobody has said it."""

    value: float
    per: str
    source: str
    guess: bool = False


@dataclass(frozen=True, slots=True)
class SnapshotLine:
    """A line of cost as one step takes it; `need`, `use`, `expected`, `loss` and `least` in its `unit`.

    `need` is what geometry asks for, `use` what is planned in the middle, `expected` the mean that the cost is of;
    `loss` is what each of `mixes` leaves in its cup, `trade_loss` that loss by the trade, `least` the smallest use;
    `whole` counts whole pieces. Lines of one step with the same `moves_with` come out high or low together. `set_up` is
    what of a need of minutes sets up, None where that was not told apart yet. `costs_middle`: quoted before costs were
    means, at its use.
    """

    operation: str
    step: int
    kind: LineKind
    material: str | None
    name: str
    need: float
    unit: str
    formula: str
    factor: FactorUsed
    mixes: float
    loss: float
    trade_loss: float
    least: float
    whole: bool
    moves_with: str
    use: float
    expected: float
    unit_cost: UnitCost
    cost: float
    cost_shown: Decimal
    set_up: float | None = 0.0
    costs_middle: bool = False

    @property
    def is_time(self) -> bool:
        """Whether it is hands-on time, or the overhead of it."""
        return self.kind in TIME

    @property
    def shared(self) -> bool:
        """Whether it is counted over all steps of a job together."""
        return self.kind == "consumable"

    @property
    def taught_as(self) -> str:
        """Material, or "minutes", under which its factor is learned: that of a mix is its resin's."""
        return self.moves_with or self.material or self.name

    @property
    def cell(self) -> tuple[str, str]:
        """Operation and material (or "minutes") under which its factor is learned."""
        return (POOLED, self.material or "") if self.shared else (self.operation, self.taught_as)

    @property
    def follows(self) -> bool:
        """Whether it only goes with another line: overhead with the wage, a second part with its resin."""
        return self.kind == "overhead" or (not self.is_time and self.moves_with not in ("", self.material))

    @property
    def set_up_part(self) -> float:
        """Share (0 to 1) of a need of minutes that sets up."""
        return (self.set_up or 0.0) / self.need if self.need > 0 else 0.0

    def to_json(self) -> dict[str, Any]:
        """Line as the row keeps it."""
        kept = {
            "operation": self.operation, "step": self.step, "kind": self.kind, "material": self.material,
            "name": self.name, "need": {"value": self.need, "unit": self.unit}, "formula": self.formula,
            "factor": self.factor.to_json(), "mixes": self.mixes, "loss": self.loss, "loss_trade": self.trade_loss,
            "least": self.least, "whole": self.whole,
            "moves_with": f"{self.step}:{self.moves_with}" if self.moves_with else "",
            "use": {"value": self.use, "unit": self.unit}, "expected": {"value": self.expected, "unit": self.unit},
            "unit_cost": self.unit_cost._asdict(), "cost": self.cost, "cost_shown": str(self.cost_shown),
        }  # fmt: skip
        if self.costs_middle:
            del kept["expected"]
        if self.is_time and self.set_up is not None:
            kept["set_up"] = self.set_up
        return kept

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> SnapshotLine:
        """Line read back; of the first schema it costs its use, and older ones know less of what they are made of."""
        need, use, price, kind = kept["need"], kept["use"], kept["unit_cost"], kept["kind"]
        mean, loss = kept.get("expected"), kept["loss"]
        return cls(
            kept["operation"], kept["step"], kind, kept["material"], kept["name"], need["value"], need["unit"],
            kept["formula"], FactorUsed.from_json(kept["factor"]), kept["mixes"], loss, kept.get("loss_trade", loss),
            kept["least"], kept["whole"], kept["moves_with"].partition(":")[2], use["value"],
            use["value"] if mean is None else mean["value"],
            UnitCost(price["value"], price["per"], price["source"], price.get("guess", False)),
            kept["cost"], Decimal(kept["cost_shown"]), kept.get("set_up", None if kind in TIME else 0.0), mean is None,
        )  # fmt: skip


class Carried(NamedTuple):
    """Rework that a step carries: the steps `done` and `redone`, and the rate carried.

    Beside it what doing the step once takes: materials, wage and overhead in currency, hands-on minutes.
    """

    step: int
    operation: str
    done: int
    redone: int
    rate: float
    materials: float
    labour: float
    overhead: float
    minutes: float
    cost: float
    cost_shown: Decimal

    def to_json(self) -> dict[str, Any]:
        """Carried rework as the row keeps it."""
        return {**self._asdict(), "cost_shown": str(self.cost_shown)}

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Carried:
        """Carried rework read back."""
        return cls(**{**kept, "cost_shown": Decimal(kept["cost_shown"])})
