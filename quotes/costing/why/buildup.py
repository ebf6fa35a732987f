"""The tree behind a price: any figure opens into measure, formula in words, factor, source and stock price.

It is read from a snapshot, so that screen, paper and test open the same tree, also years later. Costs are unrounded
inside; what is shown are cents that add up. Invariant: the root of the cost is the rounded sum of its unrounded leaves.
The same cost lies here too by material and by operation, over all repairs of a way.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from typing import Any, NamedTuple

from quotes.costing.basis.words import many
from quotes.costing.learning.model.evidence import shown_in_words
from quotes.costing.operations import REGISTRY
from quotes.costing.parts.usage import POOLED
from quotes.costing.stats.assumptions import MINUTES


class Node(NamedTuple):
    """One figure: its value in a unit or its cost, how it came about in words, where it comes from, what is under it.

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
        """The lowest figures that carry a cost."""
        below = [child for child in self.children if child.cost is not None]
        if not below and self.cost is not None:
            yield self
        for child in below:
            yield from child.leaves()

    def as_dict(self) -> dict[str, Any]:
        """The tree as plain data."""
        return {**self._asdict(), "children": [child.as_dict() for child in self.children]}


class Taken(NamedTuple):
    """What a way takes of one material, or of hands: on paper, as it is expected to be used up, and what that costs."""

    name: str
    need: float
    takes: float
    unit: str
    cost: Decimal


class OperationShare(NamedTuple):
    """One operation over all steps of a way: minutes of hands, what is used at it, and both with overheads in money."""

    name: str
    minutes: float
    used: Decimal
    cost: Decimal


HANDS, WORKSHOP, SHARED, AGAIN = "Hands", "Workshop", "Shared by the whole job", "Work done again"


def by_material(snapshots: Iterable[Mapping[str, Any]]) -> list[Taken]:
    """A row for each material, the dearest first, then hands, workshop and work done again.

    The shown cents add up to the cost of the snapshots.
    """
    snapshots = list(snapshots)
    rows: dict[tuple[str, str], Taken] = {}
    for line in _lines(snapshots):
        name = {"labour": HANDS, "overhead": WORKSHOP}.get(line["kind"], line["name"])
        need, takes = line["need"], line.get("expected", line["use"])["value"]
        row = rows.get((name, need["unit"]), Taken(name, 0.0, 0.0, need["unit"], Decimal(0)))
        rows[name, need["unit"]] = row._replace(
            need=row.need + need["value"], takes=row.takes + takes, cost=row.cost + Decimal(line["cost_shown"])
        )
    last = [row for name in (HANDS, WORKSHOP) for row in rows.values() if row.name == name]
    again = _spent_again(snapshots)
    last += [Taken(AGAIN, 0.0, 0.0, "", again)] if again else []
    return [*sorted((row for row in rows.values() if row not in last), key=lambda row: -row.cost), *last]


def by_operation(snapshots: Iterable[Mapping[str, Any]]) -> list[OperationShare]:
    """A row for each operation, the dearest first, then what the job shares and work done again.

    The shown cents add up to the cost of the snapshots.
    """
    snapshots = list(snapshots)
    rows: dict[str, OperationShare] = {}
    for line in _lines(snapshots):
        known = REGISTRY.get(line["operation"])
        name = SHARED if line["kind"] == "consumable" else known.name if known else line["operation"]
        row, cost = rows.get(name, OperationShare(name, 0.0, Decimal(0), Decimal(0))), Decimal(line["cost_shown"])
        minutes = line.get("expected", line["use"])["value"] if line["kind"] == "labour" else 0.0
        used = cost if line["kind"] in ("material", "consumable") else Decimal(0)
        rows[name] = row._replace(minutes=row.minutes + minutes, used=row.used + used, cost=row.cost + cost)
    last = [rows.pop(SHARED)] if SHARED in rows else []
    again = _spent_again(snapshots)
    last += [OperationShare(AGAIN, 0.0, Decimal(0), again)] if again else []
    return [*sorted(rows.values(), key=lambda row: -row.cost), *last]


def _lines(snapshots: Iterable[Mapping[str, Any]]) -> Iterator[Mapping[str, Any]]:
    return (line for snapshot in snapshots for line in snapshot["lines"])


def _spent_again(snapshots: Iterable[Mapping[str, Any]]) -> Decimal:
    """What the snapshots carry for steps that are done again now and then."""
    shown = (one["cost_shown"] for snapshot in snapshots for one in snapshot.get("again") or ())
    return sum(map(Decimal, shown), Decimal(0))


def cost_tree(snapshot: Mapping[str, Any]) -> Node:
    """The cost by step; a step's cost is the sum of its lines."""
    by_step: dict[int, list[Mapping[str, Any]]] = {}
    for line in snapshot["lines"]:
        by_step.setdefault(line["step"], []).append(line)
    again = {one["step"]: one for one in snapshot.get("again") or ()}
    steps = tuple(
        _step(step, by_step.get(step["index"], []), snapshot["measures"], again.get(step["index"]))
        for step in snapshot["steps"]
    )
    return Node(
        "Cost",
        cost=snapshot["cost_unrounded"],
        shown=snapshot["cost"],
        how="sum of the steps, as they are expected to come out on average",
        children=steps,
    )


def _step(
    step: Mapping[str, Any],
    lines: list[Mapping[str, Any]],
    measures: Mapping[str, Any],
    again: Mapping[str, Any] | None,
) -> Node:
    taken = tuple(_measure(measures[name]) for name in step["measures"] if name in measures)
    children = (*(_line(line, taken) for line in lines), *((_again(again),) if again else ()))
    costs = [*lines, again] if again else lines
    shown = _added([one["cost_shown"] for one in costs])
    cost = sum(one["cost"] for one in costs)
    return Node(f"{step['index']} {step['title']}", cost=cost, shown=shown, how="sum of its lines", children=children)


def _line(line: Mapping[str, Any], measures: tuple[Node, ...]) -> Node:
    need, use, unit_cost, factor = line["need"], line["use"], line["unit_cost"], line["factor"]
    unit = use["unit"]
    parts = [
        Node("Need", need["value"], need["unit"], how=line["formula"], children=measures),
        factor_node(factor)._replace(cell=_cell(line)),
    ]
    if line["mixes"]:
        how = f"{line['mixes']:.3g} × {line['loss']:.3g} {unit}"
        if line["least"]:
            how += f"; no less than {line['least']:.3g} {unit} in all"
        parts.append(Node("Left in cups", line["mixes"] * line["loss"], unit, how=how))
    parts.append(Node("Price", unit_cost["value"], f"per {unit_cost['per']}", source=unit_cost["source"]))
    how = "need × factor"
    if line["mixes"]:
        how += " + what stays in the cups"
    if line["whole"]:
        how += ", in whole pieces"
    elif line["least"] and not line["mixes"]:
        how += f", at least {line['least']:.2g} {unit}"
    expected = line.get("expected", use)["value"]
    if expected != use["value"]:
        words = "jobs come out above their middle more than below it, and the price carries the mean of all of them"
        parts.insert(-1, Node("Expected", expected, unit, how=words, source="from the factor’s range and scatter"))
    return Node(
        line["name"],
        use["value"],
        unit,
        line["cost"],
        line["cost_shown"],
        f"({how}), as expected, × price",
        "",
        tuple(parts),
    )


def _cell(line: Mapping[str, Any]) -> tuple[str, str]:
    if line["kind"] in ("labour", "overhead"):
        return line["operation"], MINUTES
    if line["kind"] == "consumable":
        return POOLED, line["material"]
    return line["operation"], line["moves_with"].partition(":")[2] or line["material"]


def _again(one: Mapping[str, Any]) -> Node:
    """What a step carries for being done again now and then."""
    redone, done = one["redone"], one["done"]
    how = (
        f"{redone} of {done} here {'was' if redone == 1 else 'were'} done again; weighed with how your other steps went "
        f"that makes {one['rate'] * 100:.1f} % of this step’s own materials and minutes"
    )
    return Node(
        f"Done again, {redone} of {done}",
        cost=one["cost"],
        shown=one["cost_shown"],
        how=how,
        source="the shop’s own jobs",
    )


def factor_node(factor: Mapping[str, Any]) -> Node:
    """A usage factor.

    Where something was learned it opens into the trade's default, the shop's own figure and what is used.
    """
    made = factor.get("learned")
    if not made:
        how = f"usually {factor['low']:.2f} to {factor['high']:.2f}"
        return Node("Really used over planned", factor["value"], how=how, source=factor["source"])
    trade, own, logs, counts = (made[name] for name in ("trade", "own", "logs", "counts"))
    how = shown_in_words(trade, own, factor["value"], made["low"], made["high"], logs, counts)
    default = Node(
        "Trade default", trade, how=f"usually {made['trade_low']:.2f} to {made['trade_high']:.2f}",
        source=made["trade_source"],
    )  # fmt: skip
    mine = Node("This shop’s own figure", own, how=_from(logs, counts))
    return Node("Really used over planned", factor["value"], how=how, source=factor["source"], children=(default, mine))


def _from(logs: int, counts: int) -> str:
    """From how much a shop's own figure comes: 7 logs, 3 counts. Counts move what is used, but show no single job."""
    said = [many(logs, "log") if logs else "no log of its own yet"]
    said += [many(counts, "count")] if counts else []
    return ", ".join(said)


def _measure(measure: Mapping[str, Any]) -> Node:
    typed = f"as typed: {measure['typed']}" if measure["typed"] else ""
    return Node(measure["label"], measure["value"], measure["unit"], how=typed, source="measured on the board")


def _added(amounts: list[str]) -> str:
    return str(sum((Decimal(amount) for amount in amounts), Decimal(0)))
