"""Before hands do it: whether a step may still be done to the board as it is now, and as warm as the shop is now.

Real use is never refused. What must not be done is not begun and its dose is not told; what was done is booked all the
same.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from decimal import Decimal

from django.db.models import Exists, OuterRef

from quotes.costing import REGISTRY, CoreMaterial, Now, PlannedStep, Refusal, look_again
from quotes.models import Job, Step
from quotes.quoting import conditions_now, taken_by

DRYING = tuple(key for key, operation in REGISTRY.items() if operation.dries)
NO_MATERIALS: Mapping[str, CoreMaterial] = {}


def refused_ahead(job: Job, warmth: Decimal | None = None) -> dict[int, tuple[Refusal, ...]]:
    """By step still ahead: why it must not be done, once all before it is done as planned. Three queries.

    `warmth` is what was read at the bench today in °C, None where nobody has said. Steps that may be done are left out.
    """
    steps = _standing(job.steps.order_by("position"))
    found = _looked(steps, conditions_now(job.takein, warmth=warmth), taken_by([step.planned for step in steps]))
    return {step.pk: found[step.pk] for step in steps if step.ahead and found.get(step.pk)}


def refused_step(step: Step, warmth: Decimal | None = None) -> tuple[Refusal, ...]:
    """Why a step ahead must not be done now, after what was really done before it; empty if it may. Three queries."""
    if not step.ahead:
        return ()
    steps = _standing(Step.objects.filter(job=step.job_id).order_by("position"))
    materials = taken_by([step.planned])
    return _looked(steps, conditions_now(step.job.takein, warmth=warmth), materials, only_done=True).get(step.pk, ())


def refused_alone(plan: PlannedStep, now: Now, *, dried: bool) -> tuple[Refusal, ...]:
    """Why a step must not be done now, by its own plan alone, for pages of many jobs: no query.

    What lies under it is not asked.
    """
    [found] = look_again([plan], now, NO_MATERIALS, dry=dried)
    return found


def dried() -> Exists:
    """For rows of steps: whether the wet core of their board was dried in a step of its own."""
    return Exists(Step.objects.filter(job=OuterRef("job"), operation__in=DRYING, state=Step.State.DONE))


def _standing(steps: Iterable[Step]) -> list[Step]:
    return [step for step in steps if step.state != Step.State.DROPPED]


def _looked(
    steps: list[Step], now: Now, materials: Mapping[str, CoreMaterial], *, only_done: bool = False
) -> dict[int, tuple[Refusal, ...]]:
    """Each repair by itself, a step over all that it serves; a core dried in one repair is dry for all.

    `only_done` counts nothing that is ahead.
    """
    dry = any(step.operation in DRYING and step.state == Step.State.DONE for step in steps)
    repairs: dict[int | None, list[tuple[Step, PlannedStep]]] = {}
    for step in steps:
        for repair, plan in step.own_plans:
            repairs.setdefault(repair, []).append((step, plan))
    found: dict[int, tuple[Refusal, ...]] = {}
    for rows in repairs.values():
        ahead: Collection[int] = {at for at, (step, _) in enumerate(rows) if step.ahead} if only_done else ()
        refused = look_again([plan for _, plan in rows], now, materials, dry=dry, not_done=ahead)
        for (step, _), refusals in zip(rows, refused, strict=True):
            found[step.pk] = tuple(dict.fromkeys((*found.get(step.pk, ()), *refusals)))
    return found
