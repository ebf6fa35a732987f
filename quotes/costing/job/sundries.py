"""What the steps of a job share, lifted off them: gloves, rags, solvent, cups, worn discs on one line of the job.

A stored step marks what it shares as `sundry`; all of it is planned at the first step that takes it. For a job that is
laid on a line of its own, planned and booked once, and each step only says by its need that it uses it too. What is
counted, like a plug or a dowel, stays where it is put in. Plans of before there was a mark stay as they are.
Invariant: what the steps and the line plan adds up to what the steps planned before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from quotes.costing.basis.serving import Plan, own_plans
from quotes.costing.job.merging import added

SUNDRIES = "sundries"  # the operation of that line
TITLE = "Sundries of this job"
Told = tuple[int | None, Plan]  # a plan with the key of its repair, where it is of one alone


def lifted(plans: Sequence[Told]) -> tuple[list[Plan], Plan | None]:
    """The plans of a job's steps without what they share, and the line that has it; None where they share nothing."""
    found: dict[int | None, dict[str, dict[str, Any]]] = {}
    for part, plan in plans:
        for repair, own in own_plans(plan, part):
            _lift(own, found.setdefault(repair, {}))
    lines = {repair: list(shared.values()) for repair, shared in found.items() if shared}
    return [_without(plan) for _, plan in plans], _line(lines) if lines else None


def _lift(own: Plan, shared: dict[str, dict[str, Any]]) -> None:
    """Adds what one repair's step shares to that of the steps before it; the step that plans it says what it is."""
    for line in own.get("materials") or ():
        if line.get("sundry"):
            known = shared.get(line["material"])
            if known is None:
                shared[line["material"]] = {**line, "step": own["index"], "operation": own["operation"]}
            else:
                known["need"] += line["need"]


def _line(lines: Mapping[int | None, Sequence[Mapping[str, Any]]]) -> Plan:
    nothing: dict[str, Any] = {"minutes": 0.0, "does": {}, "mixes": []}
    serves = [{"part": repair, "step": 0, **nothing, "materials": own} for repair, own in lines.items()]
    materials = added(line for own in lines.values() for line in own)
    return {"index": 0, "operation": SUNDRIES, "title": TITLE, "instruction": "", "cautions": [], **nothing,
            "materials": materials, "serves": serves}  # fmt: skip


def _without(plan: Plan) -> Plan:
    serves = [{**one, "materials": _bare(one["materials"])} for one in plan.get("serves") or ()]
    if not serves:
        return {**plan, "materials": _bare(plan.get("materials") or ())}
    return {**plan, "serves": serves, "materials": added(line for one in serves for line in one["materials"])}


def _bare(lines: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    return [{**line, "planned": 0.0, "made_of": None} if line.get("sundry") else line for line in lines]


def taken_part(line: Plan, steps: Iterable[tuple[int | None, Plan, bool]]) -> dict[str, float]:
    """Which part of a line of sundries some of its steps take, by material, 0 to 1: by their part of the need on paper.

    `steps` are all that share it, each with whether it is one of them.
    """
    whole: dict[tuple[int | None, str], float] = defaultdict(float)
    taken: dict[tuple[int | None, str], float] = defaultdict(float)
    for part, plan, counts in steps:
        for repair, own in own_plans(plan, part):
            for one in own.get("materials") or ():
                if one.get("sundry"):
                    whole[repair, one["material"]] += one["need"]
                    taken[repair, one["material"]] += one["need"] if counts else 0.0
    planned: dict[str, float] = defaultdict(float)
    found: dict[str, float] = defaultdict(float)
    for repair, own in own_plans(line, None):
        for one in own["materials"]:
            key, material = (repair, one["material"]), one["material"]
            planned[material] += one["planned"]
            found[material] += one["planned"] * taken[key] / whole[key] if whole[key] > 0 else 0.0
    return {material: found[material] / amount for material, amount in planned.items() if amount > 0}
