"""What the steps of a job share, lifted off them: gloves, rags, solvent, cups, worn discs on one line of the job.

A planned step marks what it shares as `sundry`; all of it is planned at the first step that takes it. For a job that is
laid on a line of its own, planned and booked once, and each step only says by its need that it uses it too. What is
counted, like a plug or a dowel, stays where it is put in. Plans of before there was a mark stay as they are.
Invariant: what the steps and the line plan adds up to what the steps planned before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from quotes.costing.job.merging import added
from quotes.costing.snapshot import PlannedMaterial, PlannedStep, Serving
from quotes.costing.snapshot.steps import SUNDRIES as SUNDRIES

TITLE = "Sundries of this job"
Told = tuple[int | None, PlannedStep]  # a plan with the key of its repair, where it is of one alone


def lift_sundries(plans: Sequence[Told]) -> tuple[list[PlannedStep], PlannedStep | None]:
    """Plans of a job's steps without what they share, and the line that has it; None where they share nothing."""
    found: dict[int | None, dict[str, PlannedMaterial]] = {}
    for part, plan in plans:
        for repair, own in plan.own(part):
            _lift(own, found.setdefault(repair, {}))
    lines = {repair: tuple(shared.values()) for repair, shared in found.items() if shared}
    return [_without(plan) for _, plan in plans], _line(lines) if lines else None


def _lift(own: PlannedStep, shared: dict[str, PlannedMaterial]) -> None:
    """Add what one repair's step shares to that of the steps before it; the step that plans it says what it is."""
    for one in own.materials:
        if one.sundry:
            known = shared.get(one.material)
            if known is None:
                shared[one.material] = one._replace(step=own.index, operation=own.operation)
            else:
                shared[one.material] = known._replace(need=known.need + one.need)


def _line(lines: Mapping[int | None, tuple[PlannedMaterial, ...]]) -> PlannedStep:
    serves = tuple(Serving(None, repair, 0, 0.0, None, (), own) for repair, own in lines.items())
    materials = added(one for own in lines.values() for one in own)
    return PlannedStep(SUNDRIES, title=TITLE, materials=materials, serves=serves)


def _without(plan: PlannedStep) -> PlannedStep:
    serves = tuple(one._replace(materials=_bare(one.materials)) for one in plan.serves)
    if not serves:
        return replace(plan, materials=_bare(plan.materials))
    return replace(plan, serves=serves, materials=added(one for own in serves for one in own.materials))


def _bare(materials: Iterable[PlannedMaterial]) -> tuple[PlannedMaterial, ...]:
    return tuple(one._replace(planned=0.0, made_of=None) if one.sundry else one for one in materials)


def taken_part(line: PlannedStep, steps: Iterable[tuple[int | None, PlannedStep, bool]]) -> dict[str, float]:
    """Share (0 to 1) of a line of sundries that some of its steps take, by material: their part of the need on paper.

    `steps` are all that share it, each with whether it is one of them.
    """
    whole: dict[tuple[int | None, str], float] = defaultdict(float)
    taken: dict[tuple[int | None, str], float] = defaultdict(float)
    for part, plan, counts in steps:
        for repair, own in plan.own(part):
            for one in own.materials:
                if one.sundry:
                    whole[repair, one.material] += one.need
                    taken[repair, one.material] += one.need if counts else 0.0
    planned: dict[str, float] = defaultdict(float)
    found: dict[str, float] = defaultdict(float)
    for repair, own in line.own(None):
        for one in own.materials:
            key = repair, one.material
            planned[one.material] += one.planned
            found[one.material] += one.planned * taken[key] / whole[key] if whole[key] > 0 else 0.0
    return {material: found[material] / amount for material, amount in planned.items() if amount > 0}
