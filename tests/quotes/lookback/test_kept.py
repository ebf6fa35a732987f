"""Promises in sums by worked examples; the shares a count speaks for against statsmodels and the exact sums."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from statsmodels.stats.proportion import proportion_confint

from quotes.costing.learning.coverage import coverage, true_share
from quotes.lookback import PastPromise, promises_kept
from tests.conftest import NOW

DAY = date(2020, 1, 1)  # sums know days only by their distance


def promise(late=0, *, first_late=None, chance=None, recipes=("Ding",), number=1):
    """A board ready so many days after the day that stood last, and after the first day promised."""
    first_late = late if first_late is None else first_late
    ready = DAY + timedelta(days=30)
    return PastPromise(
        number, "1, Ding", ready - timedelta(days=first_late), ready - timedelta(days=late), chance, NOW, NOW, ready,
        recipes,
    )  # fmt: skip


def test_kept_is_on_the_day_or_before():
    assert [promise(late).kept for late in (-3, 0, 1)] == [True, True, False]
    assert [promise(late).late for late in (-3, 0, 1)] == [0, 0, 1]


def test_sums_by_hand():
    past = [promise(-2), promise(0, first_late=4), promise(1), promise(3), promise(9)]
    found = promises_kept(past)
    assert (found.promises, found.kept, found.missed, found.percent) == (5, 2, 3, 40.0)
    assert (found.first_kept, found.moved) == (1, 1)
    assert (found.late, found.most) == (3.0, 9)
    assert (found.said, found.all_said, found.without_chance) == ([], None, 5)


def test_nothing_promised_is_nothing():
    found = promises_kept([])
    assert (found.promises, found.percent, found.late, found.most, found.recipes) == (0, None, None, None, [])


def test_seventeen_of_twenty_said_eight_in_ten_is_honest():
    past = [promise(0, chance=0.78)] * 9 + [promise(0, chance=0.82)] * 8 + [promise(1, chance=0.8)] * 3
    [group] = promises_kept(past).said
    assert (group.tenths, group.promises, group.kept) == (8, 20, 17)
    assert group.chance == pytest.approx(0.799)
    assert (group.low, group.high) == pytest.approx(proportion_confint(17, 20, method="beta"))
    assert group.honest
    assert group.enough


def test_ten_of_twenty_said_eight_in_ten_was_too_sure_and_all_of_thirty_said_even_was_too_careful():
    past = [promise(0, chance=0.8)] * 10 + [promise(1, chance=0.8)] * 10 + [promise(0, chance=0.5)] * 30
    found = promises_kept(past)
    sure, careful = found.said
    assert (sure.honest, sure.too_sure) == (False, True)
    assert (careful.honest, careful.too_sure) == (False, False)
    assert (found.all_said.promises, found.all_said.kept) == (50, 40)
    assert found.all_said.chance == pytest.approx(0.62)


def test_by_recipe_what_missed_most_stands_first_and_a_job_of_two_counts_for_both():
    past = [promise(0, recipes=("Ding",)), promise(2, recipes=("Ding", "Box")), promise(4, recipes=("Box",))]
    found = promises_kept(past).recipes
    assert [(one.name, one.promises, one.kept, one.late) for one in found] == [("Box", 2, 0, 3.0), ("Ding", 2, 1, 2.0)]


@pytest.mark.parametrize(("count", "of"), [(0, 1), (1, 1), (0, 12), (17, 20), (81, 263), (19, 20), (250, 250)])
def test_shares_a_count_speaks_for_are_those_of_a_reference_library(count, of):
    """statsmodels, proportion_confint(method="beta"): Clopper and Pearson (1934)."""
    assert true_share(count, of) == pytest.approx(proportion_confint(count, of, method="beta"), abs=1e-12)


@given(st.integers(1, 60), st.data(), st.floats(0.02, 0.98))
def test_a_share_is_spoken_for_exactly_where_its_own_sums_call_the_count_usual(of, data, share):
    """The interval is the exact binomial sums, which `coverage` makes, asked the other way round."""
    count = data.draw(st.integers(0, of))
    low, high = true_share(count, of)
    if min(abs(share - low), abs(share - high)) > 1e-9:
        assert (low < share < high) == coverage(count, of, share).as_usual


def test_more_than_there_are_is_refused():
    with pytest.raises(ValueError, match="Of 3"):
        true_share(4, 3)
    assert true_share(0, 0) == (0.0, 1.0)
