"""Past its window a step is sanded first: the sanding that costing works out for its place, put in before it."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from quotes.bench.plan.order import close_window, insert
from quotes.bench.plan.reserving import reserve_job
from quotes.bench.steps.words import clock_words
from quotes.costing import CoreDamage, PlannedStep, sand_first
from quotes.estimating import Inputs, construction, core_recipe, read_typed, shop_inputs
from quotes.models import Job, Step, WayPart
from quotes.quoting import shop_day
from quotes.ready_days.outlook import look_again_soon
from shop.platform.acts import Signed

MINUTES = 10.0  # min, 5 to 20; common practice, no source: to key a coat by hand where the recipe names no place


def sanding_before(job: Job, step: Step, *, signed: Signed) -> Step:
    """Store the sanding step in front of a late one, with the reason; the late one then waits for it."""
    words = f"The window ended {clock_words(step.latest_at)}. {step.planned.if_late or 'Sand it first.'}"
    plan = _plan(step, signed.at)
    put_in = replace(plan, earliest_start_h=0.0, latest_start_h=None, if_late="", put_in="window over")
    sanding = Step(
        part_id=step.part_id,
        serves=step.serves,
        operation="sand",
        title=f"Sand before: {step.title}"[:160],
        instruction=" ".join(filter(None, [words, plan.instruction])),
        plan=put_in.to_json(),
        earliest_at=step.earliest_at,
    )
    [sanding] = insert(job, [sanding], before=step)
    close_window(step)
    reserve_job(job=job, at=signed.at)
    look_again_soon(at=signed.at)
    said = f"“{step.title}” on {job.takein.tag} is sanded first: its window is over"
    signed.record(job, said, key="step.sanding")
    return sanding


def _plan(step: Step, at: datetime) -> PlannedStep:
    """Minutes, paper and cautions as costing works them out; a plain ten minutes where it has no place to sand."""
    inputs, own = shop_inputs(day=shop_day(at)), dict(step.own_plans)
    parts = list(WayPart.objects.filter(pk__in=[key for key in own if key]).select_related("recipe_version__recipe"))
    late = [(_damage(part, inputs), own[part.pk].index) for part in parts]
    try:
        made = sand_first(late, inputs.shop, board=construction(step.job.takein))
    except ValueError:
        return PlannedStep("sand", minutes=MINUTES, keeps_waits=False)
    [plan] = made.planned_steps([damage.name for damage in made.damages])
    serves = tuple(one._replace(part=int(made.damages[one.damage or 0].key)) for one in plan.serves)
    return replace(plan, serves=serves if step.serves else ())


def _damage(part: WayPart, inputs: Inputs) -> CoreDamage:
    """A repair as it is asked about."""
    recipe = core_recipe(part.recipe_version)
    given, _ = read_typed(recipe, part.measures, volume_system=inputs.volume_system)
    return CoreDamage(str(part.pk), recipe.name, recipe, given, part.accepted_odd)
