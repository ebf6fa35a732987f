"""What the buy list says: when, how many packs, and where shelf life or the storage limit holds an order back."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.buying.ordering import (
    Buying,
    Demand,
    HeldLot,
    advise,
    economic_order,
    service_factor,
    usable,
    whole_packs,
)

# 20 g a day, 6 days to deliver, 5 kg tins at 0.01 a gram. √(2 · 7300 · 12 / 0.0025) = 8371 g: two tins.
RESIN = Demand(per_day=20.0, sigma=0.0)
TIN = Buying(
    lead_days=6, content=5000, unit_cost=0.01, order_cost=12, holding_percent=25, z=service_factor(95), look_ahead=7
)


def test_nothing_is_due_while_the_shelf_outlasts_the_delivery_and_the_next_look():
    # 261 g last 13.05 days; 6 to deliver and 7 until the list is looked at again make 13.
    assert advise([HeldLot(261)], 0, RESIN, TIN) is None
    assert advise([HeldLot(259)], 0, RESIN, TIN) is not None


def test_the_economic_order_is_rounded_up_to_packs():
    advice = advise([HeldLot(100)], 0, RESIN, TIN)
    assert advice.economic == pytest.approx(8371.38, abs=0.01)
    assert advice.packs == 2
    assert (advice.kept, advice.room, advice.spoils) == (None, None, 0)


def test_no_order_lasts_longer_than_is_allowed_unless_more_is_short():
    month = replace(TIN, most_days=30, content=100)
    advice = advise([HeldLot(100)], 0, RESIN, month)
    assert (advice.most, advice.packs) == (600, 6)
    wanted = Demand(per_day=20.0, planned=((3.0, 1000.0),))
    assert advise([HeldLot(100)], 0, wanted, month).packs == 9
    plenty = replace(TIN, most_days=1000)
    assert advise([HeldLot(100)], 0, RESIN, plenty).most is None
    assert advise([HeldLot(100)], 0, RESIN, replace(TIN, most_days=30, content=10_000)).most is None, (
        "one pack is the least"
    )


def test_an_order_is_late_when_the_shelf_is_empty_before_it_comes():
    advice = advise([HeldLot(100)], 0, RESIN, TIN)
    assert advice.out_in == 5  # 100 g at 20 a day
    assert advice.order_in == -1


def test_use_that_swings_is_met_by_a_reserve():
    swinging = Demand(per_day=20.0, sigma=15.0)
    advice = advise([HeldLot(170)], 0, swinging, TIN)
    assert advice.reserve == pytest.approx(1.6449 * 15 * math.sqrt(6), abs=0.01)  # 60.4 g
    assert advice.point == pytest.approx(120 + 60.44, abs=0.01)
    assert advice.order_in < 0  # 170 is below the reorder point of 180
    assert advise([HeldLot(330)], 0, swinging, TIN) is None


def test_never_more_than_will_be_used_before_it_goes_off():
    # Polyester that keeps 180 days: until day 186 3720 g are wanted, 100 lie there, so one tin and no second.
    advice = advise([HeldLot(100)], 0, RESIN, replace(TIN, life_days=180))
    assert advice.packs == 1
    assert advice.kept == pytest.approx(3620)
    assert advice.spoils == pytest.approx(1380)
    # 500 g tins: seven of them are used up, the eighth is not.
    small = advise([HeldLot(100)], 0, RESIN, replace(TIN, life_days=180, content=500))
    assert (small.packs, small.spoils) == (7, 0)


def test_what_jobs_need_is_bought_even_if_some_of_it_will_spoil():
    job = Demand(planned=((4, 900.0),))
    advice = advise([], 0, job, replace(TIN, content=500, life_days=30))
    assert advice.packs == 2
    assert advice.spoils == pytest.approx(100)


def test_no_more_than_the_storage_limit_has_room_for():
    assert advise([HeldLot(100)], 0, RESIN, replace(TIN, room=9000)).packs == 1
    none = advise([HeldLot(100)], 0, RESIN, replace(TIN, room=4000))
    assert (none.packs, none.room) == (0, 4000)


def test_jobs_and_usual_use_are_not_counted_twice():
    demand = Demand(per_day=20.0, planned=((2, 100.0), (10, 60.0)))
    assert [demand.by(day) for day in (0, 1, 2, 5, 8, 10)] == [0, 20, 100, 100, 160, 200]
    assert demand.day_of(90) == 2
    assert demand.day_of(100) == 5
    assert Demand().day_of(0) == math.inf


def test_what_is_overdue_is_wanted_today():
    assert Demand(planned=((-3, 40.0),)).by(0) == 40


def test_stock_that_goes_off_before_it_is_used_does_not_count():
    # 20 g a day for ten days is 200 of the 500; what went off yesterday is nothing; the rest keeps.
    assert usable([HeldLot(500, 10), HeldLot(50, -1), HeldLot(300)], RESIN) == 500
    # What goes off first is used first: 200 of 500 by day 10, then 200 more of 700 by day 20.
    assert usable([HeldLot(700, 20), HeldLot(500, 10)], RESIN) == 400


def test_what_is_on_its_way_is_not_ordered_again():
    assert advise([HeldLot(100)], 5000, RESIN, TIN) is None


def test_without_a_price_only_what_is_short_is_ordered():
    advice = advise([], 0, RESIN, replace(TIN, unit_cost=None, content=100))
    assert advice.economic is None
    assert advice.packs == 3  # 13 days of 20 g


def test_material_nobody_uses_is_not_bought():
    assert advise([], 0, Demand(), TIN) is None


@pytest.mark.parametrize("wrong", [(-1, 1, 1), (1, 0, 1), (1, 1, 0)])
def test_an_economic_order_without_costs_is_refused(wrong):
    with pytest.raises(ValueError, match="costs above zero"):
        economic_order(*wrong)


def test_a_pack_or_an_order_of_nothing_is_refused():
    with pytest.raises(ValueError, match="hold something"):
        whole_packs(1, 0)


amounts = st.floats(0, 10_000)
demands = st.builds(
    Demand,
    per_day=st.floats(0, 100),
    sigma=st.floats(0, 50),
    planned=st.lists(st.tuples(st.floats(-5, 40), st.floats(0.01, 2000)), max_size=5).map(tuple),
)
buyings = st.builds(
    Buying,
    lead_days=st.floats(0, 30),
    content=st.floats(1, 5000),
    unit_cost=st.none() | st.floats(0.001, 10),
    order_cost=st.floats(1, 50),
    holding_percent=st.floats(5, 60),
    z=st.floats(1.28, 2.33),
    look_ahead=st.floats(1, 14),
    life_days=st.none() | st.floats(10, 700),
    room=st.none() | amounts,
)
shelves = st.lists(st.builds(HeldLot, amounts, st.floats(-30, 400) | st.just(math.inf)), max_size=4)


@given(shelves, amounts, demands, buyings)
def test_an_order_covers_what_is_short_unless_a_ceiling_says_why_not(held, coming, demand, buying):
    advice = advise(held, coming, demand, buying)
    if advice is None:
        return
    bought = advice.packs * buying.content
    assert bought >= advice.short * (1 - 1e-9) - 1e-6 or advice.kept is not None or advice.room is not None
    if advice.packs > 1 and buying.life_days is not None:
        jobs = demand.planned_by(buying.lead_days + buying.look_ahead) - advice.available
        in_date = max(0.0, demand.by(buying.lead_days + buying.life_days) - advice.available)
        assert bought <= in_date + 1e-6 or bought - buying.content < jobs
    if buying.room is not None:
        assert bought <= buying.room + 1e-6


@given(shelves, demands)
def test_no_more_is_usable_than_lies_there(held, demand):
    in_date = sum(lot.quantity for lot in held if lot.days >= 0)
    assert -1e-9 <= usable(held, demand) <= in_date + 1e-6
    assert usable(held, demand) >= sum(lot.quantity for lot in held if math.isinf(lot.days)) - 1e-6
