"""Student's t and the inverse gamma without SciPy: density, distribution, quantile.

The incomplete beta and gamma functions by continued fraction and series: NIST Digital Library of Mathematical
Functions, 8.17.22 and 8.11.4, 8.9.2. Quantiles by bisection: slow, sure, and good to 1e-12.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

_TINY = 1e-300
_CLOSE = 1e-15
_TERMS = 10_000


@dataclass(frozen=True, slots=True)
class StudentT:
    """Student's t around a middle, with a scale and degrees of freedom."""

    middle: float
    scale: float
    freedom: float

    def density(self, value: float) -> float:
        """The density at a value."""
        z, nu = (value - self.middle) / self.scale, self.freedom
        log = math.lgamma((nu + 1) / 2) - math.lgamma(nu / 2) - 0.5 * math.log(nu * math.pi) - math.log(self.scale)
        return math.exp(log - (nu + 1) / 2 * math.log1p(z * z / nu))

    def below(self, value: float) -> float:
        """The chance of lying below a value."""
        z, nu = (value - self.middle) / self.scale, self.freedom
        square = z * z / (nu + z * z)
        if square < 0.5:
            return 0.5 + math.copysign(0.5 * incomplete_beta(0.5, nu / 2, square), z)
        tail = 0.5 * incomplete_beta(nu / 2, 0.5, nu / (nu + z * z))
        return 1.0 - tail if z > 0 else tail

    def quantile(self, chance: float) -> float:
        """The value that is not exceeded with this chance. Raises ValueError outside 0 to 1."""
        standard = StudentT(0.0, 1.0, self.freedom)
        return self.middle + self.scale * _solve(standard.below, chance, -1.0, 1.0)


def inverse_gamma_quantile(chance: float, shape: float, scale: float) -> float:
    """The value an inverse gamma does not exceed with this chance. Raises ValueError outside 0 to 1."""
    logarithm = _solve(lambda log: 1.0 - incomplete_gamma(shape, scale / math.exp(log)), chance, -1.0, 1.0)
    return math.exp(logarithm)


def incomplete_beta(a: float, b: float, x: float) -> float:
    """The regularised incomplete beta function I_x(a, b)."""
    if x <= 0.0 or x >= 1.0:
        return 0.0 if x <= 0.0 else 1.0
    if x > (a + 1.0) / (a + b + 2.0):
        return 1.0 - incomplete_beta(b, a, 1.0 - x)
    front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)

    def term(number: int) -> float:
        if number == 0:
            return 1.0
        m, odd = divmod(number, 2)
        if odd:
            return -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1))
        return m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m))

    return math.exp(front) / a * _fraction(term, lambda number: 1.0)


def incomplete_gamma(shape: float, x: float) -> float:
    """The regularised lower incomplete gamma function P(shape, x)."""
    if x <= 0.0:
        return 0.0
    front = math.exp(shape * math.log(x) - x - math.lgamma(shape))
    if x < shape + 1.0:
        term = total = 1.0 / shape
        for number in range(1, _TERMS):
            term *= x / (shape + number)
            total += term
            if term < total * _CLOSE:
                break
        return front * total
    rest = _fraction(
        lambda number: 1.0 if number == 0 else number * (shape - number), lambda number: x - shape + 1.0 + 2.0 * number
    )
    return 1.0 - front * rest


def _fraction(above: Callable[[int], float], under: Callable[[int], float]) -> float:
    """The continued fraction a₀/(b₀ + a₁/(b₁ + …)), by Lentz's method."""
    value, c, d = _TINY, _TINY, 0.0
    for number in range(_TERMS):
        a, b = above(number), under(number)
        d = 1.0 / ((b + a * d) or _TINY)
        c = (b + a / c) or _TINY
        value *= c * d
        if number and abs(c * d - 1.0) < _CLOSE:
            break
    return value


def _solve(below: Callable[[float], float], chance: float, low: float, high: float) -> float:
    if not 0.0 < chance < 1.0:
        raise ValueError(f"A chance must lie between 0 and 1, both left out; {chance:g} does not.")
    while below(low) > chance:
        low *= 2.0
    while below(high) < chance:
        high *= 2.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        if middle in (low, high):
            break
        low, high = (middle, high) if below(middle) < chance else (low, middle)
    return 0.5 * (low + high)
