"""Ready days: what is promised to a job without a day, what a yes does to others, a shop over a long time."""

from __future__ import annotations

import pytest

from quotes.planner import forecast, from_json, touched_by_yes
from quotes.planner.play import Play
from quotes.planner.promise import quantile
from tests.planner.samples import OFFICE, board, certain, in_days, sample, step


def test_a_quantile_is_the_first_day_that_enough_do_not_pass():
    assert [quantile([3, 1, 2, 4, 5], share) for share in (0.2, 0.5, 0.8, 0.9)] == [1, 3, 4, 5]


def test_a_job_without_a_day_is_given_the_one_that_holds_eight_in_ten():
    told = sample("102-16")
    told["jobs"][-1]["promised"] = None
    day = forecast(from_json(told)).ready("16")
    assert day.promised == day.q80
    assert round(10 * day.chance) >= 8
    assert day.q50 <= day.q80 <= day.q90


def test_what_is_asked_is_what_the_digest_says_whatever_day_was_tried():
    told = sample("102-16")
    told["jobs"][-1]["promised"] = None
    state = from_json(told)
    assert forecast(state, 10).digest == state.digest()


def test_a_yes_takes_chance_from_others_and_gives_none():
    told = sample("104-26")
    told["jobs"][-1]["rush"] = True
    touched = touched_by_yes(from_json(told), "26", 60)
    assert {one.job for one in touched} == {one["job"] for one in told["jobs"][:-1]}
    assert sum(one.after - one.before for one in touched) < 0


def test_an_absence_and_a_closed_day_put_the_day_off():
    told = certain([board("one", [step(60)])], hours=OFFICE)
    assert forecast(from_json(told), 1).ready("one").q50 == in_days(0)
    told["people"][0]["away"] = [in_days(0).isoformat()]
    assert forecast(from_json(told), 1).ready("one").q50 == in_days(1)
    told["closed"] = [in_days(day).isoformat() for day in range(1, 5)]
    assert forecast(from_json(told), 1).ready("one").q50 == in_days(7)


def test_a_late_coat_is_sanded_first():
    hours = {day: [["09:00", "17:00"]] for day in ("mon", "tue", "wed", "thu", "fri")}
    coat = step(470, coats=True, sand_first_min=20)
    closed = board("one", [coat], bonds_until="2026-03-01T00:00")
    bonds = board("one", [coat], bonds_until="2026-03-02T20:00")
    assert forecast(from_json(certain([bonds], hours=hours)), 1).ready("one").q50 == in_days(0)
    assert forecast(from_json(certain([closed], hours=hours)), 1).ready("one").chance is None
    with_sanding = forecast(from_json(certain([closed], hours=hours)), 1).days["one"]
    assert with_sanding[0] > 300  # it never fits into a day


def test_a_step_done_again_takes_its_time_twice():
    told = certain([board("one", [step(60, cure_h=20)])], again_chance=1.0)
    assert forecast(from_json(told), 1).days["one"] == [1]
    told["known"]["again_chance"] = 0.0
    assert forecast(from_json(told), 1).days["one"] == [0]


def test_what_turns_up_waits_for_the_answer_and_adds_its_steps():
    up = {"chance": 1.0, "answer_h": 48.0, "answer_sd_log": 0.0, "steps": [step(60)]}
    told = certain([board("one", [step(60), step(60)], turns_up_after=1)], turn_up=up)
    assert forecast(from_json(told), 1).days["one"] == [2]


def test_boards_in_the_shop_are_arrivals_a_day_times_days_in_it():
    """J. D. C. Little, A proof for the queuing formula L = λW, Operations Research 9 (1961)."""
    told = sample("102-16")
    told["jobs"], told["ask"] = [], []
    state = from_json(told)
    days = 2000
    future = Play(state, 1).future(0)
    future.run(until=24.0 * days)
    begin, end = 24.0 * 100, 24.0 * (days - 100)
    through = [(came, ready) for came, ready in future.through if came >= begin and ready <= end]
    a_day = len(through) / ((end - begin) / 24)
    in_shop = sum((ready - came) / 24 for came, ready in through) / len(through)
    counted = [sum(came <= at < ready for came, ready in future.through) for at in range(int(begin), int(end), 7)]
    assert a_day == pytest.approx(state.known.arrivals.jobs_a_day * 5 / 7, rel=0.05)
    assert sum(counted) / len(counted) == pytest.approx(a_day * in_shop, rel=0.03)
