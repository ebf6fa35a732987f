"""The cut plan as a drawing with its words, for the job sheet and the bench's page."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from inventory.models import Material
from quotes.costing import PlannedStep
from quotes.costing.parts.nesting import CutPlan, cut_plans
from shop.measures import units

WORTH_KEEPING_MM = 50  # narrower strips are not put back


def cut_shown(steps: Iterable[PlannedStep], locale: str) -> dict[str, Any]:
    """The plans of these steps (as they were planned), and a sentence for each cloth that has none. One query."""
    found = Material.objects.filter(unit="m2").values_list("key", "name", "roll_width_mm")
    rolls = {key: (name, None if width is None else float(str(width))) for key, name, width in found}
    plans, sentences = cut_plans(steps, rolls)
    return {"plans": [_shown(plan, locale) for plan in plans if plan.laid], "sentences": sentences}


def _shown(plan: CutPlan, locale: str) -> dict[str, Any]:
    def mm(value: float) -> str:
        return units.show(value, "mm", locale=locale)

    words = [f"Cut {mm(plan.length_mm)} off the roll of {mm(plan.roll_width_mm)}"]
    if plan.left_mm >= WORTH_KEEPING_MM:
        words.append(f"a strip {mm(plan.left_mm)} wide goes back")
    words.append(f"{plan.waste_percent:.0f} % of the block is waste")
    return {
        "name": plan.name,
        "words": ", ".join(words),
        "block": f"An offcut of {plan.length_mm} × {mm(plan.used_mm)} is enough.",
        "drawing": plan.drawn(),
        "heard": f"{len(plan.laid)} pieces of {plan.name} laid out on {mm(plan.length_mm)} of the roll",
        "pieces": [
            {"no": one.number, "words": f"{one.words}, {one.length} × {mm(one.width)}", "oval": one.round}
            for one in plan.laid
        ],
    }
