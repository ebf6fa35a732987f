"""One cell by hand: what the whole model must agree with where it is this simple. Nothing in the shop runs on it.

With a known spread the posterior is the precision-weighted mean of trade default and logs; with an unknown one it is
normal-inverse-gamma, and the next job follows Student's t. Everything is in logarithms of use over need.
Source: Hoff, A First Course in Bayesian Statistical Methods, sections 5.2 and 5.3.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from quotes.costing.learning.student import StudentT, inverse_gamma_quantile


@dataclass(frozen=True, slots=True)
class Normal:
    """A middle and its standard deviation."""

    mean: float
    sd: float


def pooled(values: Sequence[float], sds: Sequence[float]) -> Normal:
    """The mean of values weighted by their precision, and its standard error. Raises ValueError for none."""
    if not values:
        raise ValueError("At least one value is needed.")
    weights = [1.0 / sd**2 for sd in sds]
    total = sum(weights)
    return Normal(
        sum(weight * value for weight, value in zip(weights, values, strict=True)) / total, math.sqrt(1.0 / total)
    )


def with_known_spread(prior: Normal, values: Sequence[float], spread: float) -> Normal:
    """The posterior of a cell's mean after its values, each scattering with the same known sd."""
    return pooled([prior.mean, *values], [prior.sd, *[spread] * len(values)])


@dataclass(frozen=True, slots=True)
class NormalInverseGamma:
    """A mean and a variance, both unknown.

    The mean counts for `mean_weight` values, the variance for `variance_weight`. In Hoff's letters: μ, κ, ν, σ².
    """

    mean: float
    mean_weight: float
    variance_weight: float
    variance: float

    def after(self, values: Sequence[float]) -> NormalInverseGamma:
        """The same after some values."""
        n = len(values)
        if n == 0:
            return self
        average = sum(values) / n
        squares = sum((value - average) ** 2 for value in values)
        weight, trust = self.mean_weight + n, self.variance_weight + n
        between = self.mean_weight * n / weight * (average - self.mean) ** 2
        return NormalInverseGamma(
            (self.mean_weight * self.mean + n * average) / weight,
            weight,
            trust,
            (self.variance_weight * self.variance + squares + between) / trust,
        )

    def next_value(self) -> StudentT:
        """What the next value will be."""
        return StudentT(self.mean, math.sqrt(self.variance * (1.0 + 1.0 / self.mean_weight)), self.variance_weight)

    def middle(self) -> StudentT:
        """Where the mean lies."""
        return StudentT(self.mean, math.sqrt(self.variance / self.mean_weight), self.variance_weight)

    def spread(self, chance: float) -> float:
        """The sd that is not exceeded with this chance."""
        half = self.variance_weight / 2.0
        return math.sqrt(inverse_gamma_quantile(chance, half, half * self.variance))
