"""Days promised against days ready, in sums: how many were kept, by how much missed, whether a chance said was honest.

Nothing here reads rows. A promise is kept where the board was ready on its day or before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from math import fsum
from statistics import median

from quotes.costing.learning.coverage import ENOUGH, true_share


@dataclass(frozen=True, slots=True)
class PastPromise:
    """A job that is ready: its first day promised, the one that stood last, when that was given and with which chance
    (None: not said), when it was ready, the recipes it was done by."""

    job: int
    name: str
    first: date
    stood: date
    chance: float | None
    given_at: datetime
    ready_at: datetime
    ready: date
    recipes: tuple[str, ...] = ()

    @property
    def late(self) -> int:
        """Days after the day promised; 0 where it was kept."""
        return max(0, (self.ready - self.stood).days)

    @property
    def kept(self) -> bool:
        """Whether the day that stood last was kept."""
        return self.ready <= self.stood

    @property
    def first_kept(self) -> bool:
        """Whether the first day promised was kept."""
        return self.ready <= self.first


@dataclass(frozen=True, slots=True)
class SaidChance:
    """Promises given with about the same chance: its mean, how many there were, how many were kept.

    `low` and `high` are the shares that so many kept speak for, nineteen times in twenty.
    """

    chance: float
    promises: int
    kept: int
    low: float
    high: float

    @property
    def tenths(self) -> int:
        """The chance in words: so many in ten."""
        return round(self.chance * 10)

    @property
    def honest(self) -> bool:
        """Whether what was said lies within what chance allows."""
        return self.low <= self.chance <= self.high

    @property
    def enough(self) -> bool:
        """Whether there are enough to say more than that nothing speaks against it."""
        return self.promises >= ENOUGH

    @property
    def too_sure(self) -> bool:
        """Whether fewer were kept than was said."""
        return self.chance > self.high


@dataclass(frozen=True, slots=True)
class RecipeKept:
    """Promises of one recipe: how many, how many kept, days late in the middle of those that were missed."""

    name: str
    promises: int
    kept: int
    late: float | None


@dataclass(frozen=True, slots=True)
class PromisesKept:
    """Promises together. `late` is the middle and `most` the most of days late among those missed; None without any.

    `said` are groups by the chance said, the surest first; `all_said` all of them that had one.
    """

    promises: int
    kept: int
    first_kept: int
    moved: int
    late: float | None
    most: int | None
    said: list[SaidChance]
    all_said: SaidChance | None
    recipes: list[RecipeKept]

    @property
    def missed(self) -> int:
        """How many were not kept."""
        return self.promises - self.kept

    @property
    def percent(self) -> float | None:
        """Share kept in per cent."""
        return 100.0 * self.kept / self.promises if self.promises else None

    @property
    def without_chance(self) -> int:
        """Promises of which no chance was said."""
        return self.promises - (self.all_said.promises if self.all_said else 0)


def promises_kept(past: Sequence[PastPromise]) -> PromisesKept:
    """Sums over promises; nothing where there is none."""
    said = [one for one in past if one.chance is not None]
    by_tenth: dict[int, list[PastPromise]] = defaultdict(list)
    for one in said:
        by_tenth[round((one.chance or 0.0) * 10)].append(one)
    return PromisesKept(
        promises=len(past),
        kept=sum(one.kept for one in past),
        first_kept=sum(one.first_kept for one in past),
        moved=sum(one.first != one.stood for one in past),
        late=_middle_late(past),
        most=max((one.late for one in past if one.late), default=None),
        said=[_said(group) for _, group in sorted(by_tenth.items(), reverse=True)],
        all_said=_said(said) if said else None,
        recipes=_by_recipe(past),
    )


def _middle_late(past: Sequence[PastPromise]) -> float | None:
    late = [one.late for one in past if one.late]
    return float(median(late)) if late else None


def _said(group: Sequence[PastPromise]) -> SaidChance:
    """A group as one: with chances that differ a little the number kept scatters less than by their mean, so that the
    interval is rather too wide than too narrow."""
    kept = sum(one.kept for one in group)
    low, high = true_share(kept, len(group))
    return SaidChance(fsum(one.chance or 0.0 for one in group) / len(group), len(group), kept, low, high)


def _by_recipe(past: Sequence[PastPromise]) -> list[RecipeKept]:
    """By recipe, the one that missed most of its promises first; a job of several repairs counts for each."""
    groups: dict[str, list[PastPromise]] = defaultdict(list)
    for one in past:
        for name in one.recipes:
            groups[name].append(one)
    found = [
        RecipeKept(name, len(own), sum(one.kept for one in own), _middle_late(own)) for name, own in groups.items()
    ]
    return sorted(found, key=lambda one: (one.kept / one.promises, -one.promises, one.name))
