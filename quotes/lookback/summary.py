"""Many jobs looked back at together: how far quotes were off, and what each recipe earned."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from math import fsum

from quotes.costing.learning.coverage import RangeCoverage, coverage
from quotes.estimating import as_float
from quotes.lookback.past import COMEBACK, HANDS, Past


@dataclass(frozen=True, slots=True)
class RecipeEarned:
    """What one recipe brought: its share of prices without tax and of cost.

    `earned` is what its prices left over all but wages and `minutes` what hands took, of jobs whose minutes are known.
    """

    name: str
    jobs: int
    net: float
    cost: float
    earned: float
    minutes: float

    @property
    def gain(self) -> float:
        """What is left of the prices."""
        return self.net - self.cost

    @property
    def per_hour(self) -> float | None:
        """What an hour of hands earned; None without minutes."""
        return self.earned / self.minutes * 60 if self.minutes else None


@dataclass(frozen=True, slots=True)
class Overall:
    """Over the jobs looked back on. `off` is the mean distance of real from quoted cost, `lean` their sums' (per cent).

    `earned` is what prices left over all but wages, `minutes` what hands took and `wage` the mean wage that was paid
    for an hour, over the `timed` jobs: those whose minutes were written down.
    """

    jobs: int
    judged: int
    off: float | None
    lean: float | None
    ranges: RangeCoverage
    kinds: list[RecipeEarned]
    net: float
    cost: float
    again: float
    comebacks: float
    timed: int
    minutes: float
    earned: float
    wage: float

    @property
    def lean_percent(self) -> float | None:
        """How much more, or less, all of them cost than quoted, without its sign."""
        return None if self.lean is None else abs(self.lean)

    @property
    def per_hour(self) -> float | None:
        """What an hour of hands earned."""
        return self.earned / self.minutes * 60 if self.minutes else None

    @property
    def untimed(self) -> int:
        """How many jobs say nothing about an hour: nobody wrote down their minutes."""
        return self.jobs - self.timed


def overall(past: Sequence[Past]) -> Overall:
    """All jobs together; those that were stopped or not timed say nothing about how far off quotes are."""
    judged = [one for one in past if one.off_percent is not None]
    quoted, real = (fsum(as_float(getattr(one.truth, name)) for one in judged) for name in ("quoted_cost", "real_cost"))
    ranged = [one.held for one in past if one.held is not None]
    known = [one.truth for one in past if one.truth.hands_known]
    minutes = fsum(as_float(truth.all_real.minutes) for truth in known)
    return Overall(
        jobs=len(past),
        judged=len(judged),
        off=fsum(abs(one.off_percent or 0.0) for one in judged) / len(judged) if judged else None,
        lean=(real / quoted - 1.0) * 100 if quoted else None,
        ranges=coverage(sum(ranged), len(ranged)),
        kinds=kinds(past),
        net=fsum(as_float(one.truth.net) for one in past),
        cost=fsum(as_float(one.truth.all_real.cost) for one in past),
        again=fsum(row.cost for one in past for row in one.real if row.again and row.material != COMEBACK),
        comebacks=fsum(as_float(one.truth.comebacks.cost) for one in past),
        timed=len(known),
        minutes=minutes,
        earned=fsum(as_float(truth.net - truth.all_real.outlay) for truth in known),
        wage=fsum(as_float(truth.all_real.labour) for truth in known) / minutes * 60 if minutes else 0.0,
    )


def kinds(past: Sequence[Past]) -> list[RecipeEarned]:
    """By recipe, what earns least first. A job of several repairs is shared: real cost as it was booked on each, price
    and what belongs to no single repair by their quoted cost. Jobs that were stopped are left out."""
    sums: dict[str, list[float]] = defaultdict(lambda: [0.0] * 5)
    for one in past:
        if one.stopped or not one.kinds:
            continue
        for name, figures in _shared(one).items():
            sums[name] = [a + b for a, b in zip(sums[name], (1.0, *figures), strict=True)]
    found = [RecipeEarned(name, round(jobs), *figures) for name, (jobs, *figures) in sums.items()]
    return sorted(found, key=lambda kind: (kind.per_hour is None, kind.per_hour or 0.0, kind.name))


def _shared(one: Past) -> dict[str, tuple[float, float, float, float]]:
    """Net and cost of one job by recipe; what is left over all but wages, and minutes, where its minutes are known."""
    share = _weights(one)
    back, net = one.truth.comebacks, as_float(one.truth.net)
    cost, wages, minutes = dict.fromkeys(share, 0.0), dict.fromkeys(share, 0.0), dict.fromkeys(share, 0.0)
    for row in one.real:
        own = one.repairs.get(row.part or 0)
        for name, part in share.items() if own is None else [(own, 1.0)]:
            cost[name] += part * row.cost
            if row.material == HANDS:
                wages[name] += part * row.cost
                minutes[name] += part * row.qty
    for name, part in share.items():
        wages[name] += part * as_float(back.labour)
        minutes[name] += part * as_float(back.minutes)
    known = float(one.truth.hands_known)
    return {
        name: (part * net, cost[name], known * (part * net - cost[name] + wages[name]), known * minutes[name])
        for name, part in share.items()
    }


def _weights(one: Past) -> dict[str, float]:
    """Each recipe's share of a job, by quoted cost; alike where nothing was quoted."""
    weight = dict.fromkeys(one.kinds, 0.0)
    for row in one.quoted:
        if row.part is not None and row.part in one.repairs:
            weight[one.repairs[row.part]] += row.cost
    whole = fsum(weight.values())
    return {name: value / whole if whole else 1.0 / len(weight) for name, value in weight.items()}
