"""What stands between a draft and its price, each thing once, and less with every answer.

A snapshot keeps a problem for each place a material is used. Here the prices are one line, and a price that came in
since the snapshot was made is not asked for again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from inventory.models import Material
from inventory.stock.prices import prices_on
from quotes.costing import Problem

NAMED = 6  # more than that and the line no longer fits a phone


@dataclass(frozen=True)
class Missing:
    """Names of materials without a price, of those that have got one since, and every other problem once."""

    prices: tuple[str, ...] = ()
    priced: tuple[str, ...] = ()
    others: tuple[Problem, ...] = ()

    def __bool__(self) -> bool:
        return bool(self.prices or self.priced or self.others)

    @property
    def count(self) -> int:
        """How many things are still missing."""
        return len(self.prices) + len(self.others)

    @property
    def words(self) -> str:
        """5 prices missing: Acetone, Rag; "" where every price is there."""
        if not self.prices:
            return ""
        many, named = len(self.prices), ", ".join(self.prices[:NAMED])
        more = f" and {many - NAMED} more" if many > NAMED else ""
        return f"{many} price{'s' if many > 1 else ''} missing: {named}{more}."

    @property
    def sentences(self) -> list[str]:
        """All of it, a sentence each."""
        said = [self.words] if self.words else []
        if self.priced and not self.prices:
            said.append("The prices that were missing are there now: work it out again.")
        return [*said, *(problem.text for problem in self.others)]


def missing_once(problems: Iterable[Problem], day: date) -> Missing:
    """What is missing by problems of estimates or snapshots, as it is on a day. Four queries, none without a price."""
    problems = list(problems)
    asked = {one.for_want_of for one in problems} - {""}
    found = dict(Material.objects.in_use().filter(key__in=asked).values_list("key", "name")) if asked else {}
    there = prices_on(day, set(found)) if found else {}
    others = {one.text: one for one in problems if one.for_want_of not in found}
    names = sorted(found.items(), key=lambda one: one[1])
    return Missing(
        tuple(name for key, name in names if key not in there),
        tuple(name for key, name in names if key in there),
        tuple(others.values()),
    )
