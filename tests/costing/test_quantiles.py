"""Gamma and beta law against SciPy (scipy.stats)."""

from __future__ import annotations

import pytest
from scipy import stats

from quotes.costing.stats.quantiles import beta_below, beta_quantile, gamma_quantile

CHANCES = [0.001, 0.1, 0.5, 0.9, 0.999]


@pytest.mark.parametrize("shape", [0.3, 1.0, 2.0, 7.5, 40.0, 900.0, 20_000.0])
@pytest.mark.parametrize("chance", CHANCES)
def test_gamma_quantiles_are_those_of_a_reference_library(shape, chance):
    assert gamma_quantile(chance, shape) == pytest.approx(stats.gamma.ppf(chance, shape), rel=1e-9, abs=1e-14)


@pytest.mark.parametrize(("a", "b"), [(0.4, 19.6), (1, 1), (3, 17), (17.5, 3.5), (200, 4.2), (0.05, 0.05), (900, 900)])
@pytest.mark.parametrize("chance", CHANCES)
def test_beta_law_is_that_of_a_reference_library(a, b, chance):
    at = stats.beta.ppf(chance, a, b)
    assert beta_below(at, a, b) == pytest.approx(stats.beta.cdf(at, a, b), rel=1e-9)
    assert beta_quantile(chance, a, b) == pytest.approx(at, rel=1e-8, abs=1e-15)


def test_beyond_its_ends_the_beta_law_is_nothing_or_all():
    assert [beta_below(x, 2, 3) for x in (-1.0, 0.0, 1.0, 2.0)] == [0.0, 0.0, 1.0, 1.0]
