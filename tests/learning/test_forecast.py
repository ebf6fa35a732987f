"""A forecast is worked out in closed form; drawing the job 40 000 times must say the same."""

from __future__ import annotations

import math

import numpy as np
import pytest

from quotes.costing.learning.forecast import forecast
from quotes.costing.learning.history import Cell, Term
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.layout import factor
from quotes.costing.learning.model.state import State, with_terms
from quotes.costing.stats.assumptions import MINUTES, USUAL
from tests.learning.simulator import HOURLY, TRADE, Plan, make

DRAWS = 40_000


@pytest.fixture(scope="module")
def shop():
    return make(21, Plan(jobs=40, logged=0.4, ask=12))


@pytest.fixture(scope="module")
def state(shop) -> State:
    return fit(shop.history).state


def draw(state: State, terms: list[Term], seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Material cost and minutes of a job, drawn from what the state says, one step after the other."""
    state, rng = with_terms(state, TRADE, terms), np.random.default_rng(seed)
    index = state.layout.index
    drawn = rng.multivariate_normal(state.x, state.covariance, DRAWS, method="cholesky")
    hard = {True: rng.normal(0, 0.10, DRAWS), False: rng.normal(0, 0.05, DRAWS)}
    cost, minutes = np.zeros(DRAWS), np.zeros(DRAWS)
    for term in terms:
        labour = term.material == MINUTES
        at = index[factor(Cell(term.operation, term.material))]
        logarithm = math.log(term.need * state.layout.middles[at]) + drawn[:, at] + hard[labour]
        for entry in (
            ("worker", term.worker, "labour" if labour else "material"),
            ("brand", term.material, term.brand),
        ):
            if entry in index:
                logarithm = logarithm + math.log(state.layout.middles[index[entry]]) + drawn[:, index[entry]]
        use = np.exp(logarithm + rng.normal(0, state.spread[at], DRAWS))
        if not labour and TRADE.materials[term.material].whole:
            counted = abs(term.need - round(term.need)) < 1e-6
            use = np.maximum(1.0, np.rint(use) if counted else np.ceil(use))
        if not labour and term.mixes:
            cup = index["loss", term.material]
            mixes = term.mixes + (rng.random(DRAWS) < state.extra_mix())
            for number in range(int(term.mixes) + 1):
                loss = state.layout.middles[cup] * np.exp(drawn[:, cup] + rng.normal(0, USUAL.cup_spread, DRAWS))
                use = use + np.where(number < mixes, loss, 0.0)
        if labour:
            minutes += use
        else:
            cost += use * TRADE.materials[term.material].price
    return cost, minutes


def test_closed_form_agrees_with_forty_thousand_draws(shop, state):
    """Mean within 0.2 % and 90 % point within 0.5 %, sd within 2 %, each with three standard errors of the draws."""
    for number, terms in enumerate(shop.asked.values()):
        found = forecast(state, TRADE, terms, HOURLY)
        cost, minutes = draw(state, terms, number)
        for law, values in (
            (found.material_cost, cost), (found.minutes, minutes), (found.total, cost + minutes * HOURLY / 60),
        ):  # fmt: skip
            noise = 3 * values.std() / values.mean() / math.sqrt(DRAWS)
            assert law.mean == pytest.approx(values.mean(), rel=0.002 + noise)
            assert law.sd == pytest.approx(values.std(), rel=0.02 + 3 / math.sqrt(2 * DRAWS))
            assert law.quantile(0.9) == pytest.approx(np.quantile(values, 0.9), rel=0.005 + 2 * noise)


def test_a_price_for_a_wanted_chance_of_loss_has_that_chance(shop, state):
    total = forecast(state, TRADE, next(iter(shop.asked.values())), HOURLY).total
    for chance in (0.05, 0.1, 0.2):
        assert total.chance_above(total.quantile(1 - chance)) == pytest.approx(chance, abs=1e-9)


def test_the_same_history_gives_the_same_state_to_the_last_digit(shop, state):
    assert fit(shop.history).state.digest() == state.digest()


def test_two_lines_of_one_operation_are_one_step(shop, state):
    terms = next(iter(shop.asked.values()))
    halves = [
        half
        for term in terms
        for half in (term._replace(need=term.need / 2), term._replace(need=term.need / 2, mixes=0.0))
    ]
    assert forecast(state, TRADE, halves, HOURLY).total.mean == pytest.approx(
        forecast(state, TRADE, terms, HOURLY).total.mean, rel=1e-12
    )


def test_an_hour_that_costs_nothing_leaves_the_material(shop, state):
    found = forecast(state, TRADE, next(iter(shop.asked.values())), 0.0)
    assert found.total.mean == pytest.approx(found.material_cost.mean, rel=1e-12)
