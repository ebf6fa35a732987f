"""Works a recipe out for one board: measures → places → needs → expected use → cost → price, with the steps to do it.

Nothing is guessed: what is missing or must not be done becomes a Problem, and while there is one there is no money.
Invariant: cost is the rounded sum of the unrounded lines; what the steps plan to use adds up to what the lines charge.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from quotes.costing.inputs import Construction, Pricing, Shop
from quotes.costing.measures import Given, read_measures
from quotes.costing.operation import Compiled, Kept
from quotes.costing.places import build_places
from quotes.costing.pricing import Priced, earned_per_hour, money, price
from quotes.costing.recipe import Recipe
from quotes.costing.result import SCHEMA, Line, PooledLine, Problem
from quotes.costing.schedule import Slot, Timed, place_in_days
from quotes.costing.work import NO_WAIT, Bench, Gap, Work

UNKNOWN_BOARD = Construction()
WET = "The core is wet, and nothing is sealed over a wet core: put a drying step before this one."
_TIMES = {"coat": 0, "cut": 1, "touch": 2}
SAND_FIRST = "The last coat no longer bonds by itself: sand it first (P120, all over, dust off)."


class Step:
    """A step of one job: its work, where it stands, and its window in hours after the end of the step before."""

    __slots__ = (
        "cuts_back",
        "earliest_start_h",
        "if_late",
        "in_time",
        "index",
        "latest_start_h",
        "measures",
        "meets",
        "work",
    )

    def __init__(self, work: Work, index: int, act: Compiled) -> None:
        self.work = work
        self.index = index
        self.meets = act.meets
        self.cuts_back = act.operation.meets == "cut"
        self.measures = act.measures
        self.earliest_start_h = 0.0
        self.latest_start_h: float | None = None
        self.if_late = ""
        self.in_time = True

    @property
    def operation(self) -> str:
        """The key of its operation."""
        return self.work.operation

    @property
    def title(self) -> str:
        """Its title on the job sheet."""
        return self.work.title

    @property
    def instruction(self) -> str:
        """What to do, with sizes and doses."""
        return self.work.instruction

    @property
    def minutes(self) -> float:
        """Hands-on minutes as this shop takes them."""
        return self.work.minutes

    @property
    def mixes(self) -> tuple[dict[str, Any], ...]:
        """Its mixes with their doses."""
        return self.work.mixes

    @property
    def weight_g(self) -> float:
        """Weight it adds, or takes away, in g."""
        return self.work.weight_g

    def as_dict(self, materials: list[dict[str, Any]]) -> dict[str, Any]:
        """The step as the snapshot keeps it, with the materials it plans to use."""
        work = self.work
        return {
            "index": self.index,
            "operation": work.operation,
            "title": work.title,
            "instruction": work.instruction,
            "minutes": work.minutes,
            "earliest_start_h": self.earliest_start_h,
            "latest_start_h": self.latest_start_h,
            "if_late": self.if_late,
            "mixes": [dict(one) for one in work.mixes],
            "materials": materials,
            "pieces": [cut.as_dict() for cut in work.cuts],
            "measures": list(self.measures),
            "cautions": list(dict.fromkeys(work.cautions)),
            "weight_g": work.weight_g,
            "bench_hours_ok": self.in_time,
        }


@dataclass
class Estimate:
    """A recipe worked out for one board: what it takes, what it costs, and when it can be ready.

    `rows` are the lines with the step they belong to, `shown` their cost in minor units of the currency.
    Money is there only while `problems` is empty. `outlay` is the cost without wages (materials, consumables, overhead),
    unrounded.
    """

    recipe: Recipe
    measures: dict[str, Given]
    rows: list[tuple[int, Line]]
    shown: list[int]
    steps: list[Step]
    problems: list[Problem]
    minutes: float
    cost_unrounded: float
    outlay: float
    priced: Priced | None
    pricing: Pricing
    hours_per_day: float
    earned_per_hour: float | None

    @property
    def lines(self) -> list[Line]:
        """The lines of cost, in the order of the steps."""
        return [line for _, line in self.rows]

    @cached_property
    def slots(self) -> list[Slot]:
        """Where each step lies when every day is worked; a step whose window is missed says so."""
        slots = place_in_days(
            [Timed(step.minutes, step.earliest_start_h, step.latest_start_h) for step in self.steps],
            hours_per_day=self.hours_per_day,
        )
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
        return list(dict.fromkeys(caution for step in self.steps for caution in step.work.cautions))

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
            "lines": [line.as_dict(step, cents, decimals) for (step, line), cents in zip(self.rows, self.shown, strict=True)],
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
        for first, line in self.rows:
            supply, planned = line.supply, line.use
            if supply.material is None:
                continue
            for index, need in [(step, need) for step, need, _ in line.parts] or [(first, line.need)]:
                taken[index].append({"material": supply.material, "name": supply.name, "planned": planned,
                                     "unit": supply.unit, "need": need})  # fmt: skip
                planned = 0.0
        return [step.as_dict(taken[step.index]) for step in self.steps]

    def _spent(self) -> dict[str, str]:
        sums = {"material": 0.0, "consumable": 0.0, "labour": 0.0, "overhead": 0.0}
        for _, line in self.rows:
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
        return _finished(recipe, values, shop, [], problems)
    numbers = {name: given.value for name, given in values.items()}
    bench: Bench | None = None
    steps: list[Step] = []
    dry = not board.wet
    for index, act in enumerate(recipe.compiled, 1):
        if act.when and not numbers[act.when]:
            continue
        if act.operation.seals and not dry:
            problems.append(Problem(act.operation.key, "wet", WET, "board:wet"))
            continue
        kept, here = act.kept, [numbers[name] for name in act.measures]
        if kept is None or kept.shop is not shop or kept.values != here or kept.board != board:
            if bench is None:
                bench = Bench(shop, board, build_places(recipe.places, numbers, shop.figures))
            kept = _worked_out(bench, index, act, numbers, here)
            if kept is None:
                continue
            act.kept = kept
        steps.append(Step(kept.work, len(steps) + 1, act))
        dry = dry or kept.work.dries
    set_windows(steps)
    if bench is not None:
        problems += bench.problems
    return _finished(recipe, values, shop, steps, problems)


def _worked_out(
    bench: Bench, index: int, act: Compiled, numbers: Mapping[str, float], here: list[float]
) -> Kept | None:
    """One act of the recipe as a step, or None with the reason among the bench's problems."""
    operation, known = act.operation, len(bench.problems)
    bench.operation, bench.step = operation.key, index
    bench.settings = settings = act.resolved(bench.figures, numbers)
    for why in operation.refusals(settings, bench.board):
        bench.problems.append(bench.problem("system", why, f"setting:{index}:system"))
    if len(bench.problems) > known:
        return None
    try:
        work = operation.work(bench)
    except Gap as gap:
        bench.problems.append(gap.problem)
        return None
    work.settle()
    if settings["note"]:
        work.instruction = f"{work.instruction} {settings['note']}".strip()
    return Kept(bench.shop, bench.board, here, work) if len(bench.problems) == known else None


def set_windows(steps: list[Step]) -> None:
    """Says of each step when it may start after the one before, and until when a coat still bonds.

    A coat onto another face waits until the first can be lain on, and has no window. Sanding settles a window.
    """
    now = 0.0
    cures: list[tuple[float, float, float]] = []  # hours at which what cures may be coated, cut, touched
    until: float | None = None  # hour until which the last coat bonds
    for step in steps:
        work = step.work
        start = now
        which = _TIMES[step.meets]
        for cure in cures:
            if cure[which] > start:
                start = cure[which]
        step.earliest_start_h = start - now
        if until is not None and step.meets == "coat":
            step.latest_start_h = max(until, start) - now
            step.if_late = SAND_FIRST
        now = start + work.minutes / 60.0
        if step.cuts_back:
            until = None
        if cures:
            cures = [cure for cure in cures if cure[0] > now or cure[1] > now or cure[2] > now]
        wait = work.wait
        if wait is not NO_WAIT:
            cures.append((now + wait.coat_h, now + wait.cut_h, now + wait.touch_h))
            until = None if wait.coat_until_h is None else now + wait.coat_until_h


def _finished(
    recipe: Recipe, values: dict[str, Given], shop: Shop, steps: list[Step], problems: list[Problem]
) -> Estimate:
    """The estimate with its lines and price, its cents spread over the lines, and what an hour earns.

    With a problem there are no lines: half a list of materials would be taken for the whole one.
    """
    pricing = shop.pricing
    minutes = sum([step.work.minutes for step in steps])
    rows = [] if problems else _rows(steps)
    costs = [line.cost for _, line in rows]
    cost = math.fsum(costs)
    outlay = cost - minutes * shop.wage_per_hour / 60.0
    priced, earned, shown = None, None, []
    if not problems:
        priced = price(cost, pricing)
        shown = spread_cents(costs, int(priced.cost.scaleb(pricing.decimals)), pricing.decimals)
        earned = earned_per_hour(float(priced.net), outlay, minutes)
    return Estimate(
        recipe, values, rows, shown, steps, problems, minutes, cost, outlay, priced, pricing, shop.hours_per_day, earned
    )


def _rows(steps: list[Step]) -> list[tuple[int, Line]]:
    """Every line with its step; what a job shares is one line at the step that uses it first."""
    rows: list[tuple[int, Line]] = []
    pools: dict[str | None, PooledLine] = {}
    for step in steps:
        index, work = step.index, step.work
        for share in work.shares:
            key = share.supply.material
            pool = pools.get(key)
            if pool is None:
                pool = pools[key] = PooledLine(work.operation, share)
                rows.append((index, pool))
            pool.parts.append((index, share.need, share.factor))
        for line in work.lines:
            rows.append((index, line))
    for pool in pools.values():
        pool.add_up()
    return rows


def spread_cents(costs: Sequence[float], total: int, decimals: int = 2) -> list[int]:
    """Each cost in whole minor units so that they add up to `total`: the largest remainders get the odd ones."""
    scale = 10**decimals
    exact = [cost * scale for cost in costs]
    shown = [int(one) for one in exact]
    left = total - sum(shown)
    if left > 0:
        order = sorted([(cents - one, index) for index, (cents, one) in enumerate(zip(shown, exact, strict=True))])
        for _, index in order[:left]:
            shown[index] += 1
    return shown
