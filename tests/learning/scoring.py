"""How well a shop's forecasts did, over any number of made-up shops."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from quotes.costing.learning.doubts import doubts
from quotes.costing.learning.forecast import forecast
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.state import untaught
from quotes.costing.stats.assumptions import USUAL, Assumptions
from quotes.costing.stats.normal import quantile
from tests.learning.simulator import HOURLY, MadeUp, Plan, make, righted


@dataclass(frozen=True)
class Scored:
    """Shops × (material, minutes) mean absolute errors of the median; and per asked job and figure, how many sd off.

    `off` columns: material cost, minutes, total; positive where the truth was dearer.
    """

    learned: np.ndarray
    trade: np.ndarray
    knowing: np.ndarray
    off: np.ndarray
    flags: int
    right_flags: int
    large_slips: int
    caught: int

    def over_knowing(self) -> tuple[float, float]:
        """Error divided by that of the one who knows every true factor: material, minutes."""
        found = self.learned.mean(axis=0) / self.knowing.mean(axis=0)
        return float(found[0]), float(found[1])

    def unsure(self) -> tuple[float, float]:
        """The standard error of `over_knowing`, from shop to shop."""
        found = self.learned - np.array(self.over_knowing()) * self.knowing
        spread = found.std(axis=0, ddof=1) / self.knowing.mean(axis=0) / math.sqrt(len(found))
        return float(spread[0]), float(spread[1])

    def trade_over_knowing(self) -> tuple[float, float]:
        """The same of the trade defaults."""
        found = self.trade.mean(axis=0) / self.knowing.mean(axis=0)
        return float(found[0]), float(found[1])

    def within(self, share: float) -> np.ndarray:
        """How often the middle range of a share held: material, minutes, total."""
        return (np.abs(self.off) <= quantile(0.5 + share / 2)).mean(axis=0)

    def loss_rate(self, chosen: float) -> float:
        """How often a price with a chosen chance of loss lost."""
        return float((self.off[:, 2] > quantile(1 - chosen)).mean())

    def worse_than_trade(self) -> np.ndarray:
        """By how many standard errors the mean error over shops is above the trade's: material, minutes."""
        gap = self.learned - self.trade
        spread = gap.std(axis=0, ddof=1) / math.sqrt(len(gap))
        return gap.mean(axis=0) / np.maximum(spread, 1e-12)


def made(plan: Plan, seeds: Iterable[int]) -> Iterator[MadeUp]:
    """A shop of each seed."""
    return (make(seed, plan) for seed in seeds)


def score(shops: Iterable[MadeUp], assume: Assumptions = USUAL) -> Scored:
    """Learns from the history of each shop, and foretells what it is asked about."""
    learned, by_trade, knowing, off = [], [], [], []
    flags = right = large = caught = 0
    for shop in shops:
        trade, fitted = shop.history.trade, fit(shop.history, assume)
        nothing, errors = untaught(trade, assume), []
        for job, terms in shop.asked.items():
            truth = shop.truth[job]
            ours, theirs = (forecast(state, trade, terms, HOURLY, assume) for state in (fitted.state, nothing))
            errors.append([
                [abs(law.quantile(0.5) / value - 1) for law, value in zip(laws, truth, strict=True)]
                for laws in ((ours.material_cost, ours.minutes), (theirs.material_cost, theirs.minutes))
            ] + [[abs(guess / value - 1) for guess, value in zip(shop.knowing[job], truth, strict=True)]])  # fmt: skip
            real = (*truth, truth[0] + truth[1] * HOURLY / 60)
            off.append([
                math.log(value / law.quantile(0.5)) / law.log_sd
                for law, value in zip((ours.material_cost, ours.minutes, ours.total), real, strict=True)
            ])  # fmt: skip
        ours, theirs, knows = np.array(errors).mean(axis=0)
        learned.append(ours), by_trade.append(theirs), knowing.append(knows)
        flagged = {(found.job, found.operation, found.material) for found in doubts(fitted, trade, assume)}
        big = {key for key, times in shop.slips.items() if abs(math.log(times)) > math.log(3)}
        flags, right = flags + len(flagged), right + len(flagged & set(shop.slips))
        large, caught = large + len(big), caught + len(big & flagged)
    return Scored(np.array(learned), np.array(by_trade), np.array(knowing), np.array(off), flags, right, large, caught)


def best(shops: Iterable[MadeUp], assume: Assumptions = USUAL) -> tuple[float, float]:
    """The same ratio as `over_knowing`, of one who is told how far each step scatters and which logs are wrong.

    What is left of it is what the shop has not written down: nobody learns that from the same history.
    """
    learned, knowing = [], []
    for shop in map(righted, shops):
        state = fit(shop.history, assume, {cell: spread for cell, spread in shop.spreads.items() if spread > 0}).state
        foretold = {
            job: forecast(state, shop.history.trade, terms, HOURLY, assume) for job, terms in shop.asked.items()
        }
        medians = {job: (law.material_cost.quantile(0.5), law.minutes.quantile(0.5)) for job, law in foretold.items()}
        learned.append(_error(medians, shop)), knowing.append(_error(shop.knowing, shop))
    found = np.mean(learned, axis=0) / np.mean(knowing, axis=0)
    return float(found[0]), float(found[1])


def _error(medians: Mapping[str, tuple[float, float]], shop: MadeUp) -> np.ndarray:
    """Mean absolute error of medians over the asked jobs: material, minutes."""
    return np.mean([np.abs(np.array(medians[job]) / shop.truth[job] - 1) for job in shop.asked], axis=0)
