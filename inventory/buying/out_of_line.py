"""What on the shelf wants a look: short of what work ahead needs, out of date, soon to be, used up.

What nobody has counted yet, and what is not tracked, is never out of line: nothing is known of it.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from inventory.buying.planning import outlooks
from inventory.models import Material, MaterialQuerySet
from shop.text.formats import day, day_year

SOON = timedelta(days=30)  # how long before its date a lot is pointed out; ours
NONE_LEFT = "none left"
RANK = {"late": 0, "wait": 1, "ahead": 2}


def state_of(material: Material, today: date) -> tuple[str, str]:
    """Shape and words for what is worth saying about a material (with stock, and whether counted) on a list."""
    if material.not_tracked or not material.is_counted:
        return "ahead", "not tracked" if material.not_tracked else "not counted yet"
    if not material.on_hand:
        return "ahead", NONE_LEFT
    if material.first_use_by and material.first_use_by < today:
        return "late", "out of date"
    if material.first_use_by and material.first_use_by <= today + SOON:
        return "wait", "use soon"
    return "done", "in date" if material.first_use_by else "on the shelf"


def with_states(materials: MaterialQuerySet, today: date) -> list[Material]:
    """Each with `state`, `state_words` and `said`: what is out of line, empty where nothing is. Seven queries."""
    short = {one.material.pk: one.first_short for one in outlooks(today) if one.first_short}
    rows = list(materials.with_stock().with_counted().with_ever_there())
    for one in rows:
        one.state, one.state_words = state_of(one, today)
        one.said = ""
        if lacking := short.get(one.pk):
            one.state, one.state_words, one.said = "late", day(lacking.day), lacking.lacks
        elif one.state in ("late", "wait"):
            one.said = f"good until {day_year(one.first_use_by)}"
        elif one.state_words == NONE_LEFT and one.ever_there:
            one.said = "used up"
    return rows


def out_of_line(rows: Iterable[Material]) -> list[Material]:
    """Those of `with_states` that want a look, the most pressing first."""
    return sorted((one for one in rows if one.said), key=lambda one: (RANK[one.state], one.name))
