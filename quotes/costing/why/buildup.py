"""The tree behind a price: any figure opens into measure, formula in words, factor, source and stock price.

It is read from a snapshot, so that screen, paper and test open the same tree, also years later. Costs are unrounded
inside; what is shown are cents that add up. Invariant: the root of the cost is the rounded sum of its unrounded leaves.
The same cost lies here too by material and by operation, over all repairs of a way.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from quotes.costing.basis.lazy_words import many
from quotes.costing.learning.model.evidence import shown_in_words
from quotes.costing.operations import REGISTRY
from quotes.costing.snapshot import Carried, FactorUsed, MeasureTaken, PlannedStep, Snapshot, SnapshotLine


class Node(NamedTuple):
    """A figure: its value in a unit or its cost, its formula in words, its source, and the figures under it.

    `cost` is unrounded, in the currency; `shown` is the money as it is printed. `cell` of a factor is the operation and
    material (or minutes) under which it is learned.
    """

    label: str
    value: float | None = None
    unit: str = ""
    cost: float | None = None
    shown: str = ""
    how: str = ""
    source: str = ""
    children: tuple[Node, ...] = ()
    cell: tuple[str, str] | None = None

    def leaves(self) -> Iterator[Node]:
        """Lowest figures that carry a cost."""
        below = [child for child in self.children if child.cost is not None]
        if not below and self.cost is not None:
            yield self
        for child in below:
            yield from child.leaves()

    def as_dict(self) -> dict[str, Any]:
        """Tree as plain data."""
        return {**self._asdict(), "children": [child.as_dict() for child in self.children]}


class MaterialTaken(NamedTuple):
    """Use of one material, or of hands, by a way: on paper, as it is expected, and what that costs in currency."""

    name: str
    need: float
    takes: float
    unit: str
    cost: Decimal


class OperationShare(NamedTuple):
    """One operation over all steps of a way: hands-on minutes, materials used, and both with overheads in currency."""

    name: str
    minutes: float
    used: Decimal
    cost: Decimal


HANDS, WORKSHOP, SHARED, AGAIN = "Hands", "Workshop", "Shared by the whole job", "Work done again"


def by_material(snapshots: Iterable[Snapshot]) -> list[MaterialTaken]:
    """Row for each material, the dearest first, then hands, workshop and work done again.

    The shown cents add up to the cost of the snapshots.
    """
    snapshots = list(snapshots)
    rows: dict[tuple[str, str], MaterialTaken] = {}
    for line in _lines(snapshots):
        name = {"labour": HANDS, "overhead": WORKSHOP}.get(line.kind, line.name)
        row = rows.get((name, line.unit), MaterialTaken(name, 0.0, 0.0, line.unit, Decimal(0)))
        rows[name, line.unit] = row._replace(
            need=row.need + line.need, takes=row.takes + line.expected, cost=row.cost + line.cost_shown
        )
    last = [row for name in (HANDS, WORKSHOP) for row in rows.values() if row.name == name]
    again = _spent_again(snapshots)
    last += [MaterialTaken(AGAIN, 0.0, 0.0, "", again)] if again else []
    return [*sorted((row for row in rows.values() if row not in last), key=lambda row: -row.cost), *last]


def by_operation(snapshots: Iterable[Snapshot]) -> list[OperationShare]:
    """Row for each operation, the dearest first, then what the job shares and work done again.

    The shown cents add up to the cost of the snapshots.
    """
    snapshots = list(snapshots)
    rows: dict[str, OperationShare] = {}
    for line in _lines(snapshots):
        known = REGISTRY.get(line.operation)
        name = SHARED if line.shared else known.name if known else line.operation
        row, cost = rows.get(name, OperationShare(name, 0.0, Decimal(0), Decimal(0))), line.cost_shown
        minutes = line.expected if line.kind == "labour" else 0.0
        used = Decimal(0) if line.is_time else cost
        rows[name] = row._replace(minutes=row.minutes + minutes, used=row.used + used, cost=row.cost + cost)
    last = [rows.pop(SHARED)] if SHARED in rows else []
    again = _spent_again(snapshots)
    last += [OperationShare(AGAIN, 0.0, Decimal(0), again)] if again else []
    return [*sorted(rows.values(), key=lambda row: -row.cost), *last]


def _lines(snapshots: Iterable[Snapshot]) -> Iterator[SnapshotLine]:
    return (line for snapshot in snapshots for line in snapshot.lines)


def _spent_again(snapshots: Iterable[Snapshot]) -> Decimal:
    """What the snapshots carry for steps that are done again now and then."""
    return sum((one.cost_shown for snapshot in snapshots for one in snapshot.again), Decimal(0))


def cost_tree(snapshot: Snapshot) -> Node:
    """Tree of the cost by step; a step's cost is the sum of its lines."""
    by_step: dict[int, list[SnapshotLine]] = {}
    for line in snapshot.lines:
        by_step.setdefault(line.step, []).append(line)
    again = {one.step: one for one in snapshot.again}
    steps = tuple(
        _step(step, by_step.get(step.index, []), snapshot.measures, again.get(step.index)) for step in snapshot.steps
    )
    return Node(
        "Cost",
        cost=snapshot.cost_unrounded,
        shown="" if snapshot.cost is None else str(snapshot.cost),
        how="sum of the steps, as they are expected to come out on average",
        children=steps,
    )


def _step(
    step: PlannedStep, lines: list[SnapshotLine], measures: Mapping[str, MeasureTaken], again: Carried | None
) -> Node:
    """Node of a step, over its lines and what it carries for being done again."""
    taken = tuple(_measure(measures[name]) for name in step.measures if name in measures)
    children = (*(_line(line, taken) for line in lines), *((_again(again),) if again else ()))
    costs: list[SnapshotLine | Carried] = [*lines, again] if again else [*lines]
    shown = str(sum((one.cost_shown for one in costs), Decimal(0)))
    cost = sum(one.cost for one in costs)
    return Node(f"{step.index} {step.title}", cost=cost, shown=shown, how="sum of its lines", children=children)


def _line(line: SnapshotLine, measures: tuple[Node, ...]) -> Node:
    """Node of a line, over its measures, its factor and its price."""
    unit, price = line.unit, line.unit_cost
    parts = [
        Node("Need", line.need, unit, how=line.formula, children=measures),
        factor_node(line.factor)._replace(cell=line.cell),
    ]
    if line.mixes:
        how = f"{line.mixes:.3g} × {line.loss:.3g} {unit}"
        if line.least:
            how += f"; no less than {line.least:.3g} {unit} in all"
        parts.append(Node("Left in cups", line.mixes * line.loss, unit, how=how))
    parts.append(Node("Price", price.value, f"per {price.per}", source=price.source))
    if line.expected != line.use:
        words = "jobs come out above their middle more than below it, and the price carries the mean of all of them"
        parts.insert(-1, Node("Expected", line.expected, unit, how=words, source="from the factor’s range and scatter"))
    how = f"({_how(line)}), as expected, × price"
    return Node(line.name, line.use, unit, line.cost, str(line.cost_shown), how, "", tuple(parts))


def _how(line: SnapshotLine) -> str:
    """Words for how the use of a line comes of its need."""
    how = "need × factor"
    if line.mixes:
        how += " + what stays in the cups"
    if line.whole:
        how += ", in whole pieces"
    elif line.least and not line.mixes:
        how += f", at least {line.least:.2g} {line.unit}"
    return how


def _again(one: Carried) -> Node:
    """Node of what a step carries for being done again now and then."""
    how = (
        f"{one.redone} of {one.done} here {'was' if one.redone == 1 else 'were'} done again; weighed with how your "
        f"other steps went that makes {one.rate * 100:.1f} % of this step’s own materials and minutes"
    )
    return Node(
        f"Done again, {one.redone} of {one.done}",
        cost=one.cost,
        shown=str(one.cost_shown),
        how=how,
        source="the shop’s own jobs",
    )


def factor_node(factor: FactorUsed) -> Node:
    """Node of a usage factor.

    Where something was learned it opens into the trade's default, the shop's own figure and what is used.
    """
    made = factor.learned
    if made is None:
        how = f"usually {factor.low:.2f} to {factor.high:.2f}"
        return Node("Really used over planned", factor.value, how=how, source=factor.source)
    how = shown_in_words(made.trade, made.own, factor.value, made.low, made.high, made.logs, made.counts)
    default = Node(
        "Trade default", made.trade, how=f"usually {made.trade_low:.2f} to {made.trade_high:.2f}",
        source=made.trade_source,
    )  # fmt: skip
    mine = Node("This shop’s own figure", made.own, how=_from(made.logs, made.counts))
    return Node("Really used over planned", factor.value, how=how, source=factor.source, children=(default, mine))


def _from(logs: int, counts: int) -> str:
    """From how much a shop's own figure comes: 7 logs, 3 counts. Counts move what is used, but show no single job."""
    said = [many(logs, "log") if logs else "no log of its own yet"]
    said += [many(counts, "count")] if counts else []
    return ", ".join(said)


def _measure(measure: MeasureTaken) -> Node:
    typed = f"as typed: {measure.typed}" if measure.typed else ""
    return Node(measure.label, measure.value, measure.unit, how=typed, source="measured on the board")
