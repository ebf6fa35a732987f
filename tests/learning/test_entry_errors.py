"""A slip of the pen is shown with its likeliest cause, never changed, and spoils nothing in the meantime."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from quotes.costing.learning.doubts import doubt, doubts, number
from quotes.costing.learning.forecast import forecast
from quotes.costing.learning.history import Cell, HistoryMaterial, Log, Range, Term, Trade
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.state import State, untaught
from tests.learning.simulator import HOURLY, TRADE, MadeUp, Plan, make

BENCH = Trade(
    {
        "resin": HistoryMaterial("resin", "g", 0.02, loss=Range(20, 12, 35), log_step=1),
        "hardener": HistoryMaterial("hardener", "mL", 0.06, log_step=0.5),
        "tape": HistoryMaterial("tape", "m", 0.1, log_step=0.5),
        "disc": HistoryMaterial("disc", "each", 0.9, log_step=1),
    },
    {
        Cell("lam", "resin"): Range(1.3, 1.1, 1.6),
        Cell("lam", "hardener"): Range(1.0, 0.8, 1.3),
        Cell("mask", "tape"): Range(1.2, 1.0, 1.5),
        Cell("sand", "disc"): Range(1.2, 0.7, 2.0),
        Cell("sand", "minutes"): Range(1.15, 0.9, 1.5),
    },
)
LAM = Term("7", "lam", 0.0, "A", "resin", 75.0, 1.0)  # 97.5 g and 20 g in the cup
SAND = Term("7", "sand", 0.0, "A", "minutes", 30.0)


def said(term: Term, value: float, mixes: float = 0.0) -> str | None:
    found = doubt(untaught(BENCH), BENCH, term, Log(term.job, term.operation, term.material, value, mixes))
    return found and found.explanation


def test_a_log_that_fits_is_not_doubted():
    assert said(LAM, 118.0, 1.0) is None
    assert said(SAND, 40.0) is None


@pytest.mark.parametrize(
    ("term", "value", "likeliest"),
    [
        (LAM, 0.12, "0.12 g of resin for lam on job 7: written down in kg? 120 g would fit"),
        (LAM, 118_000.0, "118000 g of resin for lam on job 7: grams entered as if they were kg? 118 g would fit"),
        (LAM, 4.1, "4.1 g of resin for lam on job 7: written down in oz? 116 g would fit"),
        (LAM, 3345.0, "3345 g of resin for lam on job 7: grams entered as if they were oz? 118 g would fit"),
        (SAND, 0.5, "0.5 min for sand on job 7: hours for minutes? 30 min would fit"),
        (SAND, 2400.0, "2400 min for sand on job 7: seconds for minutes? 40 min would fit"),
        (SAND, 400.0, "400 min for sand on job 7: was the timer left on?"),
        (Term("7", "mask", 0.0, "A", "tape", 2.5), 300.0, "300 m of tape for mask on job 7: written down in cm? 3 m"),
        (
            Term("7", "lam", 0.0, "A", "hardener", 0.04),
            15.0,
            "millilitres entered as if they were fl oz? 0.5 mL would fit",
        ),
    ],
)
def test_a_slip_is_said_in_one_sentence_with_its_likeliest_cause(term, value, likeliest):
    sentence = said(term, value, term.mixes)
    assert sentence is not None
    assert likeliest in sentence
    assert sentence.count("\n") == 0


def test_the_usual_range_is_told_with_the_slip():
    """97.5 g and 20 g: 80 % of such logs lie between about 90 and 155 g."""
    found = doubt(untaught(BENCH), BENCH, LAM, Log("7", "lam", "resin", 0.12, 1.0))
    assert found is not None
    assert found.fits == pytest.approx(120.0)
    assert found.low < 117.5 < found.high
    assert f"(usual here is {number(found.low)} to {number(found.high)})" in found.explanation


def test_half_a_two_batch_pour_is_a_batch_not_written_down():
    state = fit(make(5, Plan(jobs=60, logged=1.0, slips=0.0)).history).state
    term = Term("x", "laminate", 100.0, "A", "laminating", 400.0, 2.0, "first")
    usual = state.figure(Cell("laminate", "laminating")).used * 400.0 + 2 * state.loss("laminating")[0]
    half = doubt(state, TRADE, term, Log("x", "laminate", "laminating", float(round(usual / 2.3)), 2.0))
    assert half is not None
    assert "one of the batches not written down" in half.explanation


def test_less_than_the_scale_can_show_is_doubted():
    sentence = said(Term("7", "mask", 0.0, "A", "tape", 2.5), 0.11)
    assert sentence is not None
    assert sentence.startswith("0.11 m of tape for mask on job 7: less than its scale can show (0.5 m)")


def test_numbers_in_sentences_have_no_exponents():
    assert [number(value) for value in (0.1204, 46000.0, 1e-5, 3.0, 118.4)] == ["0.12", "46000", "0.00001", "3", "118"]


def largest_move(before: State, after: State, shop: MadeUp) -> float:
    moves = []
    for terms in shop.asked.values():
        old, new = (forecast(state, TRADE, terms, HOURLY) for state in (before, after))
        for figure in ("material_cost", "minutes", "total"):
            moves.append(abs(math.log(getattr(new, figure).quantile(0.5) / getattr(old, figure).quantile(0.5))))
    return max(moves)


@pytest.mark.parametrize("seed", [41, 42])
def test_one_slip_of_a_thousand_moves_no_forecast_by_more_than_one_per_cent(seed):
    shop = make(seed, Plan(jobs=60, logged=0.6, slips=0.0, ask=10))
    before = fit(shop.history).state
    logs = shop.history.logs
    for at in range(0, len(logs), len(logs) // 12):
        slipped = [*logs]
        slipped[at] = logs[at]._replace(value=logs[at].value * 1000.0)
        after = fit(replace(shop.history, logs=tuple(slipped)))
        assert largest_move(before, after.state, shop) < 0.01
        assert [(found.job, found.operation, found.material) for found in doubts(after, TRADE)].count(logs[at][:3]) == 1


def test_flags_are_right_and_large_slips_are_flagged():
    """Of flags at least 95 % are slips; of slips larger than 3 × at least 90 % are flagged. Six shops of 60 jobs."""
    right = flags = large = caught = 0
    for seed in range(300, 306):
        shop = make(seed, Plan(jobs=60, logged=0.7, ask=0))
        flagged = {(found.job, found.operation, found.material) for found in doubts(fit(shop.history), TRADE)}
        right += len(flagged & set(shop.slips))
        flags += len(flagged)
        big = {key for key, times in shop.slips.items() if abs(math.log(times)) > math.log(3)}
        large += len(big)
        caught += len(big & flagged)
    assert large > 80
    assert right / flags >= 0.95
    assert caught / large >= 0.90
