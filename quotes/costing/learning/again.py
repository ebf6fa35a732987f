"""Work that was done again: how often, and at what cost. It never teaches the normal figure.

The rate of an operation is shrunk to the shop's own rate over all of them, and that to nothing, each of which counts for
twenty steps (common practice, no source): 1 of 1 makes 1 in 11, not every one. With nothing done again it is nothing, and a
price carries nothing for it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from quotes.costing.learning.history import Log, Term, Trade

_TRUST = 20.0  # steps that the rate over all operations counts for, and steps done well that this one starts from


@dataclass(frozen=True, slots=True)
class Again:
    """How often an operation was done again: `redone` of `done`; `rate` is what a price may carry.

    `cost` is the mean cost of doing it again, in currency without tax, from what was logged (need × 1 where it was not).
    """

    operation: str
    done: int
    redone: int
    rate: float
    cost: float

    def in_words(self) -> str:
        """“1 in 14 is done again”."""
        if not self.redone:
            return f"none of {self.done} was done again"
        if self.done < 2 * self.redone:
            return f"{self.redone} of {self.done} {'was' if self.redone == 1 else 'were'} done again"
        return f"1 in {round(self.done / self.redone)} is done again"

    @property
    def carried(self) -> float:
        """The share of its cost that a price carries: nothing for what was never done again here."""
        return self.rate if self.redone else 0.0

    @property
    def percent(self) -> float:
        """What a price carries, in per cent of doing it once."""
        return 100.0 * self.carried

    @property
    def allowance(self) -> float:
        """What each doing of it should carry for being done again, in currency."""
        return self.carried * self.cost


def done_again(terms: Sequence[Term], logs: Sequence[Log], trade: Trade, hourly: float) -> dict[str, Again]:
    """By operation, from all steps and logs. `hourly` is the cost of a hands-on hour in currency."""
    first: dict[str, set[str]] = defaultdict(set)
    redone: dict[str, set[str]] = defaultdict(set)
    cost: dict[str, float] = defaultdict(float)
    logged = {(log.job, log.operation, log.material): log.value for log in logs if log.again}
    for term in terms:
        (redone if term.again else first)[term.operation].add(term.job)
        if term.again:
            used = logged.get((term.job, term.operation, term.material), term.need)
            cost[term.operation] += used * trade.price(term.material, hourly)
    done_all = sum(len(jobs) for jobs in first.values())
    everywhere = sum(len(jobs) for jobs in redone.values()) / (done_all + _TRUST)
    return {
        operation: Again(
            operation=operation,
            done=len(first[operation]),
            redone=len(redone[operation]),
            rate=(len(redone[operation]) + _TRUST * everywhere) / (len(first[operation]) + _TRUST),
            cost=cost[operation] / len(redone[operation]) if redone[operation] else 0.0,
        )
        for operation in sorted({*first, *redone})
    }
