"""Steps left out, and steps done again."""

from __future__ import annotations

from collections.abc import Sequence

from django.db.models import QuerySet

from quotes.bench.plan.order import (
    all_following,
    before,
    close_window,
    insert,
    locked,
    on_the_bench,
    open_window,
)
from quotes.bench.plan.reserving import reserve_job
from quotes.bench.steps.progress import read_again
from quotes.models import Cause, Extra, Job, Step
from quotes.ready_days.outlook import look_again_soon
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action


@action("step.drop", *EVERY_ROLE)
def drop_step(*, step: Step, reason: str, signed: Signed) -> Step:
    """A step that is not needed, with the reason. The next one may be begun when this one could have been."""
    if not reason.strip():
        raise Refused("Reason is empty; say why this step is not needed.", field="reason")
    job = on_the_bench(step.job)
    step = read_again(step)
    if not step.ahead:
        raise Refused(f"This step is {step.get_state_display()}.")
    step.state = Step.State.DROPPED
    step.note = "\n".join(filter(None, [step.note, f"Left out: {reason.strip()}"]))[:2000]
    step.save(update_fields=["state", "note"])
    _open_after_dropping(step)
    reserve_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    signed.record(job, f"Left out “{step.title}”: {reason.strip()}")
    return step


def _open_after_dropping(step: Step) -> None:
    """The next steps take their window from what was done last, or may be begun at once."""
    for after in all_following(step):
        gone_before = before(after)
        if after.state == Step.State.TODO and not any(one.ahead for one in gone_before):
            _open_next(step, after, [one for one in gone_before if one.state == Step.State.DONE])


def _open_next(step: Step, after: Step, done: Sequence[Step]) -> None:
    if not done or done[-1].done_at is None:
        close_window(after)
    elif step.earliest_at is not None:  # what the dropped one had to wait for still cures
        after.earliest_at = max(step.earliest_at, done[-1].done_at)
        after.latest_at = None
        after.save(update_fields=["earliest_at", "latest_at"])
    else:
        open_window(after, done[-1].done_at)


@action("step.redo", *EVERY_ROLE)
def redo_step(*, step: Step, cause: str, billed: bool, reason: str, signed: Signed) -> Step:
    """A done step to be done again, with whose fault it was and why; returns the new step, which comes next.

    `billed` notes an extra for the counter to price. A finished job is open again. Raises Refused.
    """
    if cause not in Cause.values:
        raise Refused("Cause is empty; say whose it was: ours, an earlier repairer's, the material's.", field="cause")
    if not reason.strip():
        raise Refused("Reason is empty; say what went wrong, like pinholes in the hot coat.", field="reason")
    job = locked(step.job)
    if job.state not in (Job.State.OPEN, Job.State.FINISHED) or job.invoices.standing().exists():
        raise Refused("This job was invoiced or has ended. What is done again now is a comeback: take it in again.")
    step = read_again(step)
    if step.state != Step.State.DONE:
        raise Refused(f"Only what was done can be done again; this step is {step.get_state_display()}.")
    after = all_following(step)
    again = Step(
        part_id=step.part_id,
        serves=step.serves,
        operation=step.operation,
        title=step.title,
        instruction=step.instruction,
        plan=step.plan,
        note=f"Again: {reason.strip()}"[:2000],
        redo_of=step,
        redo_cause=cause,
        redo_billed=billed,
    )
    [again] = insert(job, [again], before=after[0] if after else _behind(step))
    for one in after:
        close_window(one)
    if billed:
        words = f"{step.title} again: {reason.strip()}"
        Extra.objects.create(job=job, words=words[:400], found_at=signed.at, found_by=signed.by)
    if job.state == Job.State.FINISHED:
        job.state, job.finished_at = Job.State.OPEN, None
        job.save(update_fields=["state", "finished_at"])
    reserve_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    words = f"“{step.title}” on {job.takein.tag} is done again ({again.get_redo_cause_display()}): {reason.strip()}"
    signed.record(job, words)
    return again


def _behind(step: Step) -> Step | None:
    behind: QuerySet[Step] = Step.objects.filter(job=step.job_id, position__gt=step.position)
    return behind.order_by("position").first()
