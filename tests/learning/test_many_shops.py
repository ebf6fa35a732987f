"""Over many made-up shops: ranges hold, chosen losses come out, and learning never harms.

Sizes are chosen for two slow cores: 122 shops, about a minute. `tests.tools.study` is the whole.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from tests.learning.scoring import Scored, best, made, score
from tests.learning.simulator import Plan, on_paper, sample

KINDS = [
    (Plan(20, 0.3), range(100, 112)),
    (Plan(40, 0.5), range(200, 210)),
    (Plan(60, 1.0), range(300, 306)),
    (Plan(40, 0.0), range(400, 408)),
    (Plan(10, 0.3, count_every=None), range(500, 506)),
]


@pytest.fixture(scope="module")
def scored() -> list[Scored]:
    return [score(made(plan, seeds)) for plan, seeds in KINDS]


@pytest.fixture(scope="module")
def off(scored) -> np.ndarray:
    """How many sd the truth of each job lay from its forecast: material, minutes, total."""
    return np.concatenate([one.off for one in scored])


def test_there_are_enough_shops_and_jobs(scored, off):
    assert sum(len(one.learned) for one in scored) >= 40
    assert len(off) >= 1200


@pytest.mark.parametrize(("share", "low", "high"), [(0.8, 0.77, 0.84), (0.5, 0.46, 0.54), (0.95, 0.91, 0.99)])
def test_ranges_hold_as_often_as_they_say(scored, off, share, low, high):
    jobs = [len(one.off) for one in scored]
    within = np.average([one.within(share) for one in scored], axis=0, weights=jobs)
    assert low <= within[2] <= high
    assert low - 0.02 <= within[0] <= high + 0.02
    assert low - 0.02 <= within[1] <= high + 0.02


@pytest.mark.parametrize("chosen", [0.05, 0.1, 0.2])
def test_a_chosen_chance_of_loss_comes_out(scored, chosen):
    jobs = [len(one.off) for one in scored]
    assert np.average([one.loss_rate(chosen) for one in scored], weights=jobs) == pytest.approx(chosen, rel=0.25)


def test_learning_is_never_worse_than_the_trade_within_two_standard_errors(scored):
    for one in scored:
        assert (one.worse_than_trade() <= 2.0).all()


def test_knowing_nothing_is_no_worse_than_the_trade_whoever_and_whatever_is_new():
    nothing = score(made(Plan(5, 0.0, count_every=None), range(700, 760)))
    assert (nothing.worse_than_trade() <= 2.0).all()


def test_on_the_steps_of_a_sample_shop_a_hundred_jobs_teach_what_was_printed():
    """A sample shop's trade, steps, workers and brands; all truth drawn anew; printed over 40 shops of that kind."""
    for plan, printed in ((Plan(100, 0.3), (1.06, 1.09)), (Plan(100, 0.0), (1.14, math.inf))):
        found = score(on_paper(seed, plan, *sample(6)) for seed in range(800, 810))
        assert (np.array(found.over_knowing()) <= np.array(printed) + found.unsure()).all()


def test_learning_takes_most_of_what_there_is_to_learn(scored):
    """Error over that of one who knows every true factor, with a third to half of a middling shop logged."""
    material, minutes = scored[1].over_knowing()
    trade_material, trade_minutes = scored[1].trade_over_knowing()
    assert material - 1 < 0.35 * (trade_material - 1)
    assert minutes - 1 < 0.5 * (trade_minutes - 1)


def test_to_be_told_every_spread_and_every_slip_would_gain_next_to_nothing(scored):
    told = best(made(*KINDS[1]))
    assert np.abs(np.subtract(scored[1].over_knowing(), told)).max() < 0.03


def test_counts_alone_take_most_of_the_error_out_of_material(scored):
    assert scored[3].over_knowing()[0] - 1 < 0.45 * (scored[3].trade_over_knowing()[0] - 1)


def test_trade_defaults_twice_as_wrong_are_left_behind():
    found = score(made(Plan(50, 0.3, wrong_trade=2.0), range(600, 606)))
    assert found.over_knowing()[0] < 1.35 < 1.6 < found.trade_over_knowing()[0]
