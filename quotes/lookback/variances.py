"""One job's amounts by material and operation: quoted against what it took."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace

from quotes.costing import REGISTRY, cost_risk
from quotes.costing.learning.variances import Variance, variance
from quotes.costing.money.cost_risk import JustLines
from quotes.costing.snapshot import SnapshotLine
from quotes.lookback.past import BOUGHT, NARROW, OVERHEAD, TURNED_UP, JobAmount, Past, material_of


@dataclass(frozen=True, slots=True)
class Compared:
    """One operation and material of a job: quoted, expected by what is known now, and real.

    In the material's unit and in currency without tax. `likely` is between what eight in ten such jobs would use of it,
    None where it is counted.
    """

    operation: str
    name: str
    unit: str
    again: bool
    quoted_qty: float
    quoted_cost: float
    expected_qty: float
    expected_cost: float
    real_qty: float
    real_cost: float
    likely: tuple[float, float] | None = None

    @property
    def quoted_price(self) -> float | None:
        """Per unit; None where nothing was quoted."""
        return self.quoted_cost / self.quoted_qty if self.quoted_qty else None

    @property
    def real_price(self) -> float | None:
        """Per unit; None where nothing was booked."""
        return self.real_cost / self.real_qty if self.real_qty else None

    @property
    def variance(self) -> Variance:
        """By price and by quantity; what was not quoted, or not used, differs by its quantity alone."""
        quoted, real = self.quoted_price, self.real_price
        return variance(
            planned_price=(real if quoted is None else quoted) or 0.0,
            planned_qty=self.quoted_qty,
            real_price=(quoted if real is None else real) or 0.0,
            real_qty=self.real_qty,
        )


def compared(past: Past) -> list[Compared]:
    """A job by operation and material, what made the largest difference first, then in the order of the quote."""
    sums: dict[tuple[str, str, str, bool], list[float]] = {}
    words: dict[tuple[str, str, str, bool], JobAmount] = {}
    for side, rows in enumerate((past.quoted, past.expected, past.real)):
        for row in rows:
            operation = "" if row.material == OVERHEAD else row.operation
            key = (operation, row.material, row.name if row.material == BOUGHT else "", row.again)
            words.setdefault(key, row)
            found = sums.setdefault(key, [0.0] * 6)
            found[2 * side] += row.qty
            found[2 * side + 1] += row.cost
    likely = _likely_uses(past.lines_now)
    made = []
    for key, row in words.items():
        quoted, quoted_cost, expected, expected_cost, real, real_cost = sums[key]
        between = None if row.again else likely.get(key[:2])
        made.append(
            Compared(operation_name(key[0]), row.name, row.unit, row.again, quoted, quoted_cost, expected, expected_cost,
                     real, real_cost, likely=between)
        )  # fmt: skip
    return sorted(made, key=lambda row: -round(abs(row.variance.total), 2))


def _likely_uses(lines: Iterable[SnapshotLine]) -> dict[tuple[str, str], tuple[float, float]]:
    """By operation and material between what eight in ten such jobs would use, in its unit; none of what is counted."""
    alike: dict[tuple[str, str], list[SnapshotLine]] = defaultdict(list)
    for line in lines:
        material = material_of(line)
        key = ("" if material == OVERHEAD else line.operation, material)
        alike[key].append(replace(line, unit_cost=line.unit_cost._replace(value=1.0)))
    uses = {key: cost_risk([JustLines(found)]).cost for key, found in alike.items()}
    return {key: (use.quantile(0.1), use.quantile(0.9)) for key, use in uses.items() if use.sd > NARROW * use.mean}


def operation_name(key: str) -> str:
    """An operation in words."""
    if key == TURNED_UP:
        return "What turned up"
    known = REGISTRY.get(key)
    return known.name if known else key.replace("-", " ").capitalize()
