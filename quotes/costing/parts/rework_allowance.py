"""Allowance that a step of an estimate carries for being done again now and then.

That is the shop's own rate of it × what the step costs. Only work that was done again here carries anything, and only
where the shop asks for it. What the whole job shares (discs, gloves, solvent) is left out. Invariant: without rates an
estimate is what it was.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import NamedTuple

from quotes.costing.learning.rework import ReworkRate
from quotes.costing.parts.result import CostLine, minor_words
from quotes.costing.snapshot import Carried, Snapshot


class ReworkAllowance(NamedTuple):
    """A step's own materials, wage and overhead in currency, its hands-on minutes, and how often it is done again."""

    step: int
    again: ReworkRate
    materials: float
    labour: float
    overhead: float
    minutes: float

    @property
    def cost(self) -> float:
        """Rate × what doing the step once costs; in currency, unrounded."""
        return self.again.carried * (self.materials + self.labour + self.overhead)

    def kept(self, shown: int = 0, decimals: int = 2) -> Carried:
        """Allowance as the snapshot keeps it, with the minor units of the currency it is shown with."""
        again = self.again
        return Carried(
            self.step, again.operation, again.done, again.redone, again.carried, self.materials, self.labour,
            self.overhead, self.minutes, self.cost, Decimal(minor_words(shown, decimals)),
        )  # fmt: skip


def rework_allowances(rows: Sequence[tuple[int, CostLine]], rates: Mapping[str, ReworkRate]) -> list[ReworkAllowance]:
    """Allowances by step, for the operations that were done again here; `rows` are the lines with their steps."""
    sums: dict[int, list[float]] = {}
    rated: dict[int, ReworkRate] = {}
    for step, line in rows:
        again = rates.get(line.operation)
        if again is None or not again.carried or line.kind == "consumable":
            continue
        rated[step] = again
        found = sums.setdefault(step, [0.0] * 4)
        if line.kind == "labour":
            found[1] += line.cost
            found[3] += line.expected
        else:
            found[2 if line.kind == "overhead" else 0] += line.cost
    return [ReworkAllowance(step, rated[step], *found) for step, found in sums.items()]


def rework_minutes(parts: Iterable[Snapshot]) -> float:
    """Hands-on minutes that the rework is expected to take."""
    return float(sum(one.rate * one.minutes for part in parts for one in part.again))
