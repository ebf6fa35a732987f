"""Many quotes repriced at once: the same figures as one by one, whatever the number."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from quotes.costing import STARTING_RECIPES, Portfolio, Price, estimate, risk
from quotes.costing.learning.again import Again
from tests.costing.marram import EPS, PU, SHOP, sizes_for

KEYS = ["glass-on-twin", "fin-box", "ding-rail-medium", "snap", "re-gloss"]


def snapshots(shop=SHOP) -> list[dict]:
    found = []
    for key in KEYS:
        for board in (PU, EPS):
            sizes = sizes_for(STARTING_RECIPES[key])
            found.append(estimate(STARTING_RECIPES[key], sizes, shop, board=board, accepted_odd=sizes).as_dict())
    return found


def test_at_the_stored_prices_the_costs_are_those_of_the_snapshots():
    stored = snapshots()
    assert Portfolio.of(stored).costs({}) == pytest.approx([one["cost_unrounded"] for one in stored])


def test_a_dearer_resin_and_a_higher_wage_reprice_every_quote():
    resin = SHOP.materials["resin-lam"]
    dear = replace(
        SHOP, wage_per_hour=29.0, materials={**SHOP.materials, "resin-lam": replace(resin, price=Price(0.0095, "new"))}
    )
    again = Portfolio.of(snapshots()).costs({"resin-lam": 0.0095, "labour": 29.0 / 60})
    assert again == pytest.approx([one["cost_unrounded"] for one in snapshots(dear)])


def test_dice_agree_with_the_closed_form_quote_by_quote():
    stored = snapshots()
    nets = np.array([1.15 * one["cost_unrounded"] for one in stored])
    thrown = Portfolio.of(stored).throw({}, nets, np.random.default_rng(3), 20_000)
    for index, one in enumerate(stored):
        closed = risk([one])
        assert thrown.mean[index] == pytest.approx(closed.cost.mean, rel=0.006)
        assert thrown.q90[index] == pytest.approx(closed.cost.quantile(0.9), rel=0.012)
        assert thrown.chance_of_loss[index] == pytest.approx(closed.chance_of_loss(nets[index]), abs=0.03)
        assert thrown.q10[index] < thrown.q50[index] < thrown.q90[index]


def test_the_number_of_quotes_in_a_chunk_changes_nothing_but_the_dice(monkeypatch):
    stored = snapshots()
    nets = np.array([float(one["price_before_tax"]) for one in stored])
    whole = Portfolio.of(stored).throw({}, nets, np.random.default_rng(5), 4000)
    monkeypatch.setattr("quotes.costing.portfolio._CHUNK", 1)
    one_by_one = Portfolio.of(stored).throw({}, nets, np.random.default_rng(5), 4000)
    assert one_by_one.mean == pytest.approx(whole.mean, rel=0.02)
    assert len(one_by_one.mean) == len(stored)


def test_a_quote_without_lines_is_named():
    gap = estimate(STARTING_RECIPES["snap"], {}, SHOP, board=PU).as_dict()
    with pytest.raises(ValueError, match="Quote 2 has no lines"):
        Portfolio.of([snapshots()[0], gap])


def test_what_is_done_again_now_and_then_is_repriced_and_tossed_for_too():
    """1 pour and 1 laminate in 5: mean and range by dice as the closed form has them."""
    rates = {key: Again(key, 10, 2, 0.2, 0.0) for key in ("pour-foam", "laminate")}
    stored = snapshots(replace(SHOP, again=rates))
    assert any(one["again"] for one in stored)
    book = Portfolio.of(stored)
    assert book.costs({}) == pytest.approx([one["cost_unrounded"] for one in stored])
    nets = np.array([1.15 * one["cost_unrounded"] for one in stored])
    thrown = book.throw({}, nets, np.random.default_rng(7), 20_000)
    for index, (one, plain) in enumerate(zip(stored, snapshots(), strict=True)):
        closed = risk([one]).cost
        assert thrown.mean[index] == pytest.approx(closed.mean, rel=0.006)
        assert thrown.q90[index] == pytest.approx(closed.quantile(0.9), rel=0.012)
        assert thrown.chance_of_loss[index] == pytest.approx(closed.chance_above(nets[index]), abs=0.03)
        if one["again"]:
            assert closed.mean > risk([plain]).cost.mean
            assert closed.sd > risk([plain]).cost.sd
