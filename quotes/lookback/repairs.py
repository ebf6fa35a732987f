"""What each repair of a job took beside what it was quoted at: what is done for several is told apart as planned."""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal
from typing import NamedTuple

from quotes.lookback.past import booked_by_repair
from quotes.models import Job, WayPart
from shop.measures.money import from_float, round_money
from shop.models import Profile


class RepairCost(NamedTuple):
    """A repair by its name with what it cost so far and what was quoted for it, without tax."""

    name: str
    real: Decimal
    quoted: Decimal


def cost_of_repairs(job: Job) -> list[RepairCost]:
    """The repairs of the way being done, in order; nothing where it has but one, which is the job. Six queries."""
    parts = list(WayPart.objects.filter(way=job.way_id).select_related("recipe_version__recipe").order_by("pk"))
    if len(parts) < 2:
        return []
    real: dict[int | None, float] = defaultdict(float)
    for row in booked_by_repair([job]):
        real[row.part] += row.cost
    currency = Profile.objects.get().currency
    names = {one["part"]: one["name"] for one in job.way.totals.get("damages") or ()}
    return [
        RepairCost(
            names.get(part.pk) or str(part.recipe_version.recipe.name),
            round_money(from_float(real[part.pk]), currency),
            round_money(from_float(part.estimate.cost_unrounded or 0.0), currency),
        )
        for part in parts
    ]
