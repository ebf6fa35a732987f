"""The chance that a day promised is kept, as the outlook keeps it: read, never worked out."""

from __future__ import annotations

from dataclasses import dataclass

from quotes.models import Outlook
from shop.text.formats import in_ten

EVEN = 0.5


@dataclass(frozen=True)
class KeptChance:
    """Chance, from 0 to 1, that the day promised for a job is kept."""

    chance: float

    @property
    def at_risk(self) -> bool:
        """Below even."""
        return self.chance < EVEN

    @property
    def words(self) -> str:
        """9 in 10; promise at risk: 3 in 10."""
        return f"promise at risk: {in_ten(self.chance)}" if self.at_risk else in_ten(self.chance)


def last_outlook() -> Outlook | None:
    """The bench ahead as it was last worked out; None before it ever was. One query."""
    return Outlook.objects.first()


def kept_chances(outlook: Outlook | None) -> dict[int, KeptChance]:
    """By job the chance that its day is kept, for jobs that had a day when the outlook was made. No query."""
    told = {key: job.get("chance") for key, job in outlook.jobs.items()} if outlook else {}
    return {int(key): KeptChance(float(chance)) for key, chance in told.items() if chance is not None}
