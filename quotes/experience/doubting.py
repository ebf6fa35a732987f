"""What was written down at the bench and looks wrong, said at once. Reads only; nothing is ever changed here.

A log is judged by the present state, before anything was learned by the trade's defaults, with all else of its material
on the same step. One that somebody said is right is not asked about again.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from quotes.costing.learning.doubts import Doubt, doubt
from quotes.costing.learning.history import Cell, HistoryMaterial, Log, Term, Trade
from quotes.costing.stats.assumptions import MINUTES
from quotes.experience.gathering import STEPS, cup_range
from quotes.experience.reading import Present, current_state
from quotes.experience.rows import PlanLine, each, plan_lines
from quotes.experience.shelf_counts import COUNTED_TO
from quotes.experience.standard import PartPlan, Standard
from quotes.models import Step, StepTime, StepUse, WayPart

SMALLEST = Decimal("0.001")  # to which a corrected value is rounded; finer than any scale at a bench


@dataclass(frozen=True)
class InDoubt:
    """The last log of a material (or of minutes) on a step, and why it is in doubt.

    `fits` is what this log would have to be for the whole to fit, None where no slip explains it.
    """

    log: StepUse | StepTime
    doubt: Doubt
    fits: Decimal | None


def doubts_on(step: Step) -> list[InDoubt]:
    """What is in doubt on a step: uses in the order they were written, then minutes. Five queries at most."""
    step = Step.with_sundries.get(pk=step.pk)
    uses = list(step.uses.filter(undone_at__isnull=True).select_related("material").order_by("pk"))
    times = list(step.times.filter(replaced_at__isnull=True).order_by("pk"))
    newest = {use.material_id: use for use in uses}
    asked: list[StepUse | StepTime] = [use for use in newest.values() if _asked_about(use)]
    asked += [time for time in times[-1:] if time.sure_at is None]
    if step.part_id is None or step.planned.put_in or not asked:
        return []
    present, found = current_state(), []
    lines = _planned(step, Standard.learned(present.row))
    shared = _shared_cups(step, uses)
    for log in asked:
        of = times if isinstance(log, StepTime) else [use for use in uses if use.material_id == log.material_id]
        one = _doubt(log, of, step, lines, present, shared)
        if one is not None:
            found.append(InDoubt(log, one, _fits(log, one)))
    return found


def _planned(step: Step, standard: Standard) -> list[PlanLine]:
    """The lines of a step over all repairs that it serves, what each shares over its steps aside. One query."""
    own = dict(step.own_plans)
    parts = WayPart.objects.select_related("way__board__takein__board").filter(pk__in=[key for key in own if key])
    return [
        line for part in parts for line in plan_lines(PartPlan.of(part), standard) if line.index == own[part.pk].index
    ]


def _asked_about(use: StepUse) -> bool:
    return use.sure_at is None and not use.as_planned and not use.customers_own


def _shared_cups(step: Step, uses: Sequence[StepUse]) -> set[int]:
    cups = {use.mix_id for use in uses if use.mix_id is not None}
    others = StepUse.objects.filter(mix__in=cups, undone_at__isnull=True).exclude(step=step)
    return {mix for mix in others.values_list("mix", flat=True) if mix is not None} if cups else set()


def _doubt(
    log: StepUse | StepTime, of: Sequence[StepUse | StepTime], step: Step, lines: Sequence[PlanLine], present: Present,
    shared: set[int],
) -> Doubt | None:  # fmt: skip
    line = _line_of(log, step, lines)
    if line is None or (isinstance(log, StepUse) and each(log.material.unit) != line.unit):
        return None
    value, mixes = _written(of, line, shared)
    if mixes and mixes < line.mixes:  # the first of several mixes is judged by its share
        line = line._replace(need=line.need * mixes / line.mixes, mixes=mixes)
    state, trade = present.state, _with_line(present.trade, line, log.material.kind if isinstance(log, StepUse) else "")
    usual = trade.factors[Cell(line.operation, line.material)]
    base = present.row.figures.get("bases", {}).get(line.name, line.base.mid) if usual is not line.base else usual.mid
    need = line.need * base / usual.mid
    term = Term(
        str(step.job_id), line.operation, state.day, state.layout.base_worker or "", line.material, need,
        float(line.mixes), state.layout.base_brands.get(line.material, ""), set_up=need * line.set_up_part,
    )  # fmt: skip
    return doubt(state, trade, term, Log(term.job, term.operation, term.material, value, mixes))


def _line_of(log: StepUse | StepTime, step: Step, lines: Sequence[PlanLine]) -> PlanLine | None:
    """The line that the plan has for a log, several of one material at a step as one; None where it has none.

    A step that serves several repairs takes the cups of each, of which each bears its part.
    """
    material = MINUTES if isinstance(log, StepTime) else log.material.key
    lines = [line for line in lines if line.material == material]
    if not lines or any(line.pooled for line in lines):
        return None
    cups = math.fsum(line.mixes for line in lines) if step.serves else max(line.mixes for line in lines)
    return lines[0]._replace(need=math.fsum(line.need for line in lines), mixes=cups)


def _written(of: Sequence[StepUse | StepTime], line: PlanLine, shared: set[int]) -> tuple[float, float]:
    """What the step took altogether, and in how many cups (nothing where no cup is known, or one was shared)."""
    value = math.fsum(float(_amount(one)) for one in of)
    cups = {one.mix_id for one in of if isinstance(one, StepUse) and one.mix_id is not None}
    return value, 0.0 if cups & shared or not line.mixes else float(len(cups))


def _amount(log: StepUse | StepTime) -> Decimal:
    return log.minutes if isinstance(log, StepTime) else log.used


def _fits(log: StepUse | StepTime, found: Doubt) -> Decimal | None:
    if found.fits is None:
        return None
    fits = _amount(log) + Decimal(str(found.fits)) - Decimal(str(found.value))
    return fits.quantize(SMALLEST) if fits >= SMALLEST else None


def _with_line(trade: Trade, line: PlanLine, group: str) -> Trade:
    """The trade with room for a line of a cell or material that no finished job has met."""
    cell, factors, materials = Cell(line.operation, line.material), dict(trade.factors), dict(trade.materials)
    factors.setdefault(cell, line.base)
    if line.material != MINUTES and line.material not in materials:
        loss = cup_range(line.loss) if line.mixes and line.loss > 0 else None
        steps = STEPS[line.unit], COUNTED_TO[line.unit]
        materials[line.material] = HistoryMaterial(
            line.material, line.unit, 0.0, group, loss, *steps, None, line.in_parts
        )
    return Trade(materials, factors, trade.set_ups)
