"""Past its window a step is sanded first: the sanding that costing works out for its place, put in before it."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from quotes.bench.order import close_window, insert, late, on_the_bench
from quotes.bench.words import clock_words
from quotes.costing import sand_first
from quotes.estimating import construction, core_recipe, read_typed, shop_inputs
from quotes.models import Job, Step
from quotes.quoting import shop_day
from quotes.reserving import reserve_job
from shop.access import EVERY_ROLE
from shop.acts import Refused, may, verb
from shop.journal import record
from shop.models import User

MINUTES = 10.0  # min, 5 to 20; common practice, no source: to key a coat by hand where the recipe names no place


@verb
def put_in_sanding(*, step: Step, by: User, at: datetime) -> Step:
    """A sanding step before one whose window is over; returns the sanding step. Raises Refused if there is no need."""
    may(by, *EVERY_ROLE)
    job = on_the_bench(step.job)
    step = Step.objects.get(pk=step.pk)
    if not late(step, at):
        raise Refused("The window of this step is not over, so it needs no sanding first.")
    return sanding_before(job, step, by=by, at=at)


def sanding_before(job: Job, step: Step, *, by: User, at: datetime) -> Step:
    """Store the sanding step in front of a late one, with the reason; the late one then waits for it."""
    words = f"The window ended {clock_words(step.latest_at)}. {step.plan.get('if_late') or 'Sand it first.'}"
    plan = _plan(step, at)
    sanding = Step(
        part_id=step.part_id,
        operation="sand",
        title=f"Sand before: {step.title}"[:160],
        instruction=" ".join(filter(None, [words, plan.get("instruction")])),
        plan={**plan, "earliest_start_h": 0.0, "latest_start_h": None, "if_late": "", "put_in": "window over"},
        earliest_at=step.earliest_at,
    )
    [sanding] = insert(job, [sanding], before=step)
    close_window(step)
    reserve_job(job=job, at=at)
    said = f"“{step.title}” on {job.takein.tag} is sanded first: its window is over"
    record(by=by, verb="put in sanding", row=job, words=said, at=at)
    return sanding


def _plan(step: Step, at: datetime) -> dict[str, Any]:
    """Minutes, paper and cautions as costing works them out; a plain ten minutes where it has no place to sand."""
    made = None
    if step.part is not None:
        inputs, version = shop_inputs(day=shop_day(at)), step.part.recipe_version
        given, _ = read_typed(core_recipe(version), step.part.measures, volume_system=inputs.volume_system)
        board = construction(step.job.takein)
        try:
            index = int(step.plan.get("index") or 0)
            made = sand_first(
                core_recipe(version), given, inputs.shop, index, board=board, accepted_odd=step.part.accepted_odd
            )
        except ValueError:
            made = None
    steps = made.as_dict()["steps"] if made is not None else []
    return (
        steps[0] if steps else {"operation": "sand", "minutes": MINUTES, "mixes": [], "materials": [], "cautions": []}
    )
