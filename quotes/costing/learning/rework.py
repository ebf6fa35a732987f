"""Work that was done again: how often, and at what cost. It never teaches the normal figure.

Steps are counted, not jobs: a recipe may sand six times, and a price carries the rate on each of them.

The rate of an operation is shrunk to the shop's own rate over all of them, and that to nothing, each of which counts
for twenty steps (common practice, no source): 1 of 1 makes 1 in 11, not every one. With nothing done again it is
nothing, and a price carries nothing for it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from quotes.costing.learning.history import Log, Term, Trade

_TRUST = 20.0  # steps that the rate over all operations counts for, and steps done well that this one starts from


@dataclass(frozen=True, slots=True)
class ReworkRate:
    """Rework of an operation: `redone` steps of `done`; `rate` is the share that a price may carry on each step.

    `cost` is the mean cost of doing a step again, in currency without tax, from what was logged (need × 1 where it was
    not).
    """

    operation: str
    done: int
    redone: int
    rate: float
    cost: float

    @property
    def carried(self) -> float:
        """Share of its cost that a price carries: 0 for what was never done again here."""
        return self.rate if self.redone else 0.0

    @property
    def percent(self) -> float:
        """Rate that a price carries, in per cent of doing it once."""
        return 100.0 * self.carried


def rework_rates(
    terms: Sequence[Term], logs: Sequence[Log], trade: Trade, hourly: float, charged: Collection[str] = ()
) -> dict[str, ReworkRate]:
    """Rates by operation, from all steps and logs. `hourly` is the cost of a hands-on hour in currency.

    Steps done again that are `charged` to the customer are left out. Where terms name no step, all of an operation in a
    job is one. What was done again was done before, known or not (a comeback may ask for what its job never had): no
    more steps are done again than were done.
    """
    first: dict[str, set[tuple[str, str]]] = defaultdict(set)
    redone: dict[str, set[tuple[str, str]]] = defaultdict(set)
    cost: dict[str, float] = defaultdict(float)
    shares = _log_shares(terms, logs)
    for term in terms:
        if not term.again:
            first[term.operation].add((term.job, term.step))
        elif term.step not in charged:
            redone[term.operation].add((term.job, term.step))
            used = term.need * shares.get((term.job, term.operation, term.material), 1.0)
            cost[term.operation] += used * trade.price(term.material, hourly)
    done = {operation: max(len(first[operation]), len(redone[operation])) for operation in sorted({*first, *redone})}
    everywhere = sum(map(len, redone.values())) / (sum(done.values()) + _TRUST)
    return {
        operation: ReworkRate(
            operation=operation,
            done=steps,
            redone=len(redone[operation]),
            rate=(len(redone[operation]) + _TRUST * everywhere) / (steps + _TRUST),
            cost=cost[operation] / len(redone[operation]) if redone[operation] else 0.0,
        )
        for operation, steps in done.items()
    }


def _log_shares(terms: Sequence[Term], logs: Sequence[Log]) -> dict[tuple[str, str, str], float]:
    """Logged use over need of what was done again; one log stands for all of an operation in a job."""
    needs: dict[tuple[str, str, str], float] = defaultdict(float)
    for term in terms:
        if term.again:
            needs[term.job, term.operation, term.material] += term.need
    logged = {(log.job, log.operation, log.material): log.value for log in logs if log.again}
    return {key: logged[key] / need for key, need in needs.items() if key in logged and need > 0}
