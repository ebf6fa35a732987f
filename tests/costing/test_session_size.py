"""Boards done together, seen from sessions: the grouping by worked examples, the figure against independent sums."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest
from scipy import stats

from quotes.costing.job.session_size import (
    PRIOR_SESSIONS,
    ObservedSession,
    SessionStep,
    by_figure,
    session_size,
    sessions_of,
)
from quotes.costing.steps.sessions import (
    BOARDS,
    FURTHER_SHARE,
    RESIN_BOARDS,
    SANDING_BOARDS,
    SPRAY_BOARDS,
    part_of_set_up,
)

DAY = date(2020, 1, 1)  # the rule knows days only as the same or another
MINE, THEIRS = 1, 2


def done(board, kind="laminate", *, hands=MINE, day=DAY, cups=(), rushed=False):
    return SessionStep(hands, day, kind, board, frozenset(cups), rushed)


def test_work_of_one_kind_one_after_the_other_is_one_session_until_another_kind_comes_between():
    steps = [done(1), done(2), done(2), done(3), done(3, "coat"), done(1)]
    assert sessions_of(steps) == [("laminate", 3), ("coat", 1), ("laminate", 1)]


def test_what_is_no_session_ends_none_and_is_none():
    assert sessions_of([done(1), done(1, ""), done(2)]) == [("laminate", 2)]
    assert sessions_of([done(1, ""), done(2, "")]) == []


def test_steps_of_one_board_are_one_board():
    assert sessions_of([done(1), done(1), done(1)]) == [("laminate", 1)]


def test_other_hands_and_another_day_are_another_session():
    assert sessions_of([done(1), done(2, hands=THEIRS)]) == [("laminate", 1)] * 2
    assert sessions_of([done(1), done(2, day=DAY + timedelta(1))]) == [("laminate", 1)] * 2
    beside = [done(1), done(8, "coat", hands=THEIRS), done(2), done(9, "coat", hands=THEIRS)]
    assert sessions_of(beside) == [("laminate", 2), ("coat", 2)], "what others do between is not between"


def test_a_cup_is_one_session_whenever_its_steps_were_ticked_off_and_by_whom():
    apart = [done(1, cups=[7]), done(4, "coat"), done(2, cups=[7], hands=THEIRS, day=DAY + timedelta(1))]
    assert sessions_of(apart) == [("laminate", 2), ("coat", 1)]
    with_more = [done(1, cups=[7]), done(3), done(4, "coat"), done(2, cups=[7])]
    assert sessions_of(with_more) == [("laminate", 3), ("coat", 1)]


def test_cups_that_share_a_step_are_one_session_and_one_of_two_kinds_is_two():
    chained = [done(1, cups=[7]), done(9, "coat"), done(2, cups=[8]), done(9, "coat"), done(3, cups=[7, 8])]
    assert sessions_of(chained) == [("laminate", 3), ("coat", 1)]
    later = [*chained, done(9, "cut back"), done(4, cups=[8])]
    assert sessions_of(later)[0] == ("laminate", 4)
    assert sessions_of([done(1, cups=[7]), done(2, "coat", cups=[7])]) == [("laminate", 1), ("coat", 1)]


def test_the_hands_of_a_shared_cup_have_done_that_between():
    steps = [done(2, hands=THEIRS), done(1, "coat", cups=[7]), done(3, "coat", cups=[7], hands=THEIRS)]
    assert sessions_of([*steps, done(4, hands=THEIRS)]) == [("laminate", 1), ("coat", 2), ("laminate", 1)]


def test_a_rush_by_itself_says_nothing_but_with_others_it_is_a_board():
    assert sessions_of([done(1, rushed=True)]) == []
    assert sessions_of([done(1, rushed=True), done(2)]) == [("laminate", 2)]
    assert sessions_of([done(2), done(1, rushed=True)]) == [("laminate", 2)]


def test_every_kind_goes_to_the_figure_it_is_reckoned_with():
    found = by_figure([ObservedSession(kind, number) for number, kind in enumerate(BOARDS, 1)])
    assert set(found) == {one.name for one in (RESIN_BOARDS, SANDING_BOARDS, SPRAY_BOARDS)}
    numbers = {kind: number for number, kind in enumerate(BOARDS, 1)}
    assert found[SPRAY_BOARDS.name] == (SPRAY_BOARDS, [numbers["spraying"]])
    assert found[RESIN_BOARDS.name][1] == [numbers["fill or foam"], numbers["laminate"], numbers["coat"]]
    assert by_figure([])[RESIN_BOARDS.name] == (RESIN_BOARDS, [])


@pytest.mark.parametrize("trade", [RESIN_BOARDS, SANDING_BOARDS, SPRAY_BOARDS])
def test_without_a_session_it_is_the_trades_figure_with_its_range(trade):
    assert session_size(trade, []) == (trade.value, trade.low, trade.high, 0)
    assert not session_size(trade, []).enough


@pytest.mark.parametrize("trade", [RESIN_BOARDS, SANDING_BOARDS])
@pytest.mark.parametrize("boards", [[1], [6], [1, 1, 1, 1, 2], [3, 2, 5, 1, 1, 4, 2, 2], [1] * 30, [2, 3] * 20])
def test_the_figure_is_the_mean_and_the_deciles_of_what_is_believed_by_brute_force(trade, boards):
    """Bayes' rule on a fine grid: the density of the mean before, times the chance of each session by it (scipy)."""
    mean = (np.arange(400_000) + 0.5) / 20_000
    before = stats.gamma.logpdf(mean, PRIOR_SESSIONS * (trade.value - 1), scale=1 / PRIOR_SESSIONS)
    after = before + sum(stats.poisson.logpmf(k - 1, mean) for k in boards)
    weight = np.exp(after - after.max())
    weight /= weight.sum()
    low, high = np.interp((0.1, 0.9), np.cumsum(weight), mean + 0.5 / 20_000)
    found = session_size(trade, boards)
    assert found.value == pytest.approx(1 + float(weight @ mean), rel=1e-6)
    assert (found.low, found.high) == pytest.approx((1 + low, 1 + high), rel=1e-5)
    assert found.sessions == len(boards)


def test_many_sessions_are_their_mean_with_a_narrow_range():
    found = session_size(RESIN_BOARDS, [1, 1, 2, 1, 2] * 2000)
    assert found.value == pytest.approx(1.4, abs=0.001)
    assert 1.38 < found.low < found.value < found.high < 1.42
    assert session_size(RESIN_BOARDS, [1] * 100_000).value == pytest.approx(1.0, abs=1e-4)


def test_the_trades_figure_weighs_no_more_than_its_range_says():
    """The upper end of a range of common practice is what 5 in 100 lie above."""
    for trade in (RESIN_BOARDS, SANDING_BOARDS, SPRAY_BOARDS):
        most = 1 + stats.gamma.ppf(0.95, PRIOR_SESSIONS * (trade.value - 1), scale=1 / PRIOR_SESSIONS)
        assert most == pytest.approx(trade.high, rel=0.06)


def test_more_boards_never_make_the_figure_smaller_and_the_value_lies_in_its_range():
    boards = [1, 2, 1, 3, 1, 1]
    figures = [session_size(SANDING_BOARDS, [*boards, more]) for more in range(1, 12)]
    assert figures == sorted(figures)
    for one in figures:
        low, value, high = one.low, one.value, one.high
        assert 1 <= low <= value <= high
        assert one.to_tenths == (round(value, 1), round(low, 1), round(high, 1))


def test_priced_by_the_mean_all_boards_bear_all_set_ups_of_all_sessions():
    """Conservation: what the first and the further boards of each session cost to set up is what is charged of it."""
    sessions, further = [1, 1, 4, 2, 1, 3], FURTHER_SHARE.value
    spent = sum(1 + further * (boards - 1) for boards in sessions)
    mean = sum(sessions) / len(sessions)
    assert sum(sessions) * part_of_set_up(mean, further) == pytest.approx(spent)
    assert part_of_set_up(1.0, further) == 1.0
    assert part_of_set_up(3.0, 0.35) == pytest.approx(1.7 / 3)


def test_five_sessions_are_enough_to_speak_of():
    assert not session_size(RESIN_BOARDS, [1] * 4).enough
    assert session_size(RESIN_BOARDS, [1] * 5).enough
