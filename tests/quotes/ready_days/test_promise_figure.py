"""A figure of a promise by hand, and its ranges against SciPy (scipy.stats)."""

from __future__ import annotations

import math

import pytest
from scipy import stats

from quotes.ready_days import promise_figure as figure

EIGHT = (0.1, 0.9)


def test_a_share_starts_as_so_many_observations_and_each_of_the_shops_own_counts_for_one():
    found = figure.share("turn_up", 0.15, 20, 3, 12)
    assert (found.start.value, found.own, found.count) == (0.15, 0.25, 12)
    assert found.used.value == pytest.approx((20 * 0.15 + 3) / 32)  # 0.1875
    assert (found.used.low, found.used.high) == pytest.approx(tuple(stats.beta.ppf(EIGHT, 6, 26)))
    assert (found.start.low, found.start.high) == pytest.approx(tuple(stats.beta.ppf(EIGHT, 3, 17)))
    assert found.start.low < found.start.value < found.start.high


def test_with_nothing_seen_a_share_is_as_it_starts():
    found = figure.share("again_chance", 0.02, 50, 0, 0)
    assert not found.learned
    assert found.used == found.start
    assert found.used.value == pytest.approx(0.02)


def test_no_more_is_counted_than_there_is():
    assert figure.share("again_chance", 0.02, 50, 9, 5).own == 1.0


def test_a_rate_by_hand_and_by_a_reference_library():
    found = figure.rate("jobs_a_day", 0.8, 10, 30, 20)
    assert found.own == 1.5
    assert found.used.value == pytest.approx(38 / 30)
    assert (found.used.low, found.used.high) == pytest.approx(tuple(stats.gamma.ppf(EIGHT, 38, scale=1 / 30)))


def test_the_middle_of_hours_is_the_normal_law_on_the_logarithm():
    found = figure.middle_of_hours("answer_h", 8.0, 1.1, 5, [2.0, 32.0, 8.0])
    assert found.own == pytest.approx(8.0)  # 2 × 32 × 8 = 8³
    assert found.used.value == pytest.approx(8.0)
    ends = [math.exp(stats.norm.ppf(chance, math.log(8), 1.1 / math.sqrt(8))) for chance in EIGHT]
    assert [found.used.low, found.used.high] == pytest.approx(ends)
    assert figure.middle_of_hours("answer_h", 8.0, 1.1, 5, [1.0] * 5).used.value == pytest.approx(math.sqrt(8))


def test_a_spread_is_the_scaled_inverse_chi_square():
    found = figure.spread("minutes_sd_log", 0.28, 20, 30 * 0.2**2, 30)
    assert found.own == pytest.approx(0.2)
    whole = 20 * 0.28**2 + 30 * 0.2**2
    assert found.used.value == pytest.approx(math.sqrt(whole / 50))
    ends = [math.sqrt(whole / stats.chi2.ppf(1 - chance, 50)) for chance in EIGHT]
    assert [found.used.low, found.used.high] == pytest.approx(ends)
    assert figure.spread("minutes_sd_log", 0.28, 20, 1e6, 30, most=0.6).used.value == 0.6


def lost(days):
    return figure.mean_share("lost_share", 0.375, 0.1, days, of_days=0.25, doubt=0.07, least=0.05, most=0.9)


def test_the_share_lost_by_hand():
    found = lost([(0.6, 8.0)] * 4)
    trust = 0.01 / (0.01 + 0.0625 / 4 + 0.0049)  # 0.3276
    assert found.own == pytest.approx(0.6)
    assert found.used.value == pytest.approx(0.375 + trust * 0.225)  # 0.449
    assert found.used.high - found.used.value == pytest.approx(stats.norm.ppf(0.9) * 0.1 * math.sqrt(1 - trust))


def test_however_many_days_they_never_count_for_all():
    assert lost([(0.6, 8.0)] * 100_000).used.value == pytest.approx(0.375 + 0.225 / 1.49, abs=1e-5)
    assert lost([(-0.5, 8.0)] * 1000).used.value == 0.05


def test_a_longer_day_weighs_more():
    assert lost([(0.6, 8.0), (0.2, 2.0)]).own == pytest.approx(0.52)
