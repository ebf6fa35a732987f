"""Cost risk: how far cost, minutes and the earning of an hour may fall from the estimate, in closed form.

Each factor is log-normal about its value: a 5 to 95 % range, widened because trade ranges are over-confident, and the
scatter from job to job. Lines of one job share its difficulty. Smallest mixes and whole pieces are rounded as the bench
rounds them; the sum is matched to a log-normal by mean and variance, so that a stored quote gives the same chance
again. Where steps may be done again there is such a sum for each case of that.

Log-normal moments: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions, volume 1, section 14.3, from
memory.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Any, NamedTuple, Protocol

import numpy as np

from quotes.costing.money.pricing import at_net
from quotes.costing.parts.inputs import Pricing
from quotes.costing.snapshot import Carried, FactorUsed, SnapshotLine
from quotes.costing.stats.assumptions import USUAL, Assumptions
from quotes.costing.stats.normal import Floats
from quotes.costing.stats.outcomes import LogNormalMixture, cases, crossing

_NORMAL = NormalDist()
_90_PERCENT = 2.0 * _NORMAL.inv_cdf(0.95)  # width of a 5 to 95 % range in standard deviations
_SURE = 1e-12
_COUNTED_BY_HAND = 60  # pieces; beyond, a round-up adds half a piece


class Uncertain(NamedTuple):
    """An uncertain amount: median in currency, sd of its logarithm, and how use follows from it (all in currency).

    Amounts of one `cell` (operation and material, or minutes) come out high or low together.
    """

    cell: str
    median: float
    sd: float
    labour: bool
    loss: float = 0.0  # what all its mixes leave behind
    cups: float = 0
    least: float = 0.0
    piece: float = 0.0  # cost of one piece where it comes in whole pieces
    minutes: float = 0.0


class Moments(NamedTuple):
    """Mean and variance of an amount, how much of its mean moves with the difficulty, and the variance of its cups."""

    mean: float
    variance: float
    moving: float
    cups: float = 0.0


@dataclass(frozen=True, slots=True)
class CostRisk:
    """Distributions of a way's cost (currency, without tax), materials (with consumables) and hands-on minutes."""

    cost: LogNormalMixture
    materials: LogNormalMixture
    minutes: LogNormalMixture
    overhead_per_hour: float

    def chance_of_loss(self, net: float) -> float:
        """Chance that the cost exceeds this price in currency without tax."""
        return self.cost.chance_above(net)

    def net_for_chance(self, chance: float) -> float:
        """Price in currency without tax whose chance of loss is `chance` (0 to 1, both left out)."""
        return self.cost.quantile(1.0 - chance)

    def earned(self, net: float, share: float) -> float:
        """Most that an hour earns in the `share` worst cases, in currency, at this price without tax.

        (net − materials)/hours − overhead < x means materials + (x + overhead) × hours > net, a sum of two log-normals
        in each case of what is done again; it is solved for x. Never below −overhead: then the price does not pay the
        materials.
        """
        if self.minutes.mean <= 0:
            return -self.overhead_per_hour
        most = 4.0 * net / (self.minutes.mean / 60)

        def lost(hour: float) -> float:
            return self.materials.plus(self.minutes, hour / 60).chance_above(net) - share

        return crossing(lost, 0.0, most) - self.overhead_per_hour

    def as_dict(self, net: float, pricing: Pricing) -> dict[str, Any]:
        """Risk at one price without tax as plain data, with the prices for a chance of loss of 5, 10 and 20 %."""
        return {
            "cost": self.cost.as_dict(),
            "minutes": self.minutes.as_dict(),
            "earned_per_hour": {f"q{p:02d}": self.earned(net, p / 100) for p in (10, 25, 50, 75, 90)},
            "chance_of_loss": self.chance_of_loss(net),
            "price_for_chance": {
                f"{p:02d}": str(at_net(self.net_for_chance(p / 100), pricing).gross) for p in (5, 10, 20)
            },
        }


class Costed(Protocol):
    """Lines of cost, and the rework carried for some of their steps: a snapshot, or one that was re-estimated."""

    @property
    def lines(self) -> Sequence[SnapshotLine]:
        """Lines of cost."""

    @property
    def again(self) -> Sequence[Carried]:
        """Rework carried, by step."""


class JustLines(NamedTuple):
    """Lines of cost without a snapshot round them."""

    lines: Sequence[SnapshotLine]
    again: Sequence[Carried] = ()


def cost_risk(parts: Iterable[Costed], assume: Assumptions = USUAL) -> CostRisk:
    """Cost risk of the snapshots of one way together; they share the difficulty of the board.

    A step that is done again now and then is a toss by its rate, each on its own: its amounts come once more, high or
    low as they did the first time, or not at all. Each case of tosses has a log-normal of its own.
    """
    parts = list(parts)
    amounts = [one for part in parts for one in uncertain(part.lines, assume)]
    tosses = list(_tosses(parts, assume))
    rows = [amounts, *(again for _, again in tosses)]
    labour = _Side.of([[one for one in row if one.labour] for row in rows], assume.difficulty_labour)
    stock = _Side.of([[one for one in row if not one.labour] for row in rows], assume.difficulty_material)
    added = np.stack((labour.means + stock.means, stock.means, labour.means), axis=1)
    found = cases([rate for rate, _ in tosses], added[1:])
    done = np.hstack((np.ones((len(found.chances), 1)), found.again))
    hands, stuff = labour.variances(done), stock.variances(done)
    means, variances = done @ added, np.stack((hands + stuff, stuff, hands), axis=1) + found.hidden
    cost, materials, wages = (
        LogNormalMixture(found.chances, means[:, at], np.sqrt(np.maximum(variances[:, at], 0.0))) for at in range(3)
    )
    hourly = sum(one.median for one in amounts if one.labour)
    minutes = sum(one.minutes for one in amounts if one.labour)
    scale = minutes / hourly if hourly else 0.0
    took = LogNormalMixture(found.chances, wages.means * scale, wages.sds * scale)
    overhead = sum(line.cost for part in parts for line in part.lines if line.kind == "overhead")
    return CostRisk(cost, materials, took, overhead / minutes * 60 if minutes else 0.0)


def _tosses(parts: Iterable[Costed], assume: Assumptions) -> Iterator[tuple[float, list[Uncertain]]]:
    """Rate of each step that may be done again, and the amounts it then takes once more.

    What the whole job shares is left out.
    """
    for part in parts:
        for one in part.again:
            own = [line for line in part.lines if line.step == one.step and not line.shared]
            if one.rate > 0 and sum(line.cost for line in own) > 0:
                yield one.rate, list(uncertain(own, assume))


def uncertain(lines: Sequence[SnapshotLine], assume: Assumptions = USUAL) -> Iterator[Uncertain]:
    """Uncertain amounts behind the lines of one snapshot; lines that move together are one amount."""
    groups: dict[tuple[int, str], list[SnapshotLine]] = {}
    for index, line in enumerate(lines):
        groups.setdefault((line.step, line.moves_with) if line.moves_with else (-1 - index, ""), []).append(line)
    for group in groups.values():
        first = group[0]
        labour, factor = first.is_time, first.factor
        prices = [line.unit_cost.value for line in group]
        need = [line.need for line in group]
        yield Uncertain(
            cell=f"{first.operation} {'minutes' if labour else first.material}",
            median=sum(n * factor.value * price for n, price in zip(need, prices, strict=True)),
            sd=factor_sd(factor, assume.spread_labour if labour else assume.spread_material, assume),
            labour=labour,
            loss=sum(line.mixes * line.loss * price for line, price in zip(group, prices, strict=True)),
            cups=first.mixes,
            least=sum(line.least * price for line, price in zip(group, prices, strict=True)),
            piece=prices[0] if first.whole else 0.0,
            minutes=need[0] * factor.value if labour else 0.0,
        )


def factor_sd(factor: FactorUsed, usual: float, assume: Assumptions) -> float:
    """Sd of a factor's logarithm: the widened 5 to 95 % range, and the scatter between jobs; 0 for what is counted."""
    range_sd = math.log(factor.high / factor.low) / _90_PERCENT * assume.widen
    if range_sd < _SURE:
        return 0.0
    return math.hypot(range_sd, usual if factor.spread is None else factor.spread)


class _Side(NamedTuple):
    """Labour, or materials.

    A row for what is done anyway and one for each step that may be done again; columns are cells.
    """

    means: Floats
    cups: Floats
    sds: Floats
    moving: Floats
    difficulty: float

    @classmethod
    def of(cls, rows: Sequence[Sequence[Uncertain]], difficulty: float) -> _Side:
        """Side from its amounts; those of one cell and row are put together: their sds add up, for they move as one."""
        cells = {cell: at for at, cell in enumerate(dict.fromkeys(one.cell for row in rows for one in row))}
        means, cups = np.zeros(len(rows)), np.zeros(len(rows))
        sds, moving = np.zeros((len(rows), len(cells))), np.zeros((len(rows), len(cells)))
        for at, row in enumerate(rows):
            for one in row:
                found, cell = _moments(one, difficulty), cells[one.cell]
                means[at] += found.mean
                cups[at] += found.cups
                sds[at, cell] += math.sqrt(found.variance)
                moving[at, cell] += found.moving
        return cls(means, cups, sds, moving, difficulty)

    def variances(self, done: Floats) -> Floats:
        """Variances by case; `done` (cases × rows) is how often each row is.

        A row that some of the cases put together have (between 0 and 1) counts by the mean of its square.
        """
        result: Floats = (
            self._squares(done) + done @ self.cups + (done - done**2) @ self._squares(np.eye(len(self.means)))
        )
        return result

    def _squares(self, done: Floats) -> Floats:
        """Variance without the cups: amounts of a cell move as one, and all cells share a difficulty."""
        moving = done @ self.moving
        shared = moving.sum(axis=1) ** 2 - (moving**2).sum(axis=1)
        result: Floats = ((done @ self.sds) ** 2).sum(axis=1) + math.expm1(self.difficulty**2) * shared
        return result


def _moments(one: Uncertain, difficulty: float) -> Moments:
    if one.median <= 0 or one.sd == 0:
        return Moments(_rounded_up(one), 0.0, 0.0, _cup_variance(one))
    sd = math.hypot(one.sd, difficulty)
    return _pieces(one, sd) if one.piece else _at_least(one, sd)


def _rounded_up(one: Uncertain) -> float:
    if one.piece:
        return one.piece * max(1.0, math.ceil(one.median / one.piece - 1e-9)) if one.median > 0 else 0.0
    return max(one.least, one.median + one.loss)


def _at_least(one: Uncertain, sd: float) -> Moments:
    """Moments of max(least, X + loss), X log-normal: what lies below the smallest mix counts as the smallest mix."""
    mean, square = one.median * math.exp(sd * sd / 2), one.median**2 * math.exp(2 * sd * sd)
    floor = one.least - one.loss
    if floor <= 0:
        return Moments(mean + one.loss, square - mean * mean, mean, _cup_variance(one))
    z = math.log(floor / one.median) / sd
    under, above = _NORMAL.cdf(z), 1.0 - _NORMAL.cdf(z)
    over = mean * _NORMAL.cdf(sd - z)  # E[X; X > floor]
    first = floor * under + over
    second = floor * floor * under + square * _NORMAL.cdf(2 * sd - z)
    return Moments(first + one.loss, max(0.0, second - first * first), over, _cup_variance(one) * above)


def _pieces(one: Uncertain, sd: float) -> Moments:
    """Moments of whole pieces, at least one: E[N] = 1 + Σ P(X > j), E[N²] = 1 + Σ (2j + 1) P(X > j), j from 1."""
    middle, piece = one.median / one.piece, one.piece
    if middle > _COUNTED_BY_HAND:
        mean = middle * math.exp(sd * sd / 2)
        return Moments((mean + 0.5) * piece, mean * mean * math.expm1(sd * sd) * piece * piece, mean * piece)
    first = second = 1.0
    moving, j = 0.0, 1
    while True:
        z = math.log(j / middle) / sd
        chance = 1.0 - _NORMAL.cdf(z)
        if chance < _SURE:
            break
        first += chance
        second += (2 * j + 1) * chance
        moving += _NORMAL.pdf(z) / sd  # slope of the mean against the logarithm of X
        j += 1
    return Moments(first * piece, max(0.0, second - first * first) * piece * piece, moving * piece)


def _cup_variance(one: Uncertain) -> float:
    """Variance of what its cups keep: each scatters on its own."""
    return (USUAL.cup_spread * one.loss) ** 2 / max(1, one.cups)
