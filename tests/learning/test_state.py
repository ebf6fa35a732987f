"""The learned state is kept whole, grows by one job at a time, and never lets an absurd figure reach a price."""

from __future__ import annotations

import json
import math
from dataclasses import replace

import numpy as np
import pytest

from quotes.costing.learning.forecast import forecast
from quotes.costing.learning.history import Cell, History, HistoryMaterial, Log, Range, ShelfCount, Term, Trade
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.layout import factor
from quotes.costing.learning.model.plausibility import implausible, plausible
from quotes.costing.learning.model.state import State, untaught, with_terms
from quotes.costing.stats.assumptions import USUAL
from tests.learning.simulator import HOURLY, TRADE, Plan, make

LAM = Cell("laminate", "laminating")


@pytest.fixture(scope="module")
def shop():
    return make(31, Plan(jobs=60, logged=0.6, ask=8))


@pytest.fixture(scope="module")
def state(shop) -> State:
    return fit(shop.history).state


def test_a_kept_state_is_read_back_to_the_last_digit(shop, state):
    kept = json.loads(json.dumps(state.as_dict(), allow_nan=False))
    again = State.from_dict(kept)
    assert again.digest() == state.digest()
    for terms in shop.asked.values():
        assert forecast(again, TRADE, terms, HOURLY) == forecast(state, TRADE, terms, HOURLY)


def test_a_state_of_another_schema_or_with_no_number_is_refused(state):
    with pytest.raises(ValueError, match="schema 99; this program reads 1"):
        State.from_dict({**state.as_dict(), "schema": 99})
    broken = state.as_dict()
    broken["x"][0] = math.nan
    with pytest.raises(ValueError, match="not a number; learn again"):
        State.from_dict(broken)


def with_job(shop, term: Term, *logs: Log) -> State:
    """What the shop's history teaches with one more step in it."""
    history = shop.history
    return fit(replace(history, terms=(*history.terms, term), logs=(*history.logs, *logs))).state


def test_one_more_job_moves_its_cells_towards_it_and_narrows_them(shop, state):
    term = Term("new", "laminate", state.day + 1, "A", "laminating", 60.0, 1.0, "first")
    before = state.figure(LAM)
    expected = before.used * 60.0 + state.loss("laminating")[0]
    after = with_job(shop, term, Log("new", "laminate", "laminating", round(expected * 1.4), 1.0))
    assert after.figure(LAM).used > before.used
    assert after.figure(LAM).logs == before.logs + 1
    assert after.jobs == state.jobs + 1


def test_one_more_job_with_a_slip_moves_nothing(shop, state):
    term = Term("new", "laminate", state.day + 1, "A", "laminating", 60.0, 1.0, "first")
    after = with_job(shop, term, Log("new", "laminate", "laminating", 118_000.0, 1.0))
    assert after.figure(LAM).used == pytest.approx(state.figure(LAM).used, rel=1e-3)
    assert after.figure(LAM).logs == state.figure(LAM).logs


def test_what_was_learned_fades_in_the_years_without_a_log(shop, state):
    late = Term("late", "buff", state.day + 3650.0, "A", "minutes", 10.0)
    after = with_job(shop, late, Log("late", "buff", "minutes", 15.0))
    at = state.layout.index[factor(LAM)]
    assert state.figure(LAM).sd < 0.6 * state.layout.prior_sd[at]
    assert after.figure(LAM).sd > 0.95 * state.layout.prior_sd[at]


def test_a_redone_step_of_a_new_job_teaches_nothing(shop, state):
    term = Term("new", "laminate", state.day, "A", "laminating", 60.0, 1.0, "first", again=True)
    after = with_job(shop, term, Log("new", "laminate", "laminating", 300.0, 1.0, again=True))
    assert after.figure(LAM).used == pytest.approx(state.figure(LAM).used, rel=1e-12)
    assert after.figure(LAM).logs == state.figure(LAM).logs


def test_an_operation_added_later_stands_at_its_trade_default(state):
    cell = Cell("rout", "minutes")
    trade = replace(TRADE, factors={**TRADE.factors, cell: TRADE.factors["buff", "minutes"]})
    after = with_terms(state, trade, [Term("1", "rout", state.day, "A", "minutes", 20.0)])
    assert after.figure(cell).used == 1.15
    assert after.figure(LAM) == state.figure(LAM)


@pytest.mark.parametrize("damage", [math.nan, math.inf, 9.0])
def test_an_absurd_figure_falls_back_to_the_trade_default_and_says_so(shop, state, damage):
    at = state.layout.index[factor(LAM)]
    x = state.x.copy()
    x[at] = damage
    mended = plausible(replace(state, x=x))
    assert mended.figure(LAM).used == 1.5
    assert mended.figure(LAM).sd == pytest.approx(state.layout.prior_sd[at])
    assert mended.notes[-1] == (
        "What was written down about laminating for laminate gives no believable figure; "
        "the trade default is used instead."
    )
    other = Cell("buff", "minutes")
    assert mended.figure(other) == state.figure(other)
    for terms in shop.asked.values():
        assert math.isfinite(forecast(mended, TRADE, terms, HOURLY).total.mean)


def test_a_singular_covariance_falls_back_to_all_trade_defaults_in_one_sentence(state):
    mended = plausible(replace(state, covariance=np.full_like(state.covariance, math.nan)))
    assert all(mended.figure(cell).used == usual.mid for cell, usual in TRADE.factors.items())
    assert len(mended.notes) == 1


def test_a_shop_that_logs_in_the_wrong_unit_throughout_is_not_believed():
    """Every laminating log 28.35 times too large: the default stays, and the logs are in doubt."""
    shop = make(35, Plan(jobs=30, logged=1.0, slips=0.0, count_every=None))
    logs = tuple(log._replace(value=log.value * 28.35) if log[1:3] == LAM else log for log in shop.history.logs)
    found = fit(replace(shop.history, logs=logs))
    assert found.state.figure(LAM).used < 5.0
    assert found.state.figure(LAM).logs < 5


def test_a_history_without_a_single_step_is_the_trade():
    assert fit(History(TRADE)).state.x.tolist() == [0.0] * len(untaught(TRADE).x)


@pytest.mark.parametrize(
    ("share", "kept"), [(-0.70, False), (-0.11, False), (-0.09, True), (0.03, True), (0.19, True), (0.21, False)]
)
def test_what_no_job_used_is_believed_from_a_tenth_below_nothing_to_a_fifth(share, kept):
    """Own limits (common practice, no source); -70 % used to pass, by eight prior sd or a factor of five."""
    trade = Trade({"resin": HistoryMaterial("resin", "g", 0.01)}, {Cell("fill", "resin"): Range(1.1, 1.0, 1.3)})
    state = fit(History(trade, counts=(ShelfCount(0.0, "resin", 900.0), ShelfCount(9.0, "resin", 800.0)))).state
    at = state.layout.index["unassigned", "resin"]
    x = state.x.copy()
    x[at] = share - USUAL.unassigned
    found = plausible(replace(state, x=x))
    assert bool(found.x[at] == x[at]) is kept
    assert bool(found.notes) is not kept
    if not kept:
        assert implausible(found) == (("unassigned", "resin"),)
        assert f"{abs(share):.0%} {'more' if share > 0 else 'less'} left the shelf" in found.notes[0]


def test_a_log_of_several_steps_is_known_once_all_of_them_are_done():
    """Sanded on day 1, 3 and 6, 30 minutes in all: on day 5 nobody knew that, and 30 are not what two steps took."""
    terms = tuple(Term("7", "sand", day, "", "minutes", 10.0, step=str(day)) for day in (1.0, 3.0, 6.0))
    history = History(TRADE, terms, (Log("7", "sand", "minutes", 30.0),))
    on_the_fifth = history.before(5.0)
    assert (len(on_the_fifth.terms), on_the_fifth.logs) == (2, ())
    assert history.before(6.5).logs == history.logs
