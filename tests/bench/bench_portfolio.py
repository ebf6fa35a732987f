"""A thousand open quotes of about thirty lines, each a thousand times, against the same sums straight in NumPy."""

from __future__ import annotations

import numpy as np

from quotes.costing import STARTING_RECIPES, Portfolio, estimate
from tests.bench import Ratio, measure
from tests.costing.marram import PU, SHOP

QUOTES, DRAWS, LINES = 1000, 1000, 30
RESIN = {"resin-lam": 0.0095, "labour": 0.44}


def ratios() -> list[Ratio]:
    """Repricing after a dearer resin and a higher wage, with the spread of each quote."""
    made = snapshots()
    portfolio = Portfolio.of(made)
    nets = np.array([float(one["price_before_tax"]) for one in made])
    return [
        measure(
            f"{QUOTES} quotes × {LINES} lines × {DRAWS} draws",
            ours=lambda: portfolio.throw(RESIN, nets, np.random.default_rng(1), DRAWS),
            floor=lambda: straight(portfolio, nets),
            floor_words="normals, exp, ×, +, max, ceil, ×, sum, quantiles, in chunks of 50 quotes",
            most=3,
            rounds=3,
        ),
        measure(
            f"{QUOTES} quotes × {LINES} lines, no draws",
            ours=lambda: portfolio.costs(RESIN),
            floor=lambda: np.add.reduceat(portfolio.counted * portfolio.stored[portfolio.price], portfolio.starts),
            floor_words="× and sum",
            most=3,
            rounds=21,
            loops=10,
        ),
    ]


def snapshots() -> list[dict]:
    """The quotes, as they are stored."""
    dent = STARTING_RECIPES["leash-plug"]
    made = []
    for number in range(QUOTES):
        sizes = {"plugs": 1, "hole_diameter": 28.0 + number % 30, "hole_depth": 18.0 + number % 17}
        snapshot = estimate(dent, sizes, SHOP, board=PU).as_dict()
        snapshot["lines"] = snapshot["lines"][:LINES]
        made.append(snapshot)
    return made


def straight(portfolio: Portfolio, nets: np.ndarray) -> list[np.ndarray]:
    """The same arithmetic with nothing around it."""
    dice = np.random.default_rng(1)
    price = portfolio.stored[portfolio.price]
    found = []
    for first in range(0, QUOTES, 50):
        rows = slice(first * LINES, (first + 50) * LINES)
        use = np.exp(dice.standard_normal((DRAWS, 50 * LINES)) * portfolio.sd[rows])
        use = np.maximum(use * portfolio.middle[rows] + portfolio.loss[rows], portfolio.least[rows])
        use = np.where(portfolio.whole[rows], np.ceil(use), use)
        cost = (use * price[rows]).reshape(DRAWS, 50, LINES).sum(axis=2)
        found.append(np.vstack([cost.mean(0), *np.quantile(cost, (0.1, 0.5, 0.9), axis=0)]))
        found.append((cost > nets[first : first + 50]).mean(0))
    return found
