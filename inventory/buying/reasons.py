"""Why a line stands on the buy list, in sentences.

Every figure that decided it, and every ceiling that held it back.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from datetime import date, timedelta
from decimal import Decimal

from inventory.buying.ordering import Advice, Buying, Demand
from inventory.formats import about, amount
from inventory.models import Material, Pack
from shop.text.formats import day as day_words


def why(
    unit: str, today: date, demand: Demand, weeks: int, coming: float, advice: Advice, buying: Buying
) -> Iterator[str]:
    """What is wanted, what lies there and until when, what is usual, and what an order costs least at."""
    until = buying.lead_days + buying.look_ahead
    planned = [(day, total) for day, total in demand.rising if day <= until]
    if planned:
        last, total = planned[-1]
        yield f"Jobs have reserved {about(total, unit)} until {_day(today, last)}."
    yield _on_the_shelf(unit, today, coming, advice)
    if demand.per_day:
        yield (
            f"Usual use {about(demand.per_day * 7, unit)} a week, from {weeks} weeks. With {buying.lead_days:g} days to "
            f"deliver and a reserve of {about(advice.reserve, unit)}, order at {about(rounded_up(advice.point, unit), unit)}."
        )
        if advice.economic is None:
            yield "No price is known, so only what is short is ordered."
        else:
            yield f"Cheapest to order at a time: {about(advice.economic, unit)}."


def _on_the_shelf(unit: str, today: date, coming: float, advice: Advice) -> str:
    """Usable is what will be used before it goes off."""
    there, on_the_way, until = _left(unit, today, coming, advice)
    said = f"Usable on the shelf: {there}" if there else "Nothing usable on the shelf"
    return f"{', '.join(filter(None, (said, on_the_way)))}{f'; enough {until}' if until else ''}."


def left(unit: str, today: date, coming: float, advice: Advice) -> str:
    """What is usable and on its way, for a column: "1 piece, until Mon 30 Nov"."""
    there, *more = _left(unit, today, coming, advice)
    return ", ".join(filter(None, (there or "nothing", *more)))


def _left(unit: str, today: date, coming: float, advice: Advice) -> tuple[str, str, str]:
    there = advice.available - coming
    lasts = advice.available > 0 and not math.isinf(advice.out_in)
    return (
        about(there, unit) if there > 0 else "",
        f"{about(coming, unit)} on the way" if coming else "",
        f"until {_day(today, advice.out_in)}" if lasts else "",
    )


def ceilings(
    material: Material, pack: Pack | None, limit: Decimal | None, demand: Demand, advice: Advice, buying: Buying
) -> Iterator[str]:
    """How long an order may last, shelf life, storage limit, and life once opened, where they matter."""
    unit = material.unit
    if advice.most is not None and advice.economic is not None:
        yield (
            f"The cheapest quantity would last {advice.economic / demand.per_day / 7:.0f} weeks; no more than {buying.most_days / 7:g} weeks’ "
            f"use is ordered at once, about {about(advice.most, unit)}."
        )
    if advice.kept is not None:
        yield (
            f"Keeps {buying.life_days:g} days, in which about {about(advice.kept, unit)} of it will be used; "
            "so no more is ordered."
        )
    if advice.packs and advice.spoils > 0:
        yield f"About {about(advice.spoils, unit)} of it will go off unused; ask for a smaller pack."
    if advice.room is not None and limit is not None:
        none = "" if advice.packs else " Not one pack fits: use up what is there first."
        yield f"No more than {amount(limit, unit)} may be stored, so there is room for {about(advice.room, unit)}.{none}"
    opened = material.opened_life_days
    if opened is not None and pack is not None and demand.per_day * opened < float(pack.content):
        yield f"Once opened it keeps {opened} days, in which about {about(demand.by(opened), unit)} is used."


def rounded_up(point: float, unit: str) -> float:
    """A reorder point is rounded up: to three figures, pieces to whole ones."""
    if point <= 0:
        return 0.0
    if unit == "piece":
        return float(math.ceil(point - 1e-9))
    step = 10.0 ** (math.floor(math.log10(point)) - 2)
    return math.ceil(point / step - 1e-9) * step


def _day(today: date, days: float) -> str:
    return day_words(today + timedelta(days=math.floor(days)))
