"""The order of a job's steps: which may be done now, which waits for resin, and how new ones find their place.

Idea: steps of one repair (a part of the way) wait for each other in turn; repairs on one board run side by side, and a
step that is done for several of them together waits for each. So a step still ahead that no other of its repairs goes
before is a *head*, and a job waits only if every head waits.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import datetime, timedelta

from django.db.models import F

from quotes.bench.plan.warmth import temperature_now, windows_of
from quotes.models import Job, Step
from quotes.quoting import shop_day
from shop.platform.acts import Refused

_FAR = 1_000_000  # moves positions out of the way of each other; a job never has so many steps


def heads(steps: Iterable[Step]) -> list[Step]:
    """The steps still ahead that come first in each repair they serve, in the order they stand."""
    first: list[Step] = []
    met: set[int | None] = set()
    for step in sorted((step for step in steps if step.ahead), key=lambda step: step.position):
        if met.isdisjoint(step.repairs):
            first.append(step)
        met.update(step.repairs)
    return first


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
    """Set from when and until when a step may be begun, in a shop as warm as it is on the day of `at`.

    The one before is done at `at`; a step that serves several repairs waits for what was done last on each.
    """
    celsius = temperature_now(shop_day(at))
    ends = _ends(step, at)
    starts, untils = [], []
    for repair, window in windows_of(step, celsius).items():
        done = ends.get(repair, at)
        starts.append(done + timedelta(hours=window.earliest))
        if window.latest is not None:
            untils.append(done + timedelta(hours=window.latest))
    step.earliest_at = max(starts)
    step.latest_at = max(min(untils), step.earliest_at) if untils else None
    step.save(update_fields=["earliest_at", "latest_at"])


def _ends(step: Step, at: datetime) -> dict[int | None, datetime]:
    """When the last step before this one was done, of each repair it serves where there are several."""
    if len(step.repairs) == 1:
        return {}
    done = Step.objects.filter(job=step.job_id, position__lt=step.position, state=Step.State.DONE)
    found: dict[int | None, datetime] = {}
    for before in done.only("part", "serves", "position", "done_at").order_by("position"):
        found |= dict.fromkeys(before.repairs, before.done_at or at)
    return found


def close_window(step: Step) -> None:
    """The step waits for another one again."""
    step.earliest_at = step.latest_at = None
    step.save(update_fields=["earliest_at", "latest_at"])


def all_following(step: Step) -> list[Step]:
    """Of each repair that a step serves the next one still ahead, each once, in order. One query."""
    behind = Step.objects.filter(job=step.job_id, position__gt=step.position).ahead().order_by("position")
    first: dict[int | None, Step] = {}
    for after in behind:
        for repair in after.repairs:
            if repair in step.repairs:
                first.setdefault(repair, after)
    return list({after.pk: after for after in first.values()}.values())


def following(step: Step) -> Step | None:
    """The next step of the same repairs that is still ahead. One query."""
    return next(iter(all_following(step)), None)


def before(step: Step) -> list[Step]:
    """What comes before a step on any repair that it serves, in order, whatever became of it. One query."""
    rows = Step.objects.filter(job=step.job_id, position__lt=step.position).order_by("position")
    return [row for row in rows if not set(row.repairs).isdisjoint(step.repairs)]


def insert(job: Job, steps: Sequence[Step], *, before: Step | None) -> list[Step]:
    """Store new steps in front of `before`, or at the end; those behind move along. Returns them stored."""
    there = Step.with_sundries.filter(job=job)
    if before is None:
        last = there.order_by("-position").values_list("position", flat=True).first() or 0
        position = last + 1
    else:
        position = Step.objects.values_list("position", flat=True).get(pk=before.pk)
        there.filter(position__gte=position).update(position=F("position") + _FAR)
        there.filter(position__gte=_FAR).update(position=F("position") - _FAR + len(steps))
    for number, step in enumerate(steps):
        step.job, step.position = job, position + number
    made: list[Step] = Step.objects.bulk_create(steps)
    return made


def locked(job: Job) -> Job:
    """The job's fresh row, locked; materials, if any are moved, are locked before it."""
    return Job.objects.select_for_update().get(pk=job.pk)


def on_the_bench(job: Job) -> Job:
    """The locked job. Raises Refused unless it is still being worked on."""
    job = locked(job)
    if not job.on_the_bench:
        raise Refused(f"This job is {job.get_state_display()}; nothing more is done on it.")
    return job
