"""Draws: common random numbers, and sums and maxima of them against what is known exactly."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from math import erf, exp, pi, sqrt
from pathlib import Path

import numpy as np
import pytest

from quotes.planner import forecast, from_json, plan_of_day
from quotes.planner.draws import board_draws
from quotes.planner.play import Play
from tests.planner.samples import board, certain, sample, step

HOUSE = Path(__file__).resolve().parents[2]


def everything_of(told):
    state = from_json(told)
    found = forecast(state, 30)
    return {
        "jobs": [found.ready(one.job).to_json() for one in state.boards],
        "today": [one.to_json() for one in plan_of_day(state)],
    }


def test_the_same_state_gives_the_same_answer_to_the_letter():
    told = sample("103-26")
    first = json.dumps(everything_of(told))
    assert json.dumps(everything_of(told)) == first
    asked = (
        "import json; from tests.planner.test_draws import everything_of, sample;"
        'print(json.dumps(everything_of(sample("103-26"))))'
    )
    other = {**os.environ, "PYTHONHASHSEED": "1"}
    run = subprocess.run(
        [sys.executable, "-c", asked], cwd=HOUSE, env=other, capture_output=True, text=True, check=True
    )
    assert run.stdout.strip() == first


def test_one_more_board_never_changes_the_draws_of_another():
    told = sample("102-16")
    state = from_json(told)
    told["jobs"].insert(0, {**board("one more", [step(50), step(20)]), "turns_up_after": 1})
    more = from_json(told)
    for one in state.boards:
        assert board_draws(one, state.known, 20) == board_draws(more.board(one.job), more.known, 20)


def test_one_more_draw_never_changes_those_before_it():
    state = from_json(sample("102-16"))
    few, many = forecast(state, 10), forecast(state, 25)
    assert {job: days[:10] for job, days in many.days.items()} == few.days


def test_a_step_done_leaves_the_draws_of_those_that_follow():
    told = sample("100-16")
    before = from_json(told).board("16")
    told["jobs"][-1]["steps"].pop(0)
    after = from_json(told).board("16")
    known = from_json(told).known
    for drawn, later in zip(board_draws(before, known, 20), board_draws(after, known, 20), strict=True):
        assert drawn.steps.hours[1:] == later.steps.hours
        assert drawn.steps.cures[1:] == later.steps.cures


def test_an_absence_leaves_the_hours_of_other_days_and_people():
    told = sample("103-26")
    play = Play(from_json(told), 1)
    told["people"][0]["away"] = ["2024-01-15"]
    away = Play(from_json(told), 1)
    for number in range(5):
        one, other = play.days(number), away.days(number)
        for person in (0, 1):
            for day in range(12):
                gone = person == 0 and day == 4
                assert other.spans(person, day) == ([] if gone else one.spans(person, day))


def test_a_sum_of_log_normal_steps_is_as_a_large_draw_says():
    """Hands day and night, one board after its own steps: the 90 % point is that of the sum, within half a per cent."""
    minutes, sd = [75, 225, 375, 150], 0.28
    told = certain([board("sum", [step(each, may_stop=True) for each in minutes])], minutes_sd_log=sd, job_sd_log=0.12)
    count = 40_000
    play = Play(from_json(told), count)
    ours = np.array([play.future(number).run()[0] for number in range(count)])
    rng = np.random.default_rng(7)
    size = 1_000_000
    job = np.exp(0.12 * rng.standard_normal(size))
    steps = sum(each / 60 * np.exp(sd * rng.standard_normal(size)) for each in minutes)
    assert np.quantile(ours, 0.9) == pytest.approx(np.quantile(job * steps, 0.9), rel=0.005)


def test_the_later_of_two_is_as_clark_says():
    """Two boards, two people: the mean of the later one is the maximum of two normals. C. E. Clark, The greatest of a
    finite set of random variables, Operations Research 9 (1961). A log-normal of small spread is near enough normal.
    """
    spread, hours = 0.05, (20.0, 21.0)
    boards = [board(f"b{index}", [step(60 * each)]) for index, each in enumerate(hours)]
    count = 20_000
    play = Play(from_json(certain(boards, people=2, minutes_sd_log=spread)), count)
    later = np.array([max(play.future(number).run()) for number in range(count)])
    means = [each * exp(spread**2 / 2) for each in hours]
    sds = [mean * sqrt(exp(spread**2) - 1) for mean in means]
    between = sqrt(sds[0] ** 2 + sds[1] ** 2)
    alpha = (means[0] - means[1]) / between
    cumulative, density = (1 + erf(alpha / sqrt(2))) / 2, exp(-(alpha**2) / 2) / sqrt(2 * pi)
    expected = means[0] * cumulative + means[1] * (1 - cumulative) + between * density
    assert later.mean() == pytest.approx(expected, rel=0.002)
