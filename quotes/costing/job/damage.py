"""Works a recipe out for one board: measures → places → needs → expected use → cost → price, with the steps to do it.

Nothing is guessed: what is missing or must not be done becomes a Problem, and while there is one there is no money.
Invariant: cost is the rounded sum of the unrounded lines and of what is carried for work done again; what the steps
plan to use adds up to what the lines charge.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from typing import Any

from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.places import build_places
from quotes.costing.job.estimated import Estimate
from quotes.costing.job.sharing import WorkedDamage, lines_of
from quotes.costing.money.pricing import earned_per_hour, price
from quotes.costing.parts.inputs import Construction, Shop
from quotes.costing.parts.measures import Given, read_measures
from quotes.costing.parts.refusals import refusals_in_order
from quotes.costing.parts.result import CostLine
from quotes.costing.parts.rework_allowance import ReworkAllowance, rework_allowances
from quotes.costing.recipes.layers import CLEAR_THIN, wrong_meetings
from quotes.costing.recipes.recipe import CoreRecipe, as_problem
from quotes.costing.snapshot import Problem
from quotes.costing.steps.operation import Compiled
from quotes.costing.steps.windows import WindowedStep, set_windows
from quotes.costing.steps.work import Bench, Gap, Work
from shop.measures.apportion import whole_numbers

UNKNOWN_BOARD = Construction()


def estimate(
    recipe: CoreRecipe,
    measures: Mapping[str, Given | float],
    shop: Shop,
    *,
    board: Construction = UNKNOWN_BOARD,
    accepted_odd: Collection[str] = (),
) -> Estimate:
    """Estimate of a recipe with these measures (canonical units), this shop's prices and figures, on this board.

    `accepted_odd` names measures beyond the plausible that the person said are right. Missing things are `problems` of
    the result, not errors.
    """
    worked = work_out(recipe, measures, shop, board=board, accepted_odd=accepted_odd)
    return finished(worked, shop, lines_of([worked], shop)[0])


def work_out(
    recipe: CoreRecipe,
    measures: Mapping[str, Given | float],
    shop: Shop,
    *,
    board: Construction = UNKNOWN_BOARD,
    accepted_odd: Collection[str] = (),
) -> WorkedDamage:
    """Steps of one damage with what each takes by itself, before anything is shared; see `estimate`.

    Measures come in canonical units (mm, cm², mL, g, min, °C).
    """
    values, found = read_measures(recipe.measures, measures, accepted_odd)
    problems = [*recipe.found_problems, *shop.problems, *found]
    if problems:
        return WorkedDamage(recipe, values, [], problems)
    numbers = {name: given.value for name, given in values.items()}
    steps: list[WindowedStep] = []
    done = [(index, act, act.resolved(shop.figures, numbers)) for index, act in enumerate(recipe.compiled, 1)
            if not act.when or numbers[act.when]]  # fmt: skip
    doings = [act.operation.doing(settings, board, shop.materials, recipe.roots) for _, act, settings in done]
    bench = Bench(shop, board, build_places(recipe.places, numbers, shop.figures))
    for (index, act, settings), doing, refusals in zip(done, doings, refusals_in_order(doings, board), strict=True):
        if refusals:
            problems += [as_problem(refusal, act.operation.key, index) for refusal in refusals]
            continue
        work = _worked_out(bench, index, act, settings)
        if work is not None:
            steps.append(WindowedStep(work, len(steps) + 1, act, doing))
    if recipe.meetings:
        problems += _layers(recipe, numbers, shop)
    problems += bench.problems
    return WorkedDamage.of(recipe, values, steps, problems, shop)


def _layers(recipe: CoreRecipe, numbers: Mapping[str, float], shop: Shop) -> list[Problem]:
    """Problems with what lies on what, of the steps that these measures leave in, by the shop's own figures."""

    def there(number: int) -> bool:
        when = recipe.acts[number - 1].when
        return not when or bool(numbers[when])

    def film_um(number: int) -> float:
        told = recipe.compiled[number - 1].resolved(shop.figures, numbers)
        return float(told["coats"] * told["film_um"])

    return wrong_meetings(recipe.meetings, recipe.laid, there, film_um, shop.figures[CLEAR_THIN.name])


def _worked_out(bench: Bench, index: int, act: Compiled, settings: Mapping[str, Any]) -> Work | None:
    """Step of the recipe worked out, or None with the reason among the bench's problems."""
    operation, known = act.operation, len(bench.problems)
    bench.operation, bench.step, bench.settings = operation.key, index, settings
    try:
        work = operation.work(bench)
    except Gap as gap:
        bench.problems.append(gap.problem)
        return None
    work.settle()
    if settings["note"]:
        work.instruction = Words("{} {}", work.told, settings["note"]) if work.told else settings["note"]
    return work if len(bench.problems) == known else None


def finished(worked: WorkedDamage, shop: Shop, rows: list[tuple[int, CostLine]]) -> Estimate:
    """Estimate of a damage with its lines and price, its cents spread over the lines, and what an hour earns.

    With a problem there are no lines: half a list of materials would be taken for the whole one.
    """
    set_windows(worked.steps)
    pricing = shop.pricing
    minutes = sum([step.minutes for step in worked.steps])
    again: list[ReworkAllowance] = rework_allowances(rows, shop.again) if shop.again else []
    costs = [line.cost for _, line in rows] + [one.cost for one in again]
    cost = math.fsum(costs)
    hands = sum([line.expected for _, line in rows if line.kind == "labour"])
    hands += sum([one.again.carried * one.minutes for one in again])
    outlay = cost - hands * shop.wage_per_hour / 60.0
    priced, earned, shown = None, None, []
    if not worked.problems:
        priced = price(cost, pricing)
        scale = 10**pricing.decimals
        shown = whole_numbers([one * scale for one in costs], int(priced.cost.scaleb(pricing.decimals)))
        earned = earned_per_hour(float(priced.net), outlay, hands)
    return Estimate(
        worked.recipe, worked.values, rows, shown, worked.steps, worked.problems, minutes, cost, outlay, priced, pricing,
        shop.hours_per_day, earned, shop.experience, again,
        {name: value for name, (value, _, _) in shop.constants.items()}, shop.alone,
    )  # fmt: skip
