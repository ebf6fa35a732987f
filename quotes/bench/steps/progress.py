"""Steps done one after the other: begun, done with their minutes, opened again, left out, or done again.

Invariant: when what comes before it on each of its repairs is done, and only then, a step gets its window; past it, it
is sanded first. What was really done is never refused because of a plan.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import QuerySet

from quotes.bench.plan.looking import refused_step
from quotes.bench.plan.order import (
    all_following,
    before,
    close_window,
    late,
    on_the_bench,
    open_window,
    waits,
)
from quotes.bench.plan.reserving import reserve_job
from quotes.bench.plan.warmth import temperature_now
from quotes.bench.steps.lateness import sanding_before
from quotes.bench.steps.words import clock_words
from quotes.bench.use.consumption import book_the_rest, lock_planned
from quotes.models import Step, StepTime
from quotes.quoting import shop_day, what_to_do
from quotes.ready_days.outlook import look_again_soon
from shop.models import LabourRate, Overhead, User
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action

SHORTEST = Decimal("0.1")  # min; minutes are kept to a tenth
LONGEST = timedelta(hours=10)  # that nobody spends on one step without a break; our own limit


@action("step.start", *EVERY_ROLE)
def start_step(*, step: Step, signed: Signed, early: bool = False) -> Step:
    """Begin a step. Past its window a sanding step is put in before it, and that one is begun and returned.

    Raises Refused where it must not be done to the board as it is now, and while what is before it still cures, unless
    `early` says that it was tried and is ready.
    """
    job = on_the_bench(step.job)
    step = read_again(step)
    if step.state == Step.State.DOING:
        return step
    if step.state != Step.State.TODO:
        raise Refused(f"This step is {step.get_state_display()}.")
    if refused := refused_step(step, temperature_now(signed.day)):
        raise Refused({"__all__": [*(one.text for one in refused), *what_to_do(refused)]})
    if waits(step, signed.at) and not early:
        raise Refused(
            f"What is under it cures until {clock_words(step.earliest_at)}. Test it; if it is ready, say so and begin."
        )
    if late(step, signed.at):
        step = sanding_before(job, step, signed=signed)
    step.state, step.started_at = Step.State.DOING, signed.at
    step.save(update_fields=["state", "started_at"])
    look_again_soon(at=signed.at)
    signed.record(job, f"Began “{step.title}” on {job.takein.tag}")
    return step


def timed_since(step: Step, at: datetime) -> datetime | None:
    """When a step under way was begun by a tap, for its minutes to count from then. Two queries at most.

    None where a mix began it, which comes late in a step, where it was done before, or was begun too long ago.
    """
    begun = step.started_at
    if step.state != Step.State.DOING or begun is None or not timedelta(0) <= at - begun < LONGEST:
        return None
    if step.times.exists() or step.uses.filter(mix__mixed_at=begun).exists():
        return None
    return begun


def minutes_since(begun: datetime, at: datetime) -> Decimal:
    """Minutes from one moment to another, to a tenth, at least that."""
    spent = Decimal(str((at - begun).total_seconds() / 60)).quantize(SHORTEST, ROUND_HALF_UP)
    return max(spent, SHORTEST)


@action("step.finish", *EVERY_ROLE)
def finish_step(
    *,
    step: Step,
    minutes: Decimal,
    signed: Signed,
    person: User | None = None,
    rest_as_planned: bool = True,
    note: str = "",
    typed: bool = True,
) -> Step:
    """A step done, with the hands-on minutes of a person at the wage and overhead of that day.

    `rest_as_planned` books what is planned for it and not booked yet. `typed` is whether somebody wrote the minutes
    down or timed them; others are what was planned, and teach nothing. Sets the window of the next step.
    Raises Refused.
    """
    minutes = minutes.quantize(SHORTEST, ROUND_HALF_UP)
    if minutes <= 0:
        raise Refused("Minutes must be above zero, like 20.", field="minutes")
    materials = lock_planned(step) if rest_as_planned else {}
    job = on_the_bench(step.job)
    step = read_again(step)
    if step.state == Step.State.DONE:
        raise Refused(f"This step was already done at {clock_words(step.done_at)} by {step.done_by}.")
    if step.state == Step.State.DROPPED:
        raise Refused("This step was left out.")
    if rest_as_planned:
        book_the_rest(step, materials, signed=signed)
    _keep_time(step, person or signed.by, minutes, signed.at, typed)
    step.state, step.done_at, step.done_by = Step.State.DONE, signed.at, person or signed.by
    step.started_at = step.started_at or signed.at - timedelta(minutes=float(minutes))
    step.note = "\n".join(filter(None, [step.note, note.strip()]))[:2000]
    step.save(update_fields=["state", "done_at", "done_by", "started_at", "note"])
    for after in all_following(step):
        if after.state == Step.State.TODO and not _held_up(after, step):
            open_window(after, signed.at)
    reserve_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    signed.record(job, f"Did “{step.title}” on {job.takein.tag}")
    return step


def _held_up(after: Step, step: Step) -> bool:
    """Whether a step waits for other repairs that it serves too, besides those of the one that was just done."""
    others = set(after.repairs) - set(step.repairs)
    return bool(others) and any(one.ahead and not others.isdisjoint(one.repairs) for one in before(after))


@action("step.reopen", *EVERY_ROLE)
def reopen_step(*, step: Step, signed: Signed) -> Step:
    """Undo that a step was done: its minutes are taken back. What was booked on it stays, each with its own undo.

    Raises Refused once the next step of the same repair was begun.
    """
    job = on_the_bench(step.job)
    step = read_again(step)
    if step.state != Step.State.DONE:
        raise Refused(f"This step is {step.get_state_display()}; there is nothing to undo.")
    if _begun_after(step):
        raise Refused("The next step was already begun. Do this one again instead, with its cause.")
    step.times.filter(replaced_at__isnull=True).update(replaced_at=signed.at)
    step.state, step.done_at, step.done_by = Step.State.DOING, None, None
    step.save(update_fields=["state", "done_at", "done_by"])
    for after in all_following(step):
        close_window(after)
    reserve_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    signed.record(job, f"“{step.title}” on {job.takein.tag} is not done yet")
    return step


def _begun_after(step: Step) -> bool:
    """Whether a later step of a repair that this one serves was begun."""
    begun = Step.objects.filter(job=step.job_id, position__gt=step.position)
    begun = begun.filter(state__in=[Step.State.DOING, Step.State.DONE]).only("part", "serves")
    return any(not set(one.repairs).isdisjoint(step.repairs) for one in begun)


def planned_minutes(step: Step) -> Decimal:
    """The minutes planned for a step, to a tenth; one where none are planned, for nothing takes no time."""
    return Decimal(str(step.planned_minutes)).quantize(SHORTEST, ROUND_HALF_UP) or Decimal(1)


def _keep_time(step: Step, person: User, minutes: Decimal, at: datetime, typed: bool) -> StepTime:
    day = shop_day(at)
    wages = LabourRate.objects.filter(from_day__lte=day).order_by("-from_day", "-pk")
    wage = wages.filter(person=person).first() or wages.filter(person__isnull=True).first()
    overhead = Overhead.objects.filter(from_day__lte=day).order_by("-from_day", "-pk").first()
    return StepTime.objects.create(
        step=step,
        person=person,
        minutes=minutes,
        day=day,
        wage_per_hour=wage.wage_per_hour if wage else Decimal(0),
        overhead_per_hour=overhead.per_hour if overhead else Decimal(0),
        typed=typed,
    )


def read_again(step: Step) -> Step:
    """The step as it stands now, with its job and board. One query."""
    rows: QuerySet[Step] = Step.objects.select_related("job__takein__board")
    return rows.get(pk=step.pk)
