"""Which need of which day will find its material, and what will be there but out of date."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from inventory.buying.cover import Need, Stock, cover

TODAY = date(2026, 11, 25)


def day(number: int) -> date:
    return TODAY + timedelta(days=number)


def found(stock, needs):
    return {one.key: (int(one.covered), int(one.stale), int(one.missing)) for one in cover(stock, needs, TODAY)}


def test_the_earlier_need_is_served_first():
    needs = [Need(1, Decimal(60), day(5)), Need(2, Decimal(60), day(2))]
    assert found([Stock(Decimal(100))], needs) == {2: (60, 0, 0), 1: (40, 0, 20)}


def test_what_goes_off_in_between_is_told_from_what_is_not_there():
    stock = [Stock(Decimal(100), day(3)), Stock(Decimal(20))]
    needs = [Need(1, Decimal(30), day(1)), Need(2, Decimal(150), day(9))]
    [first, second] = cover(stock, needs, TODAY)
    assert (first.covered, first.short) == (30, 0)
    # Of the 70 left of the first lot nothing may be used on day 9; of the 150, 20 are good, 70 stale, 60 not there.
    assert (second.covered, second.stale, second.missing, second.since) == (20, 70, 60, day(3))


def test_the_last_good_day_still_counts():
    assert found([Stock(Decimal(5), day(4))], [Need(1, Decimal(5), day(4))]) == {1: (5, 0, 0)}
    assert found([Stock(Decimal(5), day(4))], [Need(1, Decimal(5), day(5))]) == {1: (0, 5, 0)}


def test_an_overdue_need_is_served_today_and_not_from_what_was_good_then():
    assert found([Stock(Decimal(5), day(-1))], [Need(1, Decimal(5), day(-3))]) == {1: (0, 5, 0)}


def test_an_early_need_takes_what_a_later_one_could_not_use():
    stock = [Stock(Decimal(10)), Stock(Decimal(10), day(1))]
    assert found(stock, [Need(1, Decimal(10), day(0)), Need(2, Decimal(10), day(8))]) == {1: (10, 0, 0), 2: (10, 0, 0)}


stocks = st.lists(
    st.builds(Stock, st.integers(1, 50).map(Decimal), st.none() | st.integers(-3, 9).map(day)), max_size=4
)
wanted = st.lists(st.tuples(st.integers(1, 50).map(Decimal), st.integers(-3, 9)), max_size=5)


@given(stocks, wanted)
def test_no_other_way_of_sharing_out_would_cover_more(stock, asked):
    """Against a linear program (scipy.optimize.linprog) that may give any lot in date to any need."""
    needs = [Need(number, quantity, day(when)) for number, (quantity, when) in enumerate(asked)]
    covers = cover(stock, needs, TODAY)
    for one in covers:
        assert one.covered + one.stale + one.missing == needs[one.key].quantity
    assert sum(one.covered + one.stale for one in covers) <= sum(lot.quantity for lot in stock)
    pairs = [
        (i, j)
        for i, lot in enumerate(stock)
        for j, need in enumerate(needs)
        if lot.good_until is None or lot.good_until >= max(need.day, TODAY)
    ]
    best = 0.0
    if pairs:
        limits = np.zeros((len(stock) + len(needs), len(pairs)))
        for column, (i, j) in enumerate(pairs):
            limits[i, column] = limits[len(stock) + j, column] = 1
        most = [float(lot.quantity) for lot in stock] + [float(need.quantity) for need in needs]
        best = -linprog(-np.ones(len(pairs)), A_ub=limits, b_ub=most).fun
    assert abs(float(sum(one.covered for one in covers)) - best) < 1e-6
