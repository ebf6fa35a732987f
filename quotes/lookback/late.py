"""What made a board late, told by what happened between the promise and the day it was ready. Nothing reads rows here.

Each cause is put in days that it can have cost. It is named where it makes up a quarter of the lateness at least; less
than that is the luck of any job. Several may be named, and where none is, what made it late is not known.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import Literal, get_args

LateBy = Literal["answer", "material", "again", "away", "elsewhere"]
CAUSES: tuple[LateBy, ...] = get_args(LateBy)
A_PART = 0.25  # of the lateness, 0.1 to 0.5; common practice, no source


@dataclass(frozen=True, slots=True)
class LateFacts:
    """What rows say of a late job, from its promise until it was ready.

    `answer_h`: hours that a customer's answer was waited for. `material_days`: days from when a step could have been
    done until what it took came in. `again_days`: days on which steps were done again. `away_days`: days of all hands
    away that nobody knew of at the promise. `hours_missing`: hours at the bench less than the open hours usually give
    (None: too little was written down), `hours_a_day` what a day usually gives.
    """

    late: int
    answer_h: float = 0.0
    material_days: int = 0
    again_days: int = 0
    away_days: float = 0.0
    hours_missing: float | None = None
    hours_a_day: float = 0.0


@dataclass(frozen=True, slots=True)
class LateCause:
    """A cause named for late boards: for how many, and the days it cost them in the middle."""

    by: LateBy
    boards: int
    days: float


def days_cost(facts: LateFacts) -> dict[LateBy, float]:
    """Days that each cause can have cost a board; those that cost none are left out."""
    short = (facts.hours_missing or 0.0) / facts.hours_a_day if facts.hours_a_day else 0.0
    found: dict[LateBy, float] = {
        "answer": facts.answer_h / 24,
        "material": float(facts.material_days),
        "again": float(facts.again_days),
        "away": facts.away_days,
        "elsewhere": short,
    }
    return {by: days for by, days in found.items() if days > 0}


def what_made_late(facts: LateFacts) -> dict[LateBy, float]:
    """Causes of a late board with the days each can have cost, what cost most first; empty: not known."""
    named = {by: days for by, days in days_cost(facts).items() if days >= A_PART * facts.late}
    return dict(sorted(named.items(), key=lambda one: (-one[1], CAUSES.index(one[0]))))


def causes_of_all(late: Sequence[LateFacts]) -> tuple[list[LateCause], int]:
    """Causes over late boards, what is named most often first, and the number of boards of which none is known."""
    named = [what_made_late(facts) for facts in late]
    found = [
        LateCause(by, len(days), median(days)) for by in CAUSES if (days := [one[by] for one in named if by in one])
    ]
    return sorted(found, key=lambda one: (-one.boards, -one.days)), sum(not one for one in named)
