"""Works a recipe out for one board: measures → places → needs → expected use → cost → price, with the steps to do it.

Nothing is guessed: what is missing or must not be done becomes a Problem, and while there is one there is no money.
Invariant: cost is the rounded sum of the unrounded lines; what the steps plan to use adds up to what the lines charge.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

from quotes.costing.inputs import Construction, Pricing, Shop
from quotes.costing.measures import Given, read_measures
from quotes.costing.operation import EXACT, Bench, Compiled, Gap, Need, Operation, Wait, Work
from quotes.costing.places import build_places
from quotes.costing.pricing import Priced, earned_per_hour, money, price
from quotes.costing.recipe import Recipe
from quotes.costing.result import SCHEMA, Line, LineKind, Problem, Ranged, Step
from quotes.costing.schedule import place_in_days
from quotes.costing.usage import expected_use, factor, in_stock_unit, whole_pieces

UNKNOWN_BOARD = Construction()
_COUNTED = Ranged(EXACT.value, EXACT.low, EXACT.high, EXACT.source)


@dataclass(slots=True)
class Estimate:
    """A recipe worked out for one board: what it takes, what it costs, and when it can be ready.

    Money is there only while `problems` is empty. `outlay` is the cost without wages (materials, consumables, overhead),
    unrounded; `ready_days` counts from the first touch, every day worked.
    """

    recipe: Recipe
    measures: dict[str, Given]
    lines: list[Line]
    steps: list[Step]
    problems: list[Problem]
    minutes: float
    ready_days: float
    cost_unrounded: float
    outlay: float
    priced: Priced | None
    pricing: Pricing
    earned_per_hour: float | None

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
            "steps": [step.as_dict() for step in self.steps],
            "may_turn_up": recipe.may_turn_up,
            "release_check": list(recipe.release_check),
            "aftercare": list(recipe.aftercare),
        }  # fmt: skip

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
    values, problems = read_measures(recipe.measures, measures, accepted_odd)
    problems = [*recipe.found_problems, *shop.problems(), *problems]
    job = _Job(shop, board)
    if not problems:
        numbers = {name: given.value for name, given in values.items()}
        job.places = build_places(recipe.places, numbers, shop.figures)
        for index, act in enumerate(recipe.compiled, 1):
            if not act.when or numbers[act.when]:
                job.do(index, act, numbers)
        problems = job.problems
    return job.finished(recipe, values, problems)


class _Job:
    """One estimate being made: the steps so far, their lines, and what still cures."""

    def __init__(self, shop: Shop, board: Construction) -> None:
        self.shop = shop
        self.board = board
        self.places: dict[str, Any] = {}
        self.bench: Bench | None = None
        self.lines: list[Line] = []
        self.steps: list[Step] = []
        self.problems: list[Problem] = []
        self.pools: dict[str, _Pool] = {}
        self.cures: list[_Cure] = []

    def do(self, index: int, act: Compiled, numbers: Mapping[str, float]) -> None:
        """One act of the recipe: its step, its lines, or its problems."""
        bench = self.bench
        if bench is None:
            bench = self.bench = Bench(self.shop, self.board, self.places, self.shop.figures)
        operation = act.operation
        bench.operation, bench.step = operation.key, index
        bench.settings = act.resolved(self.shop.figures, numbers)
        refused = list(operation.refusals(bench.settings, self.board))
        if refused:
            self.problems += [bench.problem("system", why, f"setting:{index}:system") for why in refused]
            return
        try:
            work = operation.work(bench)
        except Gap as gap:
            self.problems.append(gap.problem)
            return
        work.breathing(self.shop.figures)
        step = Step(len(self.steps) + 1, operation.key, work.title, work.instruction, work.minutes,
                    mixes=work.mixes, cautions=list(dict.fromkeys(work.cautions)), weight_g=work.weight_g)  # fmt: skip
        note = bench.settings["note"]
        if note:
            step.instruction = f"{step.instruction} {note}".strip()
        self.steps.append(step)
        for need in work.needs:
            self.charge(need, step, bench)
        self.charge_minutes(work, step)
        self.wait_for(operation, step)
        if work.wait.cut_h or work.wait.coat_h:
            self.cures.append(_Cure(work.wait))

    def charge(self, need: Need, step: Step, bench: Bench) -> None:
        """A line for one need, in the unit its material is counted in and bought by."""
        found = self.shop.materials.get(need.material)
        if found is None or found.retired or found.price is None:
            self.problems.append(_lacking(step.operation, need.material, found))
            return
        scale = 1.0
        if need.unit != found.unit:
            scale, missing = in_stock_unit(1.0, need.unit, found.unit, found.known)
            if missing:
                text = f"“{found.name}” has no {missing.replace('_', ' ')}, needed to count {need.unit} in {found.unit}: add it in the store."
                self.problems.append(bench.problem(missing, text, f"material:{need.material}"))
                return
        ranged = _COUNTED
        if need.factor is not EXACT or self.shop.factors:
            ranged = factor(self.shop, step.operation, need.moves_with or need.material, need.factor)
        value = need.value * scale
        if need.pooled:
            pool = self.pools.get(need.material)
            if pool is None:
                pool = self.pools[need.material] = _Pool(need, step, len(self.lines), found.unit)
            pool.add(value, ranged, step)
            step.materials.append({"material": need.material, "name": found.name, "planned": 0.0, "unit": found.unit,
                                   "need": value})  # fmt: skip
            return
        use = expected_use(value, ranged.value, need.mixes, need.loss * scale, need.least * scale)
        step.materials.append(
            {"material": need.material, "name": found.name, "planned": use, "unit": found.unit, "need": value}
        )
        group = f"{step.index}:{need.moves_with}" if need.moves_with else ""
        self.lines.append(Line(
            step.operation, step.index, need.kind, need.material, found.name, value, found.unit, need.formula, ranged,
            need.mixes, need.loss * scale, need.least * scale, False, use, found.price.value, found.price.source,
            use * found.price.value, group))  # fmt: skip

    def charge_minutes(self, work: Work, step: Step) -> None:
        """The wage and the overhead of a step's hands-on minutes."""
        ranged = factor(self.shop, step.operation, "minutes", work.minutes_factor)
        minutes = step.minutes = work.minutes * ranged.value
        group = f"{step.index}:minutes"
        shop = self.shop
        rates: tuple[tuple[LineKind, str, float, str], ...] = (
            ("labour", "Hands-on time", shop.wage_per_hour / 60.0, shop.wage_source),
            ("overhead", "Overhead", shop.overhead_per_hour / 60.0, shop.overhead_source),
        )
        for kind, name, rate, source in rates:
            self.lines.append(Line(
                step.operation, step.index, kind, None, f"{name}: {step.title}", work.minutes, "min",
                work.minutes_formula, ranged, 0, 0.0, 0.0, False, minutes, rate, source, minutes * rate, group))  # fmt: skip

    def wait_for(self, operation: Operation, step: Step) -> None:
        """When this step may start, from what still cures, and what it settles by cutting."""
        earliest = 0.0
        for cure in self.cures:
            earliest = max(earliest, cure.remaining(operation.meets))
        if operation.meets == "coat" and self.cures and self.cures[-1].until is not None:
            step.latest_start_h = max(0.0, self.cures[-1].until)
            step.if_late = "The last coat no longer bonds by itself: sand first (P120, all over, dust off)."
        step.earliest_start_h = earliest
        if step.latest_start_h is not None:
            step.latest_start_h = max(step.latest_start_h, earliest)
        passed = earliest + step.minutes / 60.0
        self.cures = [cure for cure in self.cures if cure.passed(passed, operation.meets == "cut")]

    def finished(self, recipe: Recipe, values: dict[str, Given], problems: list[Problem]) -> Estimate:
        """The estimate, with pooled lines put in, time laid out, cents spread and the price made."""
        for pool in reversed(self.pools.values()):
            self.lines.insert(pool.at, pool.line(self.shop))
        shop, pricing = self.shop, self.shop.pricing
        ready = 0.0
        if self.steps and shop.hours_per_day > 0:
            slots = place_in_days([step.timed for step in self.steps], hours_per_day=shop.hours_per_day)
            ready = slots[-1].end_h / 24.0
            for step, slot in zip(self.steps, slots, strict=True):
                step.in_time = not slot.late
        minutes = math.fsum(step.minutes for step in self.steps)
        cost = math.fsum(line.cost for line in self.lines)
        outlay = cost - math.fsum(line.cost for line in self.lines if line.kind == "labour")
        priced = None
        earned = None
        if not problems:
            priced = price(cost, pricing)
            spread_cents(self.lines, int(priced.cost.scaleb(pricing.decimals)), pricing.decimals)
            earned = earned_per_hour(float(priced.net), outlay, minutes)
        return Estimate(
            recipe, values, self.lines, self.steps, problems, minutes, ready, cost, outlay, priced, pricing, earned
        )


def spread_cents(lines: list[Line], total: int, decimals: int = 2) -> None:
    """Shows each line in whole minor units so that they add up to `total`: the largest remainders get the odd ones."""
    scale = 10**decimals
    remainders = []
    for index, line in enumerate(lines):
        exact = line.cost * scale
        line.shown = int(exact)
        remainders.append((line.shown - exact, index))
    left = total - sum(line.shown for line in lines)
    remainders.sort()
    for _, index in remainders[: max(0, left)]:
        lines[index].shown += 1


class _Cure:
    """A coat that still cures: hours left until the next step may coat, cut or touch it, and until a coat bonds."""

    __slots__ = ("coat", "cut", "touch", "until")

    def __init__(self, wait: Wait) -> None:
        self.coat, self.cut, self.touch, self.until = wait.coat_h, wait.cut_h, wait.touch_h, wait.coat_until_h

    def remaining(self, meets: str) -> float:
        """Hours until a step that so meets it may start."""
        return self.cut if meets == "cut" else self.coat if meets == "coat" else self.touch

    def passed(self, hours: float, was_cut: bool) -> bool:
        """Lets time pass; whether anything still has to be waited for. Sanding settles the window for a coat."""
        self.coat, self.cut, self.touch = self.coat - hours, self.cut - hours, self.touch - hours
        self.until = None if was_cut or self.until is None else self.until - hours
        return self.until is not None or self.cut > 0 or self.coat > 0 or self.touch > 0


class _Pool:
    """One material counted over the whole job: expected use summed over its steps, charged where it is first used."""

    __slots__ = ("at", "expected", "first", "high", "low", "need", "parts", "ranged", "spec", "unit", "value")

    def __init__(self, spec: Need, first: Step, at: int, unit: str) -> None:
        self.spec, self.first, self.at, self.unit = spec, first, at, unit
        self.value = self.expected = self.low = self.high = 0.0
        self.parts = 0
        self.ranged = _COUNTED

    def add(self, value: float, ranged: Ranged, step: Step) -> None:
        """One step's share."""
        self.value += value
        self.expected += value * ranged.value
        self.low += value * ranged.low
        self.high += value * ranged.high
        self.ranged = ranged
        self.parts += 1

    def line(self, shop: Shop) -> Line:
        """The line for the whole job; the first step takes it from the shelf."""
        spec, material = self.spec, shop.materials[self.spec.material]
        assert material.price is not None, "charge() lets no material without a price into a pool"
        use = whole_pieces(self.expected) if spec.whole else self.expected
        next(m for m in self.first.materials if m["material"] == spec.material)["planned"] = use
        ranged = self.ranged
        if self.value:
            ranged = ranged._replace(
                value=self.expected / self.value, low=self.low / self.value, high=self.high / self.value
            )
        formula = spec.formula if self.parts == 1 else f"{spec.formula}, over {self.parts} steps"
        if spec.whole:
            formula += ", in whole pieces per job"
        return Line(
            self.first.operation, self.first.index, spec.kind, spec.material, material.name, self.value, self.unit,
            formula, ranged, 0, 0.0, 0.0, spec.whole, use, material.price.value, material.price.source,
            use * material.price.value)  # fmt: skip


def _lacking(operation: str, key: str, found: Any) -> Problem:
    if found is None:
        text = f"There is no material “{key}” in the store: add it."
    elif found.retired:
        text = f"“{found.name}” is retired: choose another material in the recipe."
    else:
        text = f"“{found.name}” has no price: give one of its packs a price."
    return Problem(operation, "material", text, f"material:{key}")
