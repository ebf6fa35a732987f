"""The normal and log-normal law in NumPy, for arrays: chances, moments between two bounds, quantiles.

The distribution function is a table of exact values (math.erfc) with three terms of the Taylor series between its
points: error below 1e-11. Moments between bounds: Johnson, Kotz & Balakrishnan, Continuous Univariate Distributions,
volume 1, section 10.1, from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

_PER_UNIT = 256
_REACH = 9.0
_GRID = np.arange(-_REACH, _REACH + 0.5 / _PER_UNIT, 1.0 / _PER_UNIT)
_TABLE = np.array([0.5 * math.erfc(-z / math.sqrt(2.0)) for z in _GRID])
_SLOPE = np.exp(-0.5 * _GRID * _GRID) / math.sqrt(2.0 * math.pi)
_NARROW = 1e-3  # in sd: bounds closer than this are one point
_STANDARD = NormalDist()


def density(z: Floats) -> Floats:
    """Standard normal density at z sd; 0 at ±infinity."""
    result: Floats = np.exp(-0.5 * z * z) / math.sqrt(2.0 * math.pi)
    return result


def below(z: Floats) -> Floats:
    """Chance that a standard normal is below z, to 1e-11."""
    z = np.clip(z, -_REACH, _REACH)
    nearest = np.rint((z + _REACH) * _PER_UNIT).astype(np.int64)
    at = _GRID[nearest]
    d = z - at
    result: Floats = _TABLE[nearest] + _SLOPE[nearest] * d * (1.0 - d / 2.0 * at + d * d / 6.0 * (at * at - 1.0))
    return result


def between(low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Mean and mean square of a standard normal known to lie between low and high (in sd; −infinity is a bound).

    Bounds closer than 0.001 are taken as one point, and so is the nearer bound where both are far out.
    """
    chance = below(high) - below(low)
    nearer = np.where(low > 0, low, high)
    with np.errstate(invalid="ignore", divide="ignore"):
        p, q = density(low), density(high)
        low_p, high_q = np.where(np.isinf(low), 0.0, low * p), np.where(np.isinf(high), 0.0, high * q)
        mean = (p - q) / chance
        square = 1.0 + (low_p - high_q) / chance
    far = chance < 1e-9
    narrow = high - low < _NARROW
    point = np.where(narrow, 0.5 * (low + high), nearer)
    one = far | narrow
    return np.where(one, point, mean), np.where(one, point * point, square)


def quantile(chance: float) -> float:
    """Standard normal quantile, in sd, of a chance. Raises ValueError outside 0 to 1."""
    if not 0.0 < chance < 1.0:
        raise ValueError(f"A chance must lie between 0 and 1, both left out; {chance:g} does not.")
    return _STANDARD.inv_cdf(chance)


@dataclass(frozen=True, slots=True)
class LogNormal:
    """An amount that is never negative, by its mean and standard deviation, in one unit (currency, minutes, grams)."""

    mean: float
    sd: float

    @property
    def log_sd(self) -> float:
        """Standard deviation of the logarithm."""
        return math.sqrt(math.log1p((self.sd / self.mean) ** 2)) if self.mean > 0 else 0.0

    def quantile(self, chance: float) -> float:
        """Amount that is not exceeded with this chance; for a cost, the price whose chance of loss is 1 − chance."""
        if self.mean <= 0:
            return 0.0
        return self.mean * math.exp(self.log_sd * quantile(chance) - self.log_sd**2 / 2.0)

    def chance_above(self, amount: float) -> float:
        """Chance of exceeding an amount; for a cost and a price without tax, the chance of loss."""
        if amount <= 0:
            return 1.0 if self.mean > 0 else 0.0
        if self.log_sd == 0:
            return 1.0 if self.mean > amount else 0.0
        z = (math.log(amount / self.mean) + self.log_sd**2 / 2.0) / self.log_sd
        return 1.0 - _STANDARD.cdf(z)

    def as_dict(self) -> dict[str, float]:
        """Mean, and the quantiles q05 q10 q25 q50 q75 q90 q95, in the unit of the amount."""
        return {"mean": self.mean} | {f"q{p:02d}": self.quantile(p / 100) for p in (5, 10, 25, 50, 75, 90, 95)}
