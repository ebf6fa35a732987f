"""Gamma and beta law: chance below a value, and the value below which a chance lies. What shares and rates are told by.

Sources, all from memory: M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964): 6.5.29, the gamma
law as a series of positive terms; 26.5.8, the beta law as a continued fraction, summed by the method of Lentz.
"""

from __future__ import annotations

import math
from functools import lru_cache

EIGHT_IN_TEN = (0.1, 0.9)
_HALVINGS = 60
_ROUNDS = 1000
_NOTHING = 1e-16


def gamma_below(x: float, shape: float) -> float:
    """Chance that a gamma variable of this shape (above 0) and scale 1 is below x."""
    if x <= 0:
        return 0.0
    term = math.exp(shape * math.log(x) - x - math.lgamma(shape + 1.0))
    total, number = term, shape
    while term > 1e-17 * total or x > number:
        number += 1.0
        term *= x / number
        total += term
    return min(1.0, total)


@lru_cache(maxsize=1024)
def gamma_quantile(chance: float, shape: float) -> float:
    """Quantile of a gamma variable of this shape and scale 1, for a chance above 0 and below 1."""
    low, high = 0.0, shape + 1.0
    while gamma_below(high, shape) < chance:
        low, high = high, high + 2.0 * math.sqrt(shape) + 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if gamma_below(middle, shape) < chance else (low, middle)
    return (low + high) / 2.0


def beta_below(x: float, a: float, b: float) -> float:
    """Chance that a beta variable with these parameters (both above 0) is below x."""
    if x <= 0.0 or x >= 1.0:
        return float(x >= 1.0)
    if x > (a + 1.0) / (a + b + 2.0):  # where the fraction converges slowly its mirror does not
        return 1.0 - beta_below(1.0 - x, b, a)
    front = math.lgamma(a + b) - math.lgamma(a) - math.lgamma(b) + a * math.log(x) + b * math.log1p(-x)
    return math.exp(front) / a * _fraction(x, a, b)


@lru_cache(maxsize=1024)
def beta_quantile(chance: float, a: float, b: float) -> float:
    """Quantile of a beta variable with these parameters, to 1e-18, for a chance above 0 and below 1."""
    low, high = 0.0, 1.0
    for _ in range(_HALVINGS):
        middle = (low + high) / 2.0
        low, high = (middle, high) if beta_below(middle, a, b) < chance else (low, middle)
    return (low + high) / 2.0


def _fraction(x: float, a: float, b: float) -> float:
    """The continued fraction of the beta law, which is 1 at x = 0."""
    c, d = 1.0, 1.0 / (1.0 - (a + b) * x / (a + 1.0))
    total = d
    for m in range(1, _ROUNDS):
        at = a + 2.0 * m
        for term in (m * (b - m) * x / ((at - 1.0) * at), -(a + m) * (a + b + m) * x / (at * (at + 1.0))):
            d = 1.0 / (1.0 + term * d)
            c = 1.0 + term / c
            total *= c * d
        if abs(c * d - 1.0) < _NOTHING:
            break
    return total
