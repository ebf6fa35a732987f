"""Shares that add up, worked out by hand and tried with any numbers."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shop.measures.apportion import apportion, whole_numbers

CENT = D("0.01")


def test_a_cent_left_over_goes_to_the_earlier_of_equals():
    assert apportion(D("10.00"), [D(1), D(1), D(1)], CENT) == [D("3.34"), D("3.33"), D("3.33")]


def test_cents_left_over_go_to_the_largest_remainders():
    """100 cents by 1 : 2 : 4 are 14.29, 28.57 and 57.14: 14, 28, 57, and the one missing goes to the second."""
    assert apportion(D(1), [D(1), D(2), D(4)], CENT) == [D("0.14"), D("0.29"), D("0.57")]


def test_seats_by_votes():
    """A common worked example of largest remainders, from memory: 10 seats on 100 000 votes, a quota of 10 000."""
    votes = [47_000, 16_000, 15_800, 12_000, 6_100, 3_100]
    assert apportion(D(10), votes, D(1)) == [5, 2, 1, 1, 1, 0]


def test_a_discount_is_shared_as_a_charge_of_as_much():
    weights = [D(3), D(5), D("0.7")]
    assert apportion(D("-1.00"), weights, CENT) == [-share for share in apportion(D("1.00"), weights, CENT)]


def test_what_weighs_nothing_gets_nothing_and_no_minus_nothing():
    shares = apportion(D("-0.01"), [D(0), D(1)], CENT)
    assert [str(share) for share in shares] == ["0.00", "-0.01"]


def test_nothing_to_share_by_and_parts_of_a_step_are_refused():
    for weights in ([], [D(0)], [D(2), D(-1)]):
        with pytest.raises(ValueError, match="share by"):
            apportion(D(5), weights, CENT)
    with pytest.raises(ValueError, match="whole steps"):
        apportion(D("0.001"), [D(1)], CENT)
    with pytest.raises(ValueError, match="not the sum"):
        whole_numbers([1.5, 1.5], 5)


@given(
    st.integers(-(10**13), 10**13),
    st.lists(st.decimals(0, 10**6, places=6), min_size=1, max_size=40).filter(sum),
    st.sampled_from([D(1), CENT, D("0.0001"), D("0.05")]),
)
def test_shares_add_up_and_none_is_a_whole_step_off(steps, weights, step):
    total = steps * step
    shares = apportion(total, weights, step)
    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        assert share % step == 0
        assert abs(share * sum(weights) - total * weight) < step * sum(weights)
        assert weight or not share
