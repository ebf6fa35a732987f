"""The chance that a day promised is kept, as the outlook keeps it: read, never worked out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from quotes.models import Job, Outlook
from quotes.planner.promise import EVEN
from shop.text.formats import in_ten


@dataclass(frozen=True)
class KeptChance:
    """Chance, from 0 to 1, that a job is ready on `day`, in ISO 8601; `helps`: what would lift one below even."""

    chance: float
    day: str
    helps: tuple[str, ...] = ()

    @property
    def at_risk(self) -> bool:
        """Below even."""
        return self.chance < EVEN

    @property
    def words(self) -> str:
        """9 in 10; promise at risk: 3 in 10."""
        return f"promise at risk: {in_ten(self.chance)}" if self.at_risk else in_ten(self.chance)


Chances = Mapping[int, KeptChance]


def kept_chances(outlook: Outlook) -> Chances:
    """By job the chance of the day that was promised when the outlook was made. No query."""
    helps: dict[int, list[str]] = {}
    for one in outlook.helps:
        helps.setdefault(one["job"], []).append(one["words"])
    return {
        int(key): KeptChance(told["chance"], told["day"], tuple(helps.get(int(key), ())))
        for key, told in outlook.jobs.items()
        if told["chance"] is not None
    }


def chance_of(job: Job, chances: Chances) -> KeptChance | None:
    """The chance that a job on the bench keeps its day; None where it has none, or another than was looked at."""
    kept = chances.get(job.pk)
    if kept is None or not job.on_the_bench or job.promised_on is None or job.promised_on.isoformat() != kept.day:
        return None
    return kept
