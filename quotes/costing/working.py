"""Works a recipe out for one board: measures → places → needs → expected use → cost → price, with the steps to do it.

Nothing is guessed: what is missing or must not be done becomes a Problem, and while there is one there is no money.
Invariant: cost is the rounded sum of the unrounded lines; what the steps plan to use adds up to what the lines charge.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from quotes.costing.inputs import Construction, Pricing, Shop
from quotes.costing.measures import Given, read_measures
from quotes.costing.operation import Compiled
from quotes.costing.places import build_places
from quotes.costing.pricing import Priced, earned_per_hour, money, price
from quotes.costing.recipe import Recipe
from quotes.costing.result import SCHEMA, Line, Problem
from quotes.costing.schedule import Slot, place_in_days
from quotes.costing.work import NO_WAIT, Bench, Gap, Work

UNKNOWN_BOARD = Construction()
WET = "The core is wet, and nothing is sealed over a wet core: put a drying step before this one."
_TIMES = {"coat": 0, "cut": 1, "touch": 2}
SAND_FIRST = "The last coat no longer bonds by itself: sand it first (P120, all over, dust off)."


@dataclass
class Estimate:
    """A recipe worked out for one board: what it takes, what it costs, and when it can be ready.

    Money is there only while `problems` is empty. `outlay` is the cost without wages (materials, consumables, overhead),
    unrounded.
    """

    recipe: Recipe
    measures: dict[str, Given]
    lines: list[Line]
    steps: list[Work]
    problems: list[Problem]
    minutes: float
    cost_unrounded: float
    outlay: float
    priced: Priced | None
    pricing: Pricing
    hours_per_day: float
    earned_per_hour: float | None

    @cached_property
    def slots(self) -> list[Slot]:
        """Where each step lies when every day is worked; a step whose window is missed says so."""
        slots = place_in_days([step.timed for step in self.steps], hours_per_day=self.hours_per_day)
        for step, slot in zip(self.steps, slots, strict=True):
            step.in_time = not slot.late
        return slots

    @property
    def ready_days(self) -> float:
        """Days from the first touch to the end of the last step, every day worked."""
        return self.slots[-1].end_h / 24.0 if self.steps else 0.0

    @property
    def added_weight_g(self) -> float:
        """Weight the repair adds, less what it takes away, in g."""
        return math.fsum(step.weight_g for step in self.steps)

    @property
    def cautions(self) -> list[str]:
        """Every caution of the steps, once."""
        return list(dict.fromkeys(caution for step in self.steps for caution in step.cautions))

    def as_dict(self) -> dict[str, Any]:
        """The snapshot: JSON-able, frozen on a quote; money as strings, everything else floats."""
        priced, pricing, recipe = self.priced, self.pricing, self.recipe
        decimals = pricing.decimals
        return {
            "schema": SCHEMA,
            "recipe": recipe.key,
            "recipe_name": recipe.name,
            "recipe_version": recipe.version,
            "currency": pricing.currency,
            "measures": {
                m.name: {"label": m.label, "value": self.measures[m.name].value, "unit": m.unit,
                         "typed": self.measures[m.name].typed}
                for m in recipe.measures if m.name in self.measures
            },
            "lines": [line.as_dict(decimals) for line in self.lines],
            "cost": str(priced.cost) if priced else None,
            "cost_unrounded": self.cost_unrounded if priced else None,
            "outlay": self.outlay if priced else None,
            "spent": self._spent() if priced else None,
            "margin": priced.margin(pricing) if priced else None,
            "price_before_tax": str(priced.net) if priced else None,
            "tax": str(priced.tax) if priced else None,
            "tax_rate": pricing.tax_percent,
            "price": str(priced.gross) if priced else None,
            "shown": str(priced.shown) if priced else None,
            "minutes": self.minutes,
            "earned_per_hour": self.earned_per_hour,
            "earliest_ready_days": self.ready_days,
            "added_weight_g": self.added_weight_g,
            "cautions": self.cautions,
            "problems": [problem.as_dict() for problem in self.problems],
            "steps": self._steps(),
            "may_turn_up": recipe.may_turn_up,
            "release_check": list(recipe.release_check),
            "aftercare": list(recipe.aftercare),
        }  # fmt: skip

    def _steps(self) -> list[dict[str, Any]]:
        """The steps with the materials each plans to use; a pooled one is taken from the shelf at its first step."""
        self.slots  # noqa: B018 - works out which windows are missed
        taken: dict[int, list[dict[str, Any]]] = {step.index: [] for step in self.steps}
        for line in self.lines:
            supply = line.supply
            if supply.material is None:
                continue
            needs = [(step.index, need) for step, need, _ in line.parts] or [(line.work.index, line.need)]
            planned = line.use
            for index, need in needs:
                taken[index].append(
                    {
                        "material": supply.material,
                        "name": supply.name,
                        "planned": planned,
                        "unit": supply.unit,
                        "need": need,
                    }
                )
                planned = 0.0
        return [step.as_dict(taken[step.index]) for step in self.steps]

    def _spent(self) -> dict[str, str]:
        sums = {"material": 0.0, "consumable": 0.0, "labour": 0.0, "overhead": 0.0}
        for line in self.lines:
            sums[line.kind] += line.cost
        return {kind: str(money(value, self.pricing.decimals)) for kind, value in sums.items()}


def estimate(
    recipe: Recipe,
    measures: Mapping[str, Given | float],
    shop: Shop,
    *,
    board: Construction = UNKNOWN_BOARD,
    accepted_odd: Collection[str] = (),
) -> Estimate:
    """The recipe worked out with these measures (canonical units), this shop's prices and figures, on this board.

    `accepted_odd` names measures beyond the plausible that the person said are right. Missing things are `problems` of
    the result, not errors.
    """
    values, found = read_measures(recipe.measures, measures, accepted_odd)
    problems = [*recipe.found_problems, *shop.problems, *found]
    if problems:
        return _finished(recipe, values, shop, [], [], problems)
    numbers = {name: given.value for name, given in values.items()}
    bench = Bench(shop, board, build_places(recipe.places, numbers, shop.figures))
    steps: list[Work] = []
    for index, act in enumerate(recipe.compiled, 1):
        if act.when and not numbers[act.when]:
            continue
        work = _done(bench, index, act, numbers)
        if work is not None:
            steps.append(work)
            work.index = len(steps)
            work.measures = act.measures
    if bench.problems:  # half a list of materials would be taken for the whole one
        return _finished(recipe, values, shop, [], steps, bench.problems)
    own = bench.factor_of if shop.factors else None
    for line in bench.pools.values():
        line.pool(own, shop.trade)
    set_windows(steps)
    return _finished(recipe, values, shop, bench.lines, steps, [])


def _done(bench: Bench, index: int, act: Compiled, numbers: Mapping[str, float]) -> Work | None:
    """One act of the recipe as a step, or None with the reason among the bench's problems."""
    operation = act.operation
    bench.operation, bench.step = operation.key, index
    bench.settings = settings = act.resolved(bench.figures, numbers)
    before = len(bench.problems)
    if operation.seals and bench.board.wet and not bench.dried:
        bench.problems.append(bench.problem("wet", WET, "board:wet"))
    for why in operation.refusals(settings, bench.board):
        bench.problems.append(bench.problem("system", why, f"setting:{index}:system"))
    if len(bench.problems) > before:
        return None
    try:
        work = operation.work(bench)
    except Gap as gap:
        bench.problems.append(gap.problem)
        return None
    work.settle()
    work.meets = "cut" if settings.get("onto") == "another face" else operation.meets
    work.cuts_back = operation.meets == "cut"
    if settings["note"]:
        work.instruction = f"{work.instruction} {settings['note']}".strip()
    return work


def set_windows(steps: list[Work]) -> None:
    """Says of each step when it may start after the one before, and until when a coat still bonds.

    A coat onto another face waits until the first can be lain on, and has no window. Sanding settles a window.
    """
    now = 0.0
    cures: list[tuple[float, float, float]] = []  # hours at which what cures may be coated, cut, touched
    until: float | None = None  # hour until which the last coat bonds
    for step in steps:
        which = _TIMES[step.meets]
        start = max(now, *[cure[which] for cure in cures]) if cures else now
        step.earliest_start_h = start - now
        if step.meets == "coat" and until is not None:
            step.latest_start_h = max(until, start) - now
            step.if_late = SAND_FIRST
        now = start + step.minutes / 60.0
        if step.cuts_back:
            until = None
        cures = [cure for cure in cures if cure[0] > now or cure[1] > now or cure[2] > now]
        wait = step.wait
        if wait is not NO_WAIT:
            cures.append((now + wait.coat_h, now + wait.cut_h, now + wait.touch_h))
            until = None if wait.coat_until_h is None else now + wait.coat_until_h


def _finished(
    recipe: Recipe, values: dict[str, Given], shop: Shop, lines: list[Line], steps: list[Work], problems: list[Problem]
) -> Estimate:
    """The estimate with its price, its cents spread over the lines, and what an hour earns."""
    pricing = shop.pricing
    minutes = sum([step.minutes for step in steps])
    cost = math.fsum([line.cost for line in lines])
    outlay = cost - minutes * shop.wage_per_hour / 60.0
    priced = earned = None
    if not problems:
        priced = price(cost, pricing)
        spread_cents(lines, int(priced.cost.scaleb(pricing.decimals)), pricing.decimals)
        earned = earned_per_hour(float(priced.net), outlay, minutes)
    return Estimate(
        recipe, values, lines, steps, problems, minutes, cost, outlay, priced, pricing, shop.hours_per_day, earned
    )


def spread_cents(lines: list[Line], total: int, decimals: int = 2) -> None:
    """Shows each line in whole minor units so that they add up to `total`: the largest remainders get the odd ones."""
    scale = 10**decimals
    remainders = []
    for index, line in enumerate(lines):
        exact = line.cost * scale
        line.shown = shown = int(exact)
        total -= shown
        remainders.append((shown - exact, index))
    if total > 0:
        remainders.sort()
        for _, index in remainders[:total]:
            lines[index].shown += 1
