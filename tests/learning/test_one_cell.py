"""What one operation and material learns from its own logs, where it can be worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from quotes.costing.learning.history import Cell, History, HistoryMaterial, Log, Range, Term, Trade
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.layout import factor
from quotes.costing.stats.assumptions import USUAL

LAM = Cell("lam", "resin")
TRADE = Trade(
    {
        "resin": HistoryMaterial("resin", "g", 0.02),
        "hot": HistoryMaterial("hot", "g", 0.02, loss=Range(20, 12, 35), log_step=1),
    },
    {LAM: Range(1.3, 1.0, 1.7), Cell("hot", "hot"): Range(1.3, 1.0, 1.7)},
)


def shop(uses: list[float], days: list[float] | None = None, need: float = 100.0) -> History:
    """A shop that laminated once a job, with a need of so many grams, and logged what it took."""
    days = days or [0.0] * len(uses)
    terms = [Term(str(job), "lam", day, "A", "resin", need) for job, day in enumerate(days)]
    logs = [Log(str(job), "lam", "resin", use) for job, use in enumerate(uses)]
    return History(TRADE, tuple(terms), tuple(logs))


def drawn(n: int, factor_: float, spread: float, seed: int = 1) -> list[float]:
    """Uses of a need of 100 g."""
    return (100.0 * factor_ * np.exp(np.random.default_rng(seed).normal(0, spread, n))).tolist()


def test_a_thousand_logs_give_their_mean_logarithm_whatever_the_trade_says():
    uses = drawn(1000, 1.9, 0.2)
    logarithms = np.log(np.array(uses) / 100.0)
    figure = fit(shop(uses)).state.figure(LAM)
    standard_error = logarithms.std() / math.sqrt(1000)
    assert abs(math.log(figure.used) - logarithms.mean()) < standard_error
    assert figure.own == pytest.approx(math.exp(logarithms.mean()), rel=0.01)
    assert figure.logs >= 990
    assert figure.spread == pytest.approx(0.2, rel=0.06)
    assert figure.sd == pytest.approx(standard_error, rel=0.1)


def test_the_shown_sentence_names_trade_own_and_used():
    assert fit(shop([144.0] * 7)).state.figure(LAM).in_words().startswith("trade 1.30, your 7 logs 1.44, used 1.4")


def test_seven_logs_by_hand():
    """Precision-weighted mean of the trade's 1.30 and seven logs, spread fixed at 0.18, the trade range as it is."""
    uses = [150.0, 133.0, 160.0, 141.0, 138.0, 155.0, 132.0]
    prior_sd = 1.15 * math.log(1.7) / (2 * 1.6448536269514722)
    logarithms = [math.log(use / 100.0) for use in uses]
    precision = 1 / prior_sd**2 + 7 / 0.18**2
    mean = (math.log(1.3) / prior_sd**2 + sum(logarithms) / 0.18**2) / precision
    figure = fit(shop(uses), replace(USUAL, range_trust=1e12), {LAM: 0.18}).state.figure(LAM)
    assert math.log(figure.used) == pytest.approx(mean, abs=1e-8)
    assert figure.sd == pytest.approx(math.sqrt(1 / precision), abs=1e-8)
    wide = math.exp(1.2815515655446004 / math.sqrt(precision))
    assert (figure.low, figure.high) == pytest.approx((figure.used / wide, figure.used * wide), rel=1e-6)


def test_a_year_old_log_weighs_half():
    """One log of today and one of a year ago pull as 1 to ½."""
    known = {LAM: 0.18}
    assume = replace(USUAL, range_trust=1e12)
    found = fit(shop([150.0, 110.0], [365.0, 0.0]), assume, known).state
    prior = 1 / (1.15 * math.log(1.7) / (2 * 1.6448536269514722)) ** 2
    one = 1 / 0.18**2
    mean = (prior * math.log(1.3) + one * math.log(1.5) + 0.5 * one * math.log(1.1)) / (prior + 1.5 * one)
    assert math.log(found.figure(LAM).used) == pytest.approx(mean, abs=1e-8)


def test_the_cup_is_told_from_the_factor_by_small_and_large_mixes():
    """True factor 1.6 and 30 g a cup; needs from 10 to 250 g."""
    rng = np.random.default_rng(4)
    terms, logs = [], []
    for job in range(120):
        need = float(rng.uniform(10, 250))
        use = need * 1.6 * math.exp(rng.normal(0, 0.12)) + 30.0 * math.exp(rng.normal(0, 0.3))
        terms.append(Term(str(job), "hot", 0.0, "A", "hot", need, 1.0))
        logs.append(Log(str(job), "hot", "hot", float(round(use)), 1.0))
    state = fit(History(TRADE, tuple(terms), tuple(logs))).state
    assert state.figure(Cell("hot", "hot")).used == pytest.approx(1.6, rel=0.05)
    assert state.loss("hot")[0] == pytest.approx(30.0, rel=0.15)


def test_a_shop_far_from_the_trade_is_believed_once_its_logs_agree():
    figure = fit(shop(drawn(12, 3.2, 0.15))).state.figure(LAM)
    assert figure.used == pytest.approx(3.2, rel=0.12)
    assert figure.logs == 12


def test_one_range_that_is_far_too_narrow_says_little_of_all_others():
    """A trade figure of 1.3 “to 1 %” that is really 2.6 is one mistake; what nobody has logged is as sure as it was."""
    thin, other = Cell("thin", "resin"), Cell("other", "resin")
    trade = Trade(TRADE.materials, {thin: Range(1.3, 1.29, 1.31), other: Range(1.2, 0.9, 1.6)})
    terms = tuple(Term(str(job), "thin", 0.0, "A", "resin", 100.0) for job in range(60))
    logs = tuple(Log(str(job), "thin", "resin", use) for job, use in enumerate(drawn(60, 2.6, 0.15)))
    learned, start = fit(History(trade, terms, logs)).state, fit(History(trade)).state
    assert learned.figure(thin).used == pytest.approx(2.6, rel=0.15)
    assert learned.figure(other).sd < 1.5 * start.figure(other).sd


def test_discs_that_are_hardly_touched_teach_nothing_about_the_factor():
    trade = Trade(
        {"disc": HistoryMaterial("disc", "each", 0.9, log_step=1)}, {Cell("sand", "disc"): Range(1.2, 0.7, 2.0)}
    )
    terms = tuple(Term(str(job), "sand", 0.0, "A", "disc", 0.05) for job in range(40))
    logs = tuple(Log(str(job), "sand", "disc", 1.0) for job in range(40))
    state = fit(History(trade, terms, logs)).state
    at = state.layout.index[factor(Cell("sand", "disc"))]
    assert abs(state.x[at]) < 0.01
    assert math.sqrt(state.covariance[at, at]) == pytest.approx(state.layout.prior_sd[at], rel=0.02)


def test_a_mix_shared_by_two_jobs_counts_as_one_log():
    """Half a mix each, twice: as sure as one whole mix, not as two."""

    def learned(rows: list[tuple[str, float, float, float]]) -> float:
        terms = tuple(Term(job, "hot", 0.0, "A", "hot", need, mixes) for job, need, _, mixes in rows)
        logs = tuple(Log(job, "hot", "hot", value, mixes) for job, _, value, mixes in rows)
        return fit(History(TRADE, terms, logs)).state.figure(Cell("hot", "hot")).sd

    shared = learned([("1", 60.0, 101.5, 0.5), ("2", 60.0, 101.5, 0.5)])
    alone = learned([("1", 120.0, 203.0, 1.0)])
    twice = learned([("1", 120.0, 203.0, 1.0), ("2", 120.0, 203.0, 1.0)])
    assert shared == pytest.approx(alone, rel=0.02)
    assert twice < alone * 0.9


def test_steps_done_again_never_teach_the_normal_figure():
    once = shop(drawn(10, 1.4, 0.1))
    again_terms = tuple(term._replace(again=True) for term in once.terms)
    again_logs = tuple(log._replace(value=log.value * 2.5, again=True) for log in once.logs)
    both = replace(once, terms=once.terms + again_terms, logs=once.logs + again_logs)
    first, second = fit(once).state, fit(both).state
    assert second.figure(LAM).used == pytest.approx(first.figure(LAM).used, rel=1e-9)
    assert second.figure(LAM).logs == 10
