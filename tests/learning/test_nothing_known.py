"""A shop that has written nothing down gets the trade's figures, and a price that is honest about how wide they are."""

from __future__ import annotations

import math

import pytest

from quotes.costing.learning.forecast import by_material, expected_use, forecast
from quotes.costing.learning.history import Cell, History, HistoryMaterial, Range, Term, Trade
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.state import untaught
from tests.learning.simulator import HOURLY, TRADE, Plan, make

ONE_LINE = Trade(
    {
        "foam": HistoryMaterial("foam", "g", 0.05),
        "disc": HistoryMaterial("disc", "each", 0.9),
        "box": HistoryMaterial("box", "each", 9.0),
    },
    {
        Cell("pour", "foam"): Range(1.4, 1.1, 1.9),
        Cell("sand", "disc"): Range(1.2, 0.7, 2.0),
        Cell("set", "box"): Range(1.0, 0.98, 1.02),
        Cell("pour", "minutes"): Range(1.1, 0.75, 1.6),
    },
)


def test_with_no_data_every_factor_is_exactly_the_trade_default():
    state = fit(History(TRADE)).state
    for cell, usual in TRADE.factors.items():
        figure = state.figure(cell)
        assert figure.used == usual.mid
        assert figure.own is None
        assert (figure.logs, figure.counts) == (0, 0)


def test_with_no_data_a_forecast_is_exactly_that_of_the_trade_defaults():
    shop = make(3, Plan(jobs=2, logged=0.0, count_every=None, ask=5))
    for terms in shop.asked.values():
        empty = forecast(fit(History(TRADE)).state, TRADE, terms, HOURLY)
        silent = forecast(fit(shop.history).state, TRADE, terms, HOURLY)
        assert empty == forecast(untaught(TRADE), TRADE, terms, HOURLY)
        assert silent.material_cost.mean == pytest.approx(empty.material_cost.mean, rel=1e-9)


def test_a_job_with_nothing_logged_is_no_error_and_changes_no_figure():
    shop = make(3, Plan(jobs=1, logged=0.0, count_every=None, ask=1))
    start = untaught(TRADE)
    after = fit(shop.history).state
    assert after.jobs == 1
    assert after.x[: len(start.x)].tolist() == start.x.tolist()


def test_one_weighed_line_by_hand():
    """50 g × 1.4 with the widened range, a job-to-job sd of 0.173 and a difficulty of 0.05."""
    use = expected_use(untaught(ONE_LINE), ONE_LINE, [Term("1", "pour", 0.0, "A", "foam", 50.0)])
    range_sd = 1.15 * math.log(1.9 / 1.1) / (2 * 1.6448536269514722)
    variance = range_sd**2 + 0.173**2 + 0.05**2
    foam = by_material(use)["foam"]
    assert foam.mean == pytest.approx(70.0 * math.exp(variance / 2), rel=1e-12)
    assert foam.sd == pytest.approx(foam.mean * math.sqrt(math.expm1(variance)), rel=1e-12)
    assert foam.quantile(0.5) == pytest.approx(70.0, rel=1e-9)


def test_a_disc_that_is_hardly_touched_is_still_one_disc():
    use = by_material(expected_use(untaught(ONE_LINE), ONE_LINE, [Term("1", "sand", 0.0, "A", "disc", 0.02)]))
    assert use["disc"].mean == pytest.approx(1.0, abs=1e-6)


def test_discs_round_up_by_the_chances_of_each_piece():
    """Median 0.6 × 1.2 = 0.72: one disc, a second where need × factor passes 1, a third past 2, and so on."""
    from scipy import stats

    range_sd = 1.15 * math.log(2.0 / 0.7) / (2 * stats.norm.ppf(0.95))
    sd = math.sqrt(range_sd**2 + 0.173**2 + 0.05**2)
    chances = [stats.lognorm.sf(pieces, sd, scale=0.72) for pieces in range(1, 60)]
    use = by_material(expected_use(untaught(ONE_LINE), ONE_LINE, [Term("1", "sand", 0.0, "A", "disc", 0.6)]))
    assert use["disc"].mean == pytest.approx(1.0 + sum(chances), rel=1e-6)


def test_discs_of_which_a_whole_number_is_needed_on_paper_round_up_like_all_others():
    """Median 1.2: two discs, more where need × factor passes 2; a box has no such range and stays one."""
    use = by_material(expected_use(untaught(ONE_LINE), ONE_LINE, [Term("1", "sand", 0.0, "A", "disc", 1.0)]))
    near = by_material(expected_use(untaught(ONE_LINE), ONE_LINE, [Term("1", "sand", 0.0, "A", "disc", 1.001)]))
    assert use["disc"].mean == pytest.approx(near["disc"].mean, rel=2e-3)
    assert use["disc"].mean > 1.7


def test_a_range_of_no_width_still_leaves_room_from_job_to_job_but_for_whole_pieces():
    flat = Trade(
        ONE_LINE.materials, {cell: Range(usual.mid, usual.mid, usual.mid) for cell, usual in ONE_LINE.factors.items()}
    )
    terms = [Term("1", "pour", 0.0, "A", "foam", 50.0), Term("1", "set", 0.0, "A", "box", 1.0)]
    use = by_material(expected_use(untaught(flat), flat, terms))
    assert use["foam"].quantile(0.5) == pytest.approx(70.0, rel=1e-9)
    assert use["foam"].log_sd > 0.173
    assert use["box"].sd < 1e-3


def test_a_step_by_nobody_in_particular_is_by_the_one_who_works_here():
    state = fit(make(5, Plan(jobs=20, logged=1.0, second_worker=0.0, new_brand=0.0)).history).state
    known = Term("x", "pour", 50.0, "A", "pour_foam", 60.0, 1.0, "first")
    timed = known._replace(material="minutes", mixes=0.0, brand="")
    named = forecast(state, TRADE, [known, timed], HOURLY)
    assert forecast(state, TRADE, [known._replace(worker="", brand=""), timed._replace(worker="")], HOURLY) == named


def test_a_fin_box_is_one_fin_box():
    use = by_material(expected_use(untaught(ONE_LINE), ONE_LINE, [Term("1", "set", 0.0, "A", "box", 1.0)]))
    assert use["box"].mean == pytest.approx(1.0, abs=1e-9)
    assert use["box"].sd < 1e-3


def test_a_worker_or_brand_never_met_widens_and_moves_no_figure():
    state = fit(make(5, Plan(jobs=20, logged=1.0, second_worker=0.0, new_brand=0.0)).history).state
    known = Term("x", "pour", 50.0, "A", "pour_foam", 60.0, 1.0, "first")
    same = by_material(expected_use(state, TRADE, [known]))["pour_foam"]
    new = by_material(expected_use(state, TRADE, [known._replace(worker="Z", brand="other")]))["pour_foam"]
    assert new.sd > same.sd * 1.1
    assert new.mean == pytest.approx(same.mean, rel=1e-9)
