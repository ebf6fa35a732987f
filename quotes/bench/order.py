"""The order of a job's steps: which may be done now, which waits for resin, and how new ones find their place.

Idea: steps of one repair (a part of the way) wait for each other in turn; repairs on one board run side by side. So the
first step still ahead in each repair is a *head*, and a job waits only if every head waits.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db.models import F

from quotes.bench.warmth import temperature_now, window_of
from quotes.models import Job, Step
from quotes.quoting import shop_day
from shop.acts import Refused

_FAR = 1_000_000  # moves positions out of the way of each other; a job never has so many steps


def heads(steps: Iterable[Step]) -> list[Step]:
    """The first step still ahead of each repair, in the order they stand."""
    first: dict[int | None, Step] = {}
    for step in sorted((step for step in steps if step.ahead), key=lambda step: step.position):
        first.setdefault(step.part_id, step)
    return sorted(first.values(), key=lambda step: step.position)


def waits(step: Step, at: datetime) -> bool:
    """The resin, foam or paint before it still needs time."""
    return step.state == Step.State.TODO and step.earliest_at is not None and step.earliest_at > at


def late(step: Step, at: datetime) -> bool:
    """Its window is over and it was not begun."""
    return step.state == Step.State.TODO and step.latest_at is not None and step.latest_at < at


def next_step(steps: Iterable[Step], at: datetime) -> Step | None:
    """What hands should do next; None when nothing is ahead.

    What is under way first, then what has a window running, then in order, then what waits least.
    """
    first = heads(steps)
    if not first:
        return None

    def urgency(step: Step) -> tuple[int, datetime, int]:
        if step.state == Step.State.DOING:
            return 0, at, step.position
        if waits(step, at):
            return 3, step.earliest_at or at, step.position
        if step.latest_at is not None and not late(step, at):
            return 1, step.latest_at, step.position
        return 2, at, step.position

    return min(first, key=urgency)


def open_window(step: Step, at: datetime) -> None:
    """Set from when and until when a step may be begun, the one before done at `at`, in a shop as warm as that day."""
    window = window_of(step, temperature_now(shop_day(at)))
    step.earliest_at = at + timedelta(hours=window.earliest)
    step.latest_at = None if window.latest is None else at + timedelta(hours=window.latest)
    step.save(update_fields=["earliest_at", "latest_at"])


def close_window(step: Step) -> None:
    """The step waits for another one again."""
    step.earliest_at = step.latest_at = None
    step.save(update_fields=["earliest_at", "latest_at"])


def following(step: Step) -> Step | None:
    """The next step of the same repair that is still ahead."""
    same = Step.objects.filter(job=step.job_id, part=step.part_id, position__gt=step.position)
    return same.ahead().order_by("position").first()


def insert(job: Job, steps: Sequence[Step], *, before: Step | None) -> list[Step]:
    """Store new steps in front of `before`, or at the end; those behind move along. Returns them stored."""
    if before is None:
        last = job.steps.order_by("-position").values_list("position", flat=True).first() or 0
        position = last + 1
    else:
        position = Step.objects.values_list("position", flat=True).get(pk=before.pk)
        behind = job.steps.filter(position__gte=position)
        behind.update(position=F("position") + _FAR)
        job.steps.filter(position__gte=_FAR).update(position=F("position") - _FAR + len(steps))
    for number, step in enumerate(steps):
        step.job, step.position = job, position + number
    return Step.objects.bulk_create(steps)


def locked(job: Job) -> Job:
    """The job's fresh row, locked; materials, if any are moved, are locked before it."""
    return Job.objects.select_for_update().get(pk=job.pk)


def on_the_bench(job: Job) -> Job:
    """The locked job. Raises Refused unless it is still being worked on."""
    job = locked(job)
    if not job.on_the_bench:
        raise Refused(f"This job is {job.get_state_display()}; nothing more is done on it.")
    return job
