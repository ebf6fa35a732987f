"""The last steps of a job: the release check, ready to collect, and picked up."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any, NamedTuple

from quotes import experience
from quotes.bench.job.charges import agreed_total, on_account
from quotes.bench.plan.order import locked, waits
from quotes.bench.plan.reserving import release_job
from quotes.bench.steps.progress import finish_step, planned_minutes
from quotes.bench.use.sundries import book_as_planned, lock_sundries
from quotes.models import Extra, Invoice, Job, Step
from quotes.ready_days.outlook import look_again_soon
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused, Signed, action

RELEASE = "release"  # the operation whose step is the release check itself

# Looked at before any board leaves, where its recipes name no list of their own; common practice, no source.
RELEASE_CHECK = (
    "Repair pressed all over: hard, no soft spot",
    "Colour and sheen beside the old",
    "No sharp edge, no pinhole",
    "What was left with the board lies with it",
)


class Can(NamedTuple):
    """Whether a button does anything now, and if not, why."""

    yes: bool
    why: str = ""

    def __bool__(self) -> bool:
        return self.yes


def can_start(step: Step, at: datetime) -> Can:
    """Whether hands may begin a step, as `start_step` decides it without `early`."""
    if step.state != Step.State.TODO:
        return Can(False, f"This step is {step.get_state_display()}.")
    return Can(not waits(step, at), "What is under it still cures." if waits(step, at) else "")


def release_lines(job: Job) -> list[str]:
    """The lines of the release check: those of the recipes done, each once, otherwise the shop's own list."""
    lists = [part.estimate.release_check for part in job.repairs_done()]
    found = list(dict.fromkeys(line for lines in lists for line in lines))
    return found or list(RELEASE_CHECK)


def can_finish_job(job: Job) -> Can:
    """Whether the release check can be made, as `finish_job` decides it."""
    if not job.on_the_bench:
        return Can(False, f"This job is {job.get_state_display()}.")
    open_extras = [extra for extra in job.extras.all() if extra.open]
    if open_extras:
        return Can(False, f"“{open_extras[0].words}” has no answer yet.")
    ahead = [step for step in job.steps.all() if step.ahead]
    left = [step for step in ahead if step.operation != RELEASE]
    if left:
        many = f"{len(ahead)} steps are" if len(ahead) > 1 else "One step is"
        return Can(False, f"{many} still ahead, first “{left[0].title}”. Do them, or say why they are not needed.")
    return Can(True)


@action("job.finish", *EVERY_ROLE)
def finish_job(*, job: Job, checks: Sequence[Mapping[str, Any]], signed: Signed, minutes: Decimal | None = None) -> Job:
    """The release check made and the board ready to collect. A line that is not ticked needs a reason.

    Sundries that were not booked yet are booked as planned. `checks` holds {"line", "ok", "reason"} for each of
    `release_lines`; `minutes` are those of the check itself, by default as planned. Raises Refused, with `reason_N` as
    the field of line N.
    """
    sundries = lock_sundries(job)
    job = locked(job)
    can = can_finish_job(job)
    if not can:
        raise Refused(can.why)
    kept = _checked(job, checks)
    for step in job.steps.ahead().filter(operation=RELEASE):
        spent = minutes if minutes is not None else planned_minutes(step)
        finish_step(step=step, minutes=spent, signed=signed, typed=minutes is not None)
    book_as_planned(job, sundries, signed=signed)
    job.release_check, job.state, job.finished_at = kept, Job.State.FINISHED, signed.at
    job.save(update_fields=["release_check", "state", "finished_at"])
    release_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    signed.record(job, f"{job.takein.tag} is ready to collect")
    experience.learn_or_mark(at=signed.at)
    return job


def _checked(job: Job, checks: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    given = {str(check["line"]): check for check in checks}
    wrong: dict[str, list[str]] = {}
    kept = []
    for number, line in enumerate(release_lines(job)):
        check = given.get(line, {})
        ok, reason = bool(check.get("ok")), str(check.get("reason") or "").strip()
        if not ok and not reason:
            wrong[f"checks.{number}"] = [f"“{line}” is not ticked: tick it, or say why it is good as it is."]
        kept.append({"line": line, "ok": ok, "reason": reason[:200]})
    if wrong:
        raise Refused(wrong)
    return kept


def can_pick_up(job: Job) -> Can:
    """Whether the board may leave, as `pick_up` decides it apart from what is owed."""
    if job.state == Job.State.PICKED_UP:
        return Can(False, "This board was picked up already.")
    if job.state == Job.State.OPEN:
        return Can(False, "The work is not finished: make the release check first.")
    if job.invoices.standing().exists() or agreed_total(job) == 0:
        return Can(True)
    return Can(False, "There is no invoice yet: issue it first, or say that nothing is charged.")


def owed(job: Job) -> Decimal:
    """What is still to be paid, on the job's invoice or without one, with tax; below zero is to be paid back."""
    invoice = standing_invoice(job)
    return invoice.left if invoice is not None else agreed_total(job) - on_account(job)


@action("job.pick_up", *SEES_MONEY)
def pick_up(*, job: Job, signed: Signed, owing_ok: bool = False) -> Job:
    """The board goes home. `owing_ok` says yes to a balance that is still open. Picking up twice is once.

    Raises Refused without an invoice where something is charged, and once for an open balance (field `owing_ok`).
    """
    job = locked(job)
    if job.state == Job.State.PICKED_UP:
        return job
    can = can_pick_up(job)
    if not can:
        raise Refused(can.why)
    left = owed(job)
    if left and not owing_ok:
        said = f"{left:.2f} is still to be paid" if left > 0 else f"{-left:.2f} is still to be paid back"
        raise Refused(f"{said}. Tick the box if the board leaves all the same.", field="owing_ok")
    job.state, job.picked_up_at = Job.State.PICKED_UP, signed.at
    job.save(update_fields=["state", "picked_up_at"])
    others = job.takein.jobs.exclude(state=Job.State.PICKED_UP)
    if not others.exists():
        job.takein.gone_at = signed.at
        job.takein.save(update_fields=["gone_at"])
    said = f", {left:.2f} still open" if left else ""
    signed.record(job, f"{job.takein.tag} was picked up{said}")
    return job


def open_extras(job: Job) -> list[Extra]:
    """What turned up and has no answer yet."""
    return [extra for extra in job.extras.all() if extra.open]


def standing_invoice(job: Job) -> Invoice | None:
    """The job's invoice that still stands, with its balance; None before it is issued or once credited."""
    return job.invoices.standing().first()
