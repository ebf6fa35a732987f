"""What a material is worth as it is used up, lot by lot. Numbers computed by hand."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.stock.valuation import Part, ShelfLot, in_order_of_issue, issue_from_lots
from shop.measures.money import STORED_STEP

D = Decimal
MONDAY = date(2026, 3, 2)


def lot(number: int, quantity: str, value: str, use_by: date | None = None, received: date = MONDAY) -> ShelfLot:
    return ShelfLot(number, D(quantity), D(value), use_by, received, number)


def test_the_lot_that_goes_off_first_is_used_first_and_undated_lots_last():
    undated_old = lot(1, "1", "1", received=MONDAY - timedelta(days=300))
    undated_new = lot(2, "1", "1")
    late = lot(3, "1", "1", use_by=MONDAY + timedelta(days=90))
    soon = lot(4, "1", "1", use_by=MONDAY + timedelta(days=9))
    soon_but_received_before = lot(5, "1", "1", use_by=soon.use_by, received=MONDAY - timedelta(days=1))
    recorded_later_the_same_day = lot(6, "1", "1")
    shelf = [undated_new, recorded_later_the_same_day, late, undated_old, soon, soon_but_received_before]
    assert [each.lot_id for each in in_order_of_issue(shelf)] == [5, 4, 3, 1, 2, 6]


def test_a_lot_closes_at_zero_although_its_unit_price_never_ends():
    """10.00 over 3 pieces: 3.3333, then half of 6.6667, then what is left."""
    first = issue_from_lots([lot(1, "3", "10.00")], D(1))
    assert first.parts == (Part(1, D(1), D("3.3333")),)
    assert first.left == (Part(1, D(2), D("6.6667")),)
    second = issue_from_lots([lot(1, "2", "6.6667")], D(1))
    assert second.value == D("3.3334")  # 3.33335, half up
    third = issue_from_lots([lot(1, "1", "3.3333")], D(1))
    assert third.left == (Part(1, D(0), D(0)),)
    assert first.value + second.value + third.value == D("10.00")


def test_an_issue_that_empties_one_lot_goes_on_with_the_next():
    shelf = [lot(1, "28", "0.56"), lot(2, "5000", "120.00")]
    issue = issue_from_lots(shelf, D("40"))
    assert issue.parts == (Part(1, D(28), D("0.56")), Part(2, D(12), D("0.2880")))
    assert issue.value == D("0.8480")
    assert issue.shortfall == 0


def test_more_than_there_is_takes_all_and_says_what_was_missing():
    for method in ("fifo", "average"):
        issue = issue_from_lots([lot(1, "2.5", "10"), lot(2, "1", "1")], D("4"), method=method)
        assert issue.shortfall == D("0.5")
        assert issue.value == D("11")
        assert all(part.quantity == part.value == 0 for part in issue.left)
        assert issue_from_lots([], D(4), method=method).shortfall == 4


def test_the_average_is_one_pool_although_the_first_lot_is_emptied():
    """10 worth 10 and 30 worth 90: average 2.50. 20 out: 50.00, of which 10 from each; 20 left worth 50.00."""
    issue = issue_from_lots([lot(1, "10", "10"), lot(2, "30", "90")], D(20), method="average")
    assert issue.parts == (Part(1, D(10), D(25)), Part(2, D(10), D(25)))
    assert issue.left == (Part(1, D(0), D(0)), Part(2, D(20), D(50)))


def test_the_average_counts_lots_that_are_not_touched_and_a_customers_own_worth_nothing():
    """2 worth 6 and 4 worth nothing: 1.00 each; one out leaves 5.00, shared as 1 to 4."""
    issue = issue_from_lots([lot(1, "2", "6"), lot(2, "4", "0")], D(1), method="average")
    assert issue.value == 1
    assert issue.left == (Part(1, D(1), D(1)), Part(2, D(4), D(4)))


def test_a_half_ten_thousandth_goes_up():
    """0.0001 × 1 / 2 = 0.00005."""
    assert issue_from_lots([lot(1, "2", "0.0001")], D(1)).value == D("0.0001")


def test_slips_are_refused():
    for quantity in ("0", "-1"):
        with pytest.raises(ValueError, match="must be above zero"):
            issue_from_lots([lot(1, "1", "1")], D(quantity))
    for bad in (lot(7, "-1", "0"), lot(7, "1", "-0.01"), lot(7, "0", "1")):
        for method in ("fifo", "average"):
            with pytest.raises(ValueError, match="cannot be on a shelf"):
                issue_from_lots([bad], D(1), method=method)


quantities = st.decimals("0.001", 5000, places=3)
values = st.decimals(0, 900, places=4)
shelves = st.lists(st.tuples(quantities, values, st.one_of(st.none(), st.dates())), max_size=6).map(
    lambda rows: [ShelfLot(i, q, v, day, MONDAY, i) for i, (q, v, day) in enumerate(rows)]
)


@given(shelves, quantities, st.sampled_from(["fifo", "average"]))
def test_nothing_of_value_or_quantity_is_ever_lost(shelf, quantity, method):
    issue = issue_from_lots(shelf, quantity, method=method)
    assert issue.value + sum(part.value for part in issue.left) == sum(each.value for each in shelf)
    assert sum(part.quantity for part in issue.parts) + issue.shortfall == quantity
    assert sum(p.quantity for p in (*issue.parts, *issue.left)) == sum(each.quantity for each in shelf)
    assert all(part.value >= 0 and part.value % STORED_STEP == 0 for part in (*issue.parts, *issue.left))
    assert all(part.quantity or not part.value for part in issue.left)


@given(shelves, st.lists(quantities, max_size=12), st.sampled_from(["fifo", "average"]))
def test_a_shelf_used_up_in_any_steps_gives_out_all_its_value(shelf, steps, method):
    before, out = sum(each.value for each in shelf), D(0)
    for step in [*steps, D(10**6)]:
        issue = issue_from_lots(shelf, step, method=method)
        out += issue.value
        left = {part.lot_id: part for part in issue.left}
        shelf = [each._replace(quantity=left[each.lot_id].quantity, value=left[each.lot_id].value) for each in shelf]
    assert out == before
