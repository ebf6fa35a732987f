"""A job on the bench for tests: the glass-on keels agreed, stock on the shelf."""

from __future__ import annotations

from datetime import datetime, timedelta

from quotes import bench
from quotes.models import Job, Step
from shop.models import User
from shop.platform.acts import Signed
from tests.conftest import NOW


def work_through(job: Job, by: User, *, start: datetime = NOW, stop_before: str = "release") -> datetime:
    """Do every step in turn with the minutes and materials that were planned, waiting where it cures; when it ended."""
    at = start
    while True:
        step = bench.next_step(list(Step.objects.filter(job=job)), at)
        if step is None or step.operation == stop_before:
            return at
        at = max(at, step.earliest_at or at) + timedelta(minutes=max(1, round(step.planned_minutes)))
        bench.finish_step(step=step, minutes=bench.planned_minutes(step), typed=False, signed=Signed(by, at))


def all_ticked(job: Job) -> list[dict[str, object]]:
    return [{"line": line, "ok": True, "reason": ""} for line in bench.release_lines(job)]


def step_of(job: Job, operation: str, number: int = 0) -> Step:
    return job.steps.filter(operation=operation).order_by("position")[number]


RAIL_DING = {"length": "50 mm", "around": "40 mm", "depth": "10 mm"}
