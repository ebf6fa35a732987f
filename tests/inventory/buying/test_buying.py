"""The buy list: from whom, how many packs, by when and why; and what is ordered is not ordered twice."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from inventory.buying import buy_list as buying
from inventory.buying.buy_list import buy_list, by_supplier
from inventory.buying.orders import close_order, on_the_way, place_order
from inventory.buying.planning import Want, reserve
from inventory.models import BuyingRules, Lot, Material, Order, Pack, PackPrice, Reservation, Safety, Supplier
from inventory.stock import ledger
from shop.models import JournalEntry
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY, the_day
from tests.inventory.buying.test_planning import day, moment, plain, put_aside, use_on


@pytest.fixture
def used(shelf):
    """140 g of resin used in each of the last 26 weeks; a 5 kg tin costs 50, six days to deliver."""
    BuyingRules(most_weeks=104).save()  # so that the other ceilings are met
    pack = shelf.price("5 kg tin", "5000", "50", from_day=day(-300))
    Supplier.objects.update(lead_days=6)
    shelf.receive("3740", "37.40", received_on=day(-190), recorded_at=moment(-190))
    for week in range(26):
        use_on(shelf, "140", -TODAY.weekday() - 1 - 7 * week)
    shelf.pack = pack
    return shelf


def only(lines):
    [line] = lines
    return line


def test_the_list_says_from_whom_how_many_by_when_and_why(used):
    # 100 g left, 20 g a day without a swing: gone in five days, and the tin needs six. √(2·7300·12/0.0025) = 8371 g.
    line = only(buy_list(TODAY))
    assert (line.pack, line.packs, str(line.supplier), plain(line.quantity)) == (
        used.pack,
        2,
        "Slipway Supplies",
        "10 kg",
    )
    assert (line.order_on, line.comes_on, line.low_on) == (TODAY, day(6), day(5))
    assert line.late
    assert line.cost == 100
    assert tuple(map(plain, line.why)) == (
        f"Usable on the shelf: 100 g; enough until {the_day(day(5))}.",
        "Usual use 140 g a week, from 26 weeks. With 6 days to deliver and a reserve of 0 g, order at 120 g.",
        "Cheapest to order at a time: 8370 g.",
    )
    assert line.ceilings == ()


def test_no_more_than_so_many_weeks_use_is_ordered_at_once_and_it_is_said(used):
    BuyingRules(most_weeks=6).save()
    line = only(buy_list(TODAY))
    assert line.packs == 1, "six weeks are 840 g, and the tin holds 5 kg"
    assert plain(line.ceilings[0]) == (
        "The cheapest quantity would last 60 weeks; no more than 6 weeks’ use is ordered at once, about 840 g."
    )


def test_what_is_new_is_not_ordered_for_longer_than_it_was_watched(shelf):
    shelf.price("500 g tin", "500", "5", from_day=day(-300))
    this_week = -TODAY.weekday()
    first = this_week - 35
    shelf.receive("600", "6", received_on=day(first), recorded_at=moment(first))
    for week in range(5):
        use_on(shelf, "100", this_week - 1 - 7 * week)
    line = only(buy_list(TODAY))
    assert line.packs == 1, "five weeks are 500 g, and the cheapest order is several kilos"
    assert "no more than 5 weeks’ use is ordered at once" in plain(line.ceilings[0])


def test_nothing_is_listed_while_there_is_enough(used):
    used.receive("200", "2")  # 300 g: 15 days, and the list is looked at again in 7
    assert buy_list(TODAY) == []


def test_shelf_life_is_a_ceiling_and_is_said(used):
    Material.objects.update(shelf_life_days=180)
    line = only(buy_list(TODAY))
    assert line.packs == 1
    assert plain(line.ceilings[0]).startswith("Keeps 180 days, in which about 3620 g of it will be used")
    assert plain(line.ceilings[1]) == "About 1380 g of it will go off unused; ask for a smaller pack."


def test_a_smaller_pack_is_taken_where_the_usual_one_would_spoil(used):
    Material.objects.update(shelf_life_days=180)
    small = used.price("1 kg tin", "1000", "12", from_day=day(-300), preferred=False)
    line = only(buy_list(TODAY))
    assert (line.pack, line.packs, line.cost) == (small, 3, 36)
    assert len(line.ceilings) == 1


def test_what_jobs_reserve_is_bought_in_time_for_them(shelf):
    shelf.price("500 g tin", "500", "6")
    Supplier.objects.update(lead_days=3)
    shelf.is_counted_out()
    put_aside(shelf, ("900", 9))
    line = only(buy_list(TODAY))
    assert (line.packs, line.order_on, line.comes_on, line.late) == (2, day(6), day(9), False)
    assert plain(line.why[0]) == f"Jobs have reserved 900 g until {the_day(day(9))}."
    Reservation.objects.update(needed_on=day(2))
    assert only(buy_list(TODAY)).late


def test_a_storage_limit_is_a_ceiling(used):
    Safety.objects.create(material=used.material, keep_at_most=Decimal(6000))
    line = only(buy_list(TODAY))
    assert line.packs == 1
    assert tuple(map(plain, line.ceilings)) == ("No more than 6000 g may be stored, so there is room for 5900 g.",)
    Safety.objects.update(keep_at_most=Decimal(4000))
    line = only(buy_list(TODAY))
    assert line.packs == 0
    assert "Not one pack fits" in line.ceilings[0]


def test_what_does_not_keep_once_opened_is_said(used):
    Material.objects.update(opened_life_days=90)
    assert tuple(map(plain, only(buy_list(TODAY)).ceilings)) == (
        "Once opened it keeps 90 days, in which about 1800 g is used.",
    )


def test_material_nobody_sells_yet_is_on_the_list_without_a_supplier(shelf):
    shelf.is_counted_out()
    put_aside(shelf, ("25", 1))
    line = only(buy_list(TODAY))
    assert (line.supplier, line.pack, plain(line.quantity), line.cost) == (None, None, "25 g", None)


def test_retired_material_is_not_bought(used):
    Material.objects.update(retired_at=NOW)
    assert buy_list(TODAY) == []


def test_lines_stand_with_their_supplier_the_pressing_one_first(used):
    other = Supplier.objects.create(name="Dunlin Yard Stores", lead_days=1)
    disc = Material.objects.create(key="disc", name="Disc", kind="abrasive", unit="piece")
    Pack.objects.create(material=disc, supplier=other, words="box of 50", content=Decimal(50), preferred=True)
    used.is_counted_out(disc)
    reserve(wants=[Want(disc, Decimal(3), day(6))], at=NOW)
    lists = by_supplier(buy_list(TODAY))
    assert [(str(one.supplier), len(one.lines), one.cost, one.priced) for one in lists] == [
        ("Slipway Supplies", 1, Decimal(100), True),
        ("Dunlin Yard Stores", 1, Decimal(0), False),
    ]


def test_the_shops_own_rules_decide(used, keeper):
    buying.set_rules(
        rules=BuyingRules(order_cost=Decimal(3), holding_percent=Decimal(25), service_percent=95, look_ahead_days=7),
        signed=Signed(keeper, NOW),
    )
    assert only(buy_list(TODAY)).packs == 1  # √(2·7300·3/0.0025) = 4186 g
    with pytest.raises(Refused):
        buying.set_rules(rules=BuyingRules(order_cost=Decimal(0)), signed=Signed(keeper, NOW))


def test_what_is_ordered_is_not_listed_again(used, keeper):
    line = only(buy_list(TODAY))
    [order] = place_order(packs={line.pack: line.packs}, ordered_on=TODAY, signed=Signed(keeper, NOW))
    assert (order.expected_on, order.packs) == (day(6), 2)
    assert buy_list(TODAY) == []
    [coming] = on_the_way(TODAY)[used.material.pk]
    assert coming.left == 10_000
    assert JournalEntry.objects.filter(verb="stock.order").count() == 1


def test_a_delivery_counts_against_its_order(used, keeper):
    place_order(packs={used.pack: 2}, ordered_on=TODAY, signed=Signed(keeper, NOW))
    lot = used.receive("5000", "50", received_on=TODAY)
    assert only(on_the_way(TODAY)[used.material.pk]).left == 5000
    second = used.receive("5000", "50", received_on=TODAY)
    assert on_the_way(TODAY) == {}
    used.undo(second.movements.get())  # entered twice
    assert only(on_the_way(TODAY)[used.material.pk]).left == 5000
    used.undo(lot.movements.get())
    assert only(on_the_way(TODAY)[used.material.pk]).left == 10_000


def test_the_oldest_order_is_filled_first_and_found_stock_fills_none(used, keeper):
    place_order(packs={used.pack: 1}, ordered_on=day(-3), signed=Signed(keeper, NOW))
    place_order(packs={used.pack: 1}, ordered_on=day(-1), signed=Signed(keeper, NOW))
    used.receive("800", "0", received_on=TODAY, origin="reclaimed")
    used.receive("6000", "60", received_on=day(-2), recorded_at=moment(0))
    # What came before the second order was given out does not fill it: of 6000 g only 5000 were ordered then.
    assert [one.left for one in on_the_way(TODAY)[used.material.pk]] == [5000]


def test_an_order_that_never_came_is_called_off_once(used, keeper):
    [order] = place_order(packs={used.pack: 2}, ordered_on=TODAY, signed=Signed(keeper, NOW))
    close_order(order=order, signed=Signed(keeper, NOW))
    assert on_the_way(TODAY) == {}
    assert only(buy_list(TODAY)).packs == 2
    with pytest.raises(Refused, match="already"):
        close_order(order=order, signed=Signed(keeper, NOW))


def test_an_order_nobody_thought_of_for_months_is_not_counted_on(used, keeper):
    place_order(packs={used.pack: 2}, ordered_on=day(-120), signed=Signed(keeper, NOW))
    assert on_the_way(TODAY) == {}


@pytest.mark.parametrize("count", [0, -1, 10_000])
def test_an_order_of_nothing_or_of_too_much_is_refused(used, keeper, count):
    with pytest.raises(Refused):
        place_order(packs={used.pack: count}, ordered_on=TODAY, signed=Signed(keeper, NOW))
    assert not Order.objects.exists()


def test_the_bench_orders_nothing(used, bench):
    with pytest.raises(PermissionDenied):
        place_order(packs={used.pack: 1}, ordered_on=TODAY, signed=Signed(bench, NOW))


def test_the_list_takes_the_same_queries_for_one_material_and_for_many(used, keeper, django_assert_max_num_queries):
    place_order(packs={used.pack: 1}, ordered_on=TODAY - timedelta(days=60), signed=Signed(keeper, NOW))
    with django_assert_max_num_queries(14) as few:
        buy_list(TODAY)
    for number in range(25):
        other = Material.objects.create(key=f"m{number}", name=f"M {number}", kind="cloth", unit="m2")
        pack = Pack.objects.create(material=other, supplier=used.pack.supplier, words="roll", content=Decimal(20))
        PackPrice.objects.create(pack=pack, price=Decimal(90), from_day=TODAY)
        ledger.receive(
            lot=Lot(material=other, received_on=TODAY),
            quantity=Decimal(3),
            value=Decimal(9),
            signed=Signed(keeper, NOW),
        )
        ledger.use(material=other, quantity=Decimal(2), signed=Signed(keeper, NOW))
        place_order(packs={pack: 1}, ordered_on=TODAY, signed=Signed(keeper, NOW))
    with django_assert_max_num_queries(14) as many:
        buy_list(TODAY)
    assert len(many) == len(few)
