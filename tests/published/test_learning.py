"""Learning against worked examples, all computed by the product's own code.

Eight schools: D. B. Rubin, Journal of Educational Statistics 6 (1981); Gelman et al., Bayesian Data Analysis, section
5.5. Dyestuff: O. L. Davies and P. L. Goldsmith, Statistical Methods in Research and Production (1972); the shrunk
effects as printed by lme4 and MixedModels.jl at the maximum-likelihood estimates.
Densities and quantiles: SciPy (scipy.stats). Standard-cost variances: OpenStax, Principles of Accounting, volume 2,
sections 8.2 and 8.3.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from quotes.costing.learning.history import Cell, History, HistoryMaterial, Log, Range, Term, Trade
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.layout import factor
from quotes.costing.learning.variances import variance
from quotes.costing.stats.assumptions import USUAL
from quotes.costing.stats.normal import LogNormal, below, between, quantile

SCHOOLS = [28.0, 8.0, -3.0, 7.0, -1.0, 1.0, 18.0, 12.0]
SCHOOL_SD = [15.0, 10.0, 16.0, 11.0, 9.0, 11.0, 10.0, 18.0]
DYESTUFF = {  # yield of five preparations of each batch, g
    "A": [1545.0, 1440.0, 1440.0, 1520.0, 1580.0],
    "B": [1540.0, 1555.0, 1490.0, 1560.0, 1495.0],
    "C": [1595.0, 1550.0, 1605.0, 1510.0, 1560.0],
    "D": [1445.0, 1440.0, 1595.0, 1465.0, 1545.0],
    "E": [1595.0, 1630.0, 1515.0, 1635.0, 1625.0],
    "F": [1520.0, 1455.0, 1450.0, 1480.0, 1445.0],
}
AS_IT_STANDS = replace(USUAL, range_trust=1e12, narrow=0.0)  # the trade range is the prior, and stays it
END = stats.norm.ppf(0.95)


def learned_middles(mean: float, sd: float, groups: dict[str, list[float]], spreads: dict[str, float]) -> list[float]:
    """The middles of normal groups with a common prior, as the whole fit learns them.

    Each group is a cell of a shop.
    """
    wide = math.exp(sd * END / AS_IT_STANDS.widen)
    usual = Range(math.exp(mean), math.exp(mean) / wide, math.exp(mean) * wide)
    cells = {name: Cell(name, "resin") for name in groups}
    trade = Trade({"resin": HistoryMaterial("resin", "g", 1.0)}, dict.fromkeys(cells.values(), usual))
    terms, logs = [], []
    for name, values in groups.items():
        for number, value in enumerate(values):
            terms.append(Term(f"{name}{number}", name, 0.0, "A", "resin", 1.0))
            logs.append(Log(f"{name}{number}", name, "resin", math.exp(value)))
    known = {cells[name]: spread for name, spread in spreads.items()}
    state = fit(History(trade, tuple(terms), tuple(logs)), AS_IT_STANDS, known).state
    return [mean + float(state.x[state.layout.index[factor(cell)]]) for cell in cells.values()]


@pytest.mark.parametrize(("mu", "tau"), [(4.41, 3.60), (7.686, 10.0)])
def test_eight_schools_shrink_as_the_closed_form_says(mu, tau):
    """With μ and τ fixed, θ = (y/σ² + μ/τ²) ÷ (1/σ² + 1/τ²): Bayesian Data Analysis, equation 5.17."""
    by_hand = [(y / sd**2 + mu / tau**2) / (1 / sd**2 + 1 / tau**2) for y, sd in zip(SCHOOLS, SCHOOL_SD, strict=True)]
    names = [f"school {number}" for number in range(8)]
    small = 100.0  # logarithms of a hundredth, so that a negative effect is a factor below one
    learned = learned_middles(
        mu / small,
        tau / small,
        {name: [y / small] for name, y in zip(names, SCHOOLS, strict=True)},
        {name: sd / small for name, sd in zip(names, SCHOOL_SD, strict=True)},
    )
    assert [small * middle for middle in learned] == pytest.approx(by_hand, abs=1e-6)


def test_dyestuff_batches_shrink_as_mixed_models_print_them():
    """θ = 0.752580, mean 1527.5, residual variance 2451.25: the batches' sd is θ times the residual's."""
    residual_sd, thousand = math.sqrt(2451.25), 1000.0
    learned = learned_middles(
        0.0,
        0.752580 * residual_sd / thousand,
        {batch: [(value - 1527.5) / thousand for value in values] for batch, values in DYESTUFF.items()},
        dict.fromkeys(DYESTUFF, residual_sd / thousand),
    )
    effects = [thousand * middle for middle in learned]
    assert effects == pytest.approx([-16.628, 0.370, 26.975, -21.801, 53.580, -42.494], abs=2e-3)


def test_one_cell_with_known_spread_is_the_conjugate_update():
    """The precision-weighted mean of prior and values: Hoff, A First Course in Bayesian Statistical Methods, 5.2."""
    values = [0.31, 0.45, 0.28, 0.52, 0.37]
    by_hand = (0.3 / 0.2**2 + sum(values) / 0.18**2) / (1 / 0.2**2 + 5 / 0.18**2)
    learned = learned_middles(0.3, 0.2, {"lam": values}, {"lam": 0.18})
    assert learned[0] == pytest.approx(by_hand, abs=1e-8)


def test_log_normal_quantiles_and_chance_of_loss_agree_with_scipy():
    cost = LogNormal(120.0, 18.0)
    theirs = stats.lognorm(cost.log_sd, scale=120.0 * math.exp(-(cost.log_sd**2) / 2))
    assert (theirs.mean(), theirs.std()) == pytest.approx((120.0, 18.0))
    for chance in (0.05, 0.1, 0.5, 0.8, 0.95):
        assert cost.quantile(chance) == pytest.approx(theirs.ppf(chance), rel=1e-12)
    for price in (60.0, 119.0, 140.0, 300.0):
        assert cost.chance_above(price) == pytest.approx(theirs.sf(price), abs=1e-12)


def test_normal_chances_and_moments_between_bounds_agree_with_scipy():
    z = np.linspace(-8.5, 8.5, 4001)
    assert np.abs(below(z) - stats.norm.cdf(z)).max() < 1e-11
    low, high = np.array([-1.0, 0.5, -np.inf, 2.0]), np.array([0.3, 4.0, 1.2, 2.5])
    mean, square = between(low, high)
    theirs = stats.truncnorm(low, high)
    assert mean == pytest.approx(theirs.mean(), abs=1e-8)
    assert square == pytest.approx(theirs.var() + theirs.mean() ** 2, abs=1e-8)
    assert quantile(0.95) == pytest.approx(stats.norm.ppf(0.95), abs=1e-12)


# Candy: standard 0.25 lb of cocoa at 7.00 a box, 0.10 h at 8.00. (real price, real quantity, boxes, price, quantity)
CANDY_MATERIAL = [
    (6.00, 20.0, 20.0, -20.00, 0.00),
    (9.00, 20.0, 20.0, 40.00, 0.00),
    (7.00, 0.20, 0.25, 0.00, -0.35),
    (7.00, 0.50, 0.25, 0.00, 1.75),
    (9.00, 0.50, 0.25, 1.00, 1.75),
]
CANDY_LABOUR = [
    (7.50, 0.10, -0.05, 0.00),
    (9.50, 0.10, 0.15, 0.00),
    (8.00, 0.05, 0.00, -0.40),
    (8.00, 0.20, 0.00, 0.80),
    (9.50, 0.20, 0.30, 0.80),
]


@pytest.mark.parametrize(("real_price", "real_qty", "planned_qty", "price", "qty"), CANDY_MATERIAL)
def test_candy_materials_vary_as_the_book_says(real_price, real_qty, planned_qty, price, qty):
    found = variance(planned_price=7.00, planned_qty=planned_qty, real_price=real_price, real_qty=real_qty)
    assert (found.price, found.quantity) == pytest.approx((price, qty), abs=1e-12)
    assert found.total == pytest.approx(real_price * real_qty - 7.00 * planned_qty)


@pytest.mark.parametrize(("rate", "hours", "by_rate", "by_time"), CANDY_LABOUR)
def test_candy_labour_varies_as_the_book_says(rate, hours, by_rate, by_time):
    found = variance(planned_price=8.00, planned_qty=0.10, real_price=rate, real_qty=hours)
    assert (found.price, found.quantity) == pytest.approx((by_rate, by_time), abs=1e-12)


def test_biglow_varies_as_the_book_says():
    """11 000 bottles of 8 oz at 0.85, 89 000 oz for 74 760; 16 500 h at 35 planned, 16 000 h for 565 600.

    The book's picture calls the labour total unfavourable and its rate part 5,650 once: slips, 565 600 is 11 900 less.
    """
    material = variance(planned_price=0.85, planned_qty=88_000, real_price=0.84, real_qty=89_000)
    assert (material.price, material.quantity, material.total) == pytest.approx((-890.0, 850.0, -40.0))
    labour = variance(planned_price=35.0, planned_qty=16_500, real_price=35.35, real_qty=16_000)
    assert (labour.price, labour.quantity, labour.total) == pytest.approx((5_600.0, -17_500.0, -11_900.0))
