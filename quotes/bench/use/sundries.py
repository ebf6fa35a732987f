"""The sundries of a job: planned on a line of its own and booked once.

They are booked with the release check as planned, before it in amounts that somebody said, or, where the work stops or
another way is agreed, as much as the steps begun took of them.
Locks: materials first, by `lock_sundries`, then the job.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from uuid import uuid4

from inventory.models import Material
from inventory.stock import ledger
from quotes import experience
from quotes.bench.plan.reserving import reserve_job
from quotes.bench.use.consumption import NOTHING, book, lock_planned, planned_and_used
from quotes.costing.job.sundries import SUNDRIES, taken_part
from quotes.models import Job, Step, StepUse
from shop.measures import units
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action

LEAST_SAID = 0.1  # of a piece


def sundries_of(job: Job) -> list[Step]:
    """The lines of sundries of a job: its own, then those of work that was agreed later. One query."""
    return list(
        Step.with_sundries.filter(job=job, operation=SUNDRIES).select_related("job", "part__way").order_by("pk")
    )


def sundries_in_words(line: Step, locale: str = "en") -> str:
    """What is planned of a line of sundries, like 2.1 × gloves; 80 mL acetone. A hint of a bag is not worth saying."""
    worth = [one for one in line.planned.materials if one.unit != "piece" or one.planned >= LEAST_SAID]
    return "; ".join(f"{_amount(one.planned, one.unit, locale)} {one.name}" for one in worth)


def _amount(planned: float, unit: str, locale: str) -> str:
    if unit == "piece":
        return f"{planned:.2f}".rstrip("0").rstrip(".") + " ×"
    return units.show(planned, unit, locale=locale)


def lock_sundries(job: Job) -> dict[str, Material]:
    """Lock all that the lines of sundries not booked yet plan, before the job is locked; by key."""
    keys = {key for step in _ahead(job) for key in step.planned.takes}
    return {row.key: row for row in ledger.lock(Material.objects.filter(key__in=keys)).values()}


def _ahead(job: Job) -> list[Step]:
    lines = Step.with_sundries.filter(job=job, operation=SUNDRIES).ahead()
    return list(lines.select_related("job__takein").order_by("pk"))


@action("use.sundries", *EVERY_ROLE)
def book_sundries(*, line: Step, amounts: Mapping[str, Decimal], signed: Signed) -> list[StepUse]:
    """Book the sundries of a job in one tap, which is undone in one; once for the whole job.

    `amounts` by key, in the material's unit: what is there as it was planned is booked so and teaches nothing, other
    amounts do, and of zero nothing is booked. Raises Refused below zero and where all of it is booked already.
    """
    lock_planned(line)
    Job.objects.select_for_update().get(pk=line.job_id)
    line = Step.with_sundries.select_related("job__takein").get(pk=line.pk, operation=SUNDRIES)
    left = [one for one in planned_and_used(line) if one.left]
    if not left:
        raise Refused("The sundries of this job are booked already: undo them first, or correct one of them.")
    uses, tap = [], uuid4()
    for one in left:
        amount = amounts.get(one.material.key, one.left)
        if amount < 0:
            raise Refused(f"How much {one.material.name} must not be below zero.", field=one.material.key)
        if amount > 0:
            as_planned = amount == one.left
            uses.append(book(line, one.material, amount, signed=signed, as_planned=as_planned, tap=tap))
    _close(line, signed)
    reserve_job(job=line.job, at=signed.at)
    if not line.job.on_the_bench:
        experience.mark_stale(at=signed.at)
    said = ", ".join(f"{units.show(use.used, use.material.unit)} {use.material.name}" for use in uses) or "none"
    signed.record(line.job, f"Sundries of {line.job.takein.tag}: {said}"[:400])
    return uses


def book_as_planned(job: Job, materials: Mapping[str, Material], *, signed: Signed) -> None:
    """The lines of sundries that were not booked yet, as planned; their `materials` are locked."""
    for line in _ahead(job):
        _book(line, {one.material.key: one.left for one in planned_and_used(line)}, materials, signed)


def book_what_was_used(job: Job, materials: Mapping[str, Material], *, signed: Signed) -> None:
    """Of the lines not booked yet as much as the steps begun took; their `materials` are locked."""
    worked = [step for step in job.steps.filter(redo_of=None) if not step.planned.put_in]
    steps = [(step.part_id, step.planned, step.state in (Step.State.DOING, Step.State.DONE)) for step in worked]
    for line in _ahead(job):
        used = taken_part(line.planned, steps)
        open_ = [one.material for one in planned_and_used(line) if one.left]
        _book(line, {row.key: _planned(line, row, used[row.key]) for row in open_}, materials, signed)


def _planned(line: Step, material: Material, part: float) -> Decimal:
    planned = sum(one.planned for one in line.planned.materials if one.material == material.key)
    return units.to_step(Decimal(str(planned * part)), material.unit)


def _book(line: Step, amounts: Mapping[str, Decimal], materials: Mapping[str, Material], signed: Signed) -> None:
    tap = uuid4()
    for key, amount in amounts.items():
        if amount > NOTHING and key in materials:
            book(line, materials[key], amount, signed=signed, as_planned=True, tap=tap)
    _close(line, signed)


def _close(line: Step, signed: Signed) -> None:
    """Nothing of it is still to come."""
    line.state, line.done_at, line.done_by = Step.State.DONE, signed.at, signed.by
    line.save(update_fields=["state", "done_at", "done_by"])
