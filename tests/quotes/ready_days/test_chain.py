"""Steps of a job laid one after the other: cures side by side, hands one thing at a time."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quotes.costing.snapshot import PlannedMix, PlannedStep
from quotes.ready_days.chain import SAND_FIRST_MIN, ToLay, in_line, steps_ahead

RESIN = (PlannedMix("epoxy"),)


def plan(minutes, wait=0.0, until=None, **more):
    """A plan that keeps no waits of its own, so that its window is the one that is quoted."""
    return PlannedStep("work", minutes=minutes, earliest_start_h=wait, latest_start_h=until, keeps_waits=False, **more)


def step(name, minutes, wait=0.0, *, repair=None, until=None, **more):
    own = {key: more.pop(key) for key in ("done", "free_h", "bonds_h") if key in more}
    repairs = repair if isinstance(repair, tuple) else (repair,)
    return ToLay(name, plan(minutes, wait, until, **more), repairs, minutes, **own)


def names(line):
    return [one.name for one in line.steps]


def test_steps_of_one_repair_follow_each_other_with_their_cures():
    first, second, third = steps_ahead([plan(30), plan(20, 6, 24), plan(10, 0.5)])
    assert (first.minutes, first.cure_h, first.bonds_h) == (30, 6, 24)
    assert (second.coats, second.sand_first_min, second.cure_h) == (True, SAND_FIRST_MIN, 0.5)
    assert (third.coats, third.cure_h, third.bonds_h) == (False, 0, None)


def test_two_repairs_cure_side_by_side():
    line = in_line([
        step("a1", 30, repair=1), step("a2", 30, 6, repair=1),
        step("b1", 30, repair=2), step("b2", 30, 6, repair=2),
    ], None)  # fmt: skip
    assert names(line) == ["a1", "b1", "a2", "b2"]
    assert [one.cure_h for one in line.steps] == [0, 5.5, 0, 0]  # the second repair is done while the first cures


def test_a_step_for_two_repairs_waits_for_both():
    line = in_line([step("a", 60, repair=1), step("b", 60, repair=2), step("both", 10, 6, repair=(1, 2))], None)
    assert names(line) == ["a", "b", "both"]
    assert [one.cure_h for one in line.steps] == [0, 6, 0]


def test_what_is_done_lies_under_the_rest_and_the_first_is_free_when_that_has_cured():
    line = in_line([step("1", 30, done=True), step("2", 20, 6, free_h=4.5, bonds_h=9.0), step("3", 10)], None)
    assert names(line) == ["2", "3"]
    assert (line.free_h, line.bonds_h) == (4.5, 9.0)


def test_a_bond_of_a_repair_is_counted_from_the_step_before_in_line():
    line = in_line([
        step("a1", 60, repair=1), step("a2", 30, 2, repair=1, until=5.0), step("b", 90, repair=2),
    ], None)  # fmt: skip
    assert names(line) == ["a1", "b", "a2"]
    assert line.steps[1].cure_h == pytest.approx(0.5)
    assert line.steps[1].bonds_h == pytest.approx(3.5)  # five hours after the end of a1, less the hour and a half of b


def test_one_sitting_is_one_step():
    first, second = steps_ahead([plan(10, mixes=RESIN), plan(5, same_sitting=True), plan(8, 6)])
    assert (first.minutes, first.cure_h, first.may_stop) == (15, 6, False)
    assert second.may_stop


def test_what_is_mixed_is_not_left_over_night():
    (resin,), (sanding,) = steps_ahead([plan(40, mixes=RESIN)]), steps_ahead([plan(40)])
    assert (resin.may_stop, sanding.may_stop) == (False, True)


def test_a_board_waits_within_a_step():
    first, _ = steps_ahead([plan(10, pause_h=2.0), plan(5, 1.0)])
    assert first.cure_h == 3.0


def test_nothing_ahead_is_nothing():
    assert steps_ahead([]) == ()
    assert in_line([step("1", 30, done=True)], None).steps == ()


repairs = st.lists(
    st.tuples(st.integers(1, 3), st.integers(5, 90), st.floats(0, 30), st.booleans()), min_size=1, max_size=12
)


@given(repairs)
def test_laid_in_line_no_step_comes_before_one_of_its_own_repair_and_no_minute_is_lost(rows):
    steps = [
        step(str(at), minutes, wait, repair=(1, 2, 3) if all_of_them else repair)
        for at, (repair, minutes, wait, all_of_them) in enumerate(rows)
    ]
    line = in_line(steps, None)
    assert sum(one.minutes for one in line.steps) == sum(one.minutes for one in steps)
    assert all(one.cure_h >= 0 for one in line.steps)
    order = [int(name) for name in names(line)]
    for own in (1, 2, 3):
        mine = [at for at in order if own in steps[at].repairs]
        assert mine == sorted(mine)


@given(repairs)
def test_a_line_is_as_long_as_the_longest_repair_at_least_and_as_all_in_turn_at_most(rows):
    steps = [step(str(at), minutes, wait, repair=repair) for at, (repair, minutes, wait, _) in enumerate(rows)]
    line = in_line(steps, None)
    hours = sum(one.minutes / 60 + one.cure_h for one in line.steps)
    alone = [
        sum(one.minutes / 60 + (one.plan.earliest_start_h if at else 0) for at, one in enumerate(own))
        for own in ([one for one in steps if repair in one.repairs] for repair in (1, 2, 3))
    ]
    assert max(alone) - 1e-3 <= hours <= sum(one.minutes / 60 + one.plan.earliest_start_h for one in steps) + 1e-3
