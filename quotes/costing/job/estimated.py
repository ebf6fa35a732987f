"""An estimate, and what a quote keeps of it.

Invariant: cost is the rounded sum of the unrounded lines and allowances for work done again, the shown cents add up to
it, and what the steps plan to use adds up to what the lines charge.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from decimal import Decimal
from functools import cached_property
from typing import Any

from quotes.costing.basis.constants import practice
from quotes.costing.money.pricing import Priced, money
from quotes.costing.parts.inputs import Pricing
from quotes.costing.parts.measures import Given
from quotes.costing.parts.result import CostLine
from quotes.costing.parts.rework_allowance import ReworkAllowance
from quotes.costing.parts.schedule import Slot, Timed, place_in_days
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.costing.snapshot import KnownFrom, MeasureTaken, PlannedMaterial, PlannedStep, Problem, Snapshot
from quotes.costing.steps.windows import WindowedStep

FELT = practice("felt_weight_g", 150, 100, 300, "g", "added weight from which a rider may feel it")


@dataclass
class Estimate:
    """A recipe worked out for one board: what it takes, what it costs, and when it can be ready.

    `rows` are the lines with the step they belong to, `again` what is carried for work done again, `shown` the cost of
    the ones and then of the others in minor units of the currency. `minutes` and steps are those of doing it once.
    Money is there only while `problems` is empty. `outlay` is the cost without wages (materials, consumables,
    overhead), unrounded. `experience` names the state of learning that its factors were taken from, None where nothing
    was learned. `figures` are the shop's own that it was worked out with, `alone` whether no other board shared its
    set-ups.
    """

    recipe: CoreRecipe
    measures: dict[str, Given]
    rows: list[tuple[int, CostLine]]
    shown: list[int]
    steps: list[WindowedStep]
    problems: list[Problem]
    minutes: float
    cost_unrounded: float
    outlay: float
    priced: Priced | None
    pricing: Pricing
    hours_per_day: float
    earned_per_hour: float | None
    experience: Mapping[str, Any] | None = None
    again: Sequence[ReworkAllowance] = ()
    figures: Mapping[str, float] = field(default_factory=dict)
    alone: bool = False

    @property
    def lines(self) -> list[CostLine]:
        """Lines of cost, in the order of the steps."""
        return [line for _, line in self.rows]

    @property
    def expected_minutes(self) -> float:
        """Mean of its hands-on minutes, above the middle that is planned."""
        return math.fsum(line.expected for _, line in self.rows if line.kind == "labour")

    @cached_property
    def slots(self) -> list[Slot]:
        """Slots of the steps when every day is worked; a step whose window is missed says so."""
        slots = place_in_days(
            [
                Timed(step.minutes, step.earliest_start_h, step.latest_start_h, step.work.pause_h, step.sitting)
                for step in self.steps
            ],
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
        """Weight that the repair adds, less what it takes away, in g."""
        return math.fsum(step.weight_g for step in self.steps)

    @property
    def cautions(self) -> list[str]:
        """Cautions of all steps, each once."""
        return list(dict.fromkeys(caution for step in self.steps for caution in step.work.cautions))

    def snapshot(self) -> Snapshot:
        """Snapshot that a quote keeps of it; without money while there are problems."""
        priced, pricing, recipe, known = self.priced, self.pricing, self.recipe, self.experience
        decimals, many = pricing.decimals, len(self.rows)
        lines = zip(self.rows, self.shown[:many], strict=False)
        carried = zip(self.again, self.shown[many:], strict=True)
        return Snapshot(
            recipe=recipe.key,
            recipe_name=recipe.name,
            recipe_version=recipe.version,
            currency=pricing.currency,
            known_from=KnownFrom(**known) if known else None,
            figures=self.figures,
            alone=self.alone,
            measures=self._measures_taken(),
            lines=tuple(line.kept(step, cents, decimals) for (step, line), cents in lines),
            again=tuple(one.kept(cents, decimals) for one, cents in carried),
            cost=priced.cost if priced else None,
            cost_unrounded=self.cost_unrounded if priced else None,
            outlay=self.outlay if priced else None,
            spent=self._spent() if priced else None,
            margin=priced.margin(pricing) if priced else None,
            price_before_tax=priced.net if priced else None,
            tax=priced.tax if priced else None,
            tax_rate=pricing.tax_percent,
            price=priced.gross if priced else None,
            shown=priced.shown if priced else None,
            minutes=self.minutes,
            expected_minutes=self.expected_minutes,
            earned_per_hour=self.earned_per_hour,
            ready_days=self.ready_days,
            added_weight_g=self.added_weight_g,
            cautions=tuple(self.cautions),
            problems=tuple(self.problems),
            steps=self.planned_steps,
            may_turn_up=recipe.may_turn_up,
            release_check=tuple(recipe.release_check),
            aftercare=tuple(recipe.aftercare),
        )

    def _measures_taken(self) -> dict[str, MeasureTaken]:
        """In the order of the recipe."""
        found = ((one, self.measures[one.name]) for one in self.recipe.measures if one.name in self.measures)
        return {one.name: MeasureTaken(one.label, given.value, one.unit, given.typed) for one, given in found}

    @cached_property
    def planned_steps(self) -> tuple[PlannedStep, ...]:
        """Steps as the snapshot keeps them, with the materials each plans to use.

        What several share is planned at the first of them, and marked as a `sundry` unless it is counted in pieces.
        """
        self.slots  # noqa: B018 - works out which windows are missed
        taken: dict[int, list[PlannedMaterial]] = {step.index: [] for step in self.steps}
        for first, line in self.rows:
            supply, planned = line.supply, line.use
            if supply.material is None:
                continue
            made_of = line.made_of()
            for index, need in [(step, need) for step, need, _ in line.parts] or [(first, line.need)]:
                taken[index].append(
                    PlannedMaterial(supply.material, supply.name, planned, supply.unit, need, made_of, line.sundry)
                )
                planned, made_of = 0.0, None
        return tuple(step.kept(taken[step.index]) for step in self.steps)

    def _spent(self) -> dict[str, Decimal]:
        sums = {"material": 0.0, "consumable": 0.0, "labour": 0.0, "overhead": 0.0}
        for _, line in self.rows:
            sums[line.kind] += line.cost
        if self.again:
            sums["done again"] = math.fsum(one.cost for one in self.again)
        return {kind: money(value, self.pricing.decimals) for kind, value in sums.items()}
