"""From cost to price: what the counter would check with a pocket calculator."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quotes.costing import (
    STARTING_RECIPES,
    Pricing,
    at_price,
    earned_per_hour,
    estimate,
    overhead_rate,
    price,
    price_way,
)  # fmt: skip
from quotes.costing.money.pricing import money
from tests.sample_shop import PU, SHOP, TWIN_KEELS

PLAIN = Pricing(percent=0, includes_tax=False)


def test_margin_and_markup_of_one_cost():
    """Centennial College Libraries, “Markup”: on cost M/C, on price M/S. 37.40 at 40 %: margin 62.33, markup 52.36."""
    assert price(37.40, replace(PLAIN, method="margin", percent=40)).net == Decimal("62.33")
    assert price(37.40, replace(PLAIN, method="markup", percent=40)).net == Decimal("52.36")


@pytest.mark.parametrize(
    ("markup", "margin"), [(66.667, 40), (40, 28.571), (25, 20), (33.333, 25), (50, 33.333), (100, 50)]
)
def test_a_markup_and_the_margin_it_is(markup: float, margin: float):
    """Centennial College Libraries, “Markup”, with margin = markup/(1 + markup): cost 60 price 100, 100 → 140, …"""
    pricing = replace(PLAIN, method="markup", percent=markup)
    words = price(1000, pricing).margin(pricing)
    assert words.of_cost_percent == pytest.approx(markup, abs=0.01)
    assert words.of_price_percent == pytest.approx(margin, abs=0.01)


@pytest.mark.parametrize("percent", [100, 130])
def test_a_margin_of_a_hundred_per_cent_is_refused(percent: float):
    pricing = replace(PLAIN, method="margin", percent=percent)
    with pytest.raises(ValueError, match="must be below 100 %"):
        price(10, pricing)
    found = estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, replace(SHOP, pricing=pricing), board=PU)
    assert [p.text for p in found.problems] == [f"A margin on the price must be below 100 %; it is {percent} %."]


def test_a_margin_below_zero_is_refused():
    with pytest.raises(ValueError, match="must not be below zero"):
        price(10, replace(PLAIN, percent=-5))


def test_where_prices_include_tax_the_gross_is_the_master():
    # 320.7789/0.75 = 427.7052, with 13.5 % tax 485.45 → up to 490.00; tax = 490 × 13.5/113.5 = 58.28, net 431.72
    found = price(320.7789, Pricing("margin", 25, step=5, tax_percent=13.5))
    assert (found.cost, found.gross, found.tax, found.net) == (
        Decimal("320.78"), Decimal("490.00"), Decimal("58.28"), Decimal("431.72"),
    )  # fmt: skip
    assert found.shown == found.gross
    assert [words for words, _ in found.trail] == ["25 % margin on the price", "with 13.5 % tax", "rounded up to 5"]


def test_where_prices_come_without_tax_it_is_put_on_top():
    # 100/0.8 = 125.00; 20 % tax 25.00
    found = price(100, Pricing("margin", 20, tax_percent=20, includes_tax=False))
    assert (found.net, found.tax, found.gross, found.shown) == (125, 25, 150, 125)


def test_the_shops_minimum_is_a_price_as_the_customer_sees_it():
    found = price(4, Pricing("margin", 25, minimum=30, tax_percent=13.5))
    assert found.gross == Decimal("30.00")
    assert found.trail[-1] == ("the shop's minimum", Decimal("30.00"))


def test_rush_then_discount_then_step():
    # 60/0.75 = 80; rush 25 % → 100; discount 10 % → 90; up to 5 → 90
    found = price(60, replace(PLAIN, percent=25, rush_percent=25, discount_percent=10, step=5))
    assert found.net == Decimal("90.00")
    assert [amount for _, amount in found.trail] == [Decimal("80.00"), Decimal("100.00"), Decimal("90.00")]


@pytest.mark.parametrize(("cost", "shown"), [(70.01, "75.00"), (70, "70.00"), (70.004, "70.00"), (69.996, "70.00")])
def test_a_price_is_rounded_up_to_the_step(cost: float, shown: str):
    assert price(cost, replace(PLAIN, step=5)).net == Decimal(shown)


@pytest.mark.parametrize(
    ("value", "rounded"), [(2.345, "2.35"), (0.125, "0.13"), (1.005, "1.01"), (2.675, "2.68"), (-0.125, "-0.13")]
)
def test_half_a_cent_goes_away_from_zero(value: float, rounded: str):
    """The shortest decimal form decides: 2.675 is 2.68 although its binary is a hair below."""
    assert money(value) == Decimal(rounded)


def test_a_currency_without_cents():
    found = price(1234.5, replace(PLAIN, percent=10, decimals=0, step=100, tax_percent=10, includes_tax=True))
    assert (found.gross, found.tax, found.net) == (Decimal(1600), Decimal(145), Decimal(1455))


def test_a_price_by_hand():
    found = at_price(320.7789, Decimal("450"), Pricing("margin", 25, step=5, tax_percent=13.5))
    assert (found.gross, found.net) == (Decimal("450.00"), Decimal("396.48"))


@given(
    st.floats(0.01, 5000),
    st.floats(0, 90),
    st.sampled_from([0, 5, 13.5, 23]),
    st.booleans(),
    st.sampled_from([0, 1, 5]),
)
def test_net_and_tax_make_the_gross_and_a_price_never_undercuts_its_margin(cost, percent, tax, included, step):
    pricing = Pricing("margin", percent, step=step, tax_percent=tax, includes_tax=included)
    found = price(cost, pricing)
    assert found.net + found.tax == found.gross
    assert float(found.net) >= cost / (1 - percent / 100) - 0.011


def test_overhead_of_an_hour():
    """OpenStax, Principles of Accounting, volume 2, section 4.4: the estimate over its base; 250,000/100,000 = 2.50."""
    assert overhead_rate(250_000, 100_000) == 2.50
    with pytest.raises(ValueError, match="above zero"):
        overhead_rate(1000, 0)


def test_job_order_cost():
    """OpenStax, Principles of Accounting, volume 2, section 4.5, job MAC001: materials 700, labour 66, overhead at 2.50
    for each unit of labour 165, in all 931; sold at 2,000 it gains 1,069.
    """
    materials, labour = 700.0, 66.0
    overhead = labour * overhead_rate(250_000, 100_000)
    found = at_price(materials + labour + overhead, Decimal(2000), PLAIN)
    assert found.cost == Decimal("931.00")
    assert found.net - found.cost == Decimal("1069.00")


def test_what_an_hour_earns():
    # (282 − 100 of material and overhead) over 4 h = 45.50
    assert earned_per_hour(282, 100, 240) == 45.5
    assert earned_per_hour(282, 100, 0) is None


def test_labour_is_minutes_times_wage_and_overhead_rides_on_it():
    found = estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, SHOP, board=PU)
    wages = math.fsum(x.cost for x in found.lines if x.kind == "labour")
    overhead = math.fsum(x.cost for x in found.lines if x.kind == "overhead")
    # minutes scatter by 0.218 a step and 0.10 a job: their mean is × exp((0.218² + 0.10²)/2) = 1.0292 of the middle
    assert found.expected_minutes == pytest.approx(found.minutes * 1.02918, rel=1e-4)
    assert wages == pytest.approx(found.expected_minutes / 60 * 24.0)
    assert overhead == pytest.approx(found.expected_minutes / 60 * 11.5)
    assert found.outlay == pytest.approx(found.cost_unrounded - wages)
    net = float(found.priced.net)
    assert found.earned_per_hour == pytest.approx((net - found.outlay) / (found.expected_minutes / 60))


def test_two_damages_of_one_way_share_one_minimum_and_one_rounding():
    dent = STARTING_RECIPES["pressure-dent"]
    parts = [
        estimate(
            dent, {"dents": 1, "length": 30.0 + n, "width": 25.0, "depth": 2.0, "paint": 0}, SHOP, board=PU
        ).snapshot()
        for n in range(2)
    ]
    pricing = replace(SHOP.pricing, minimum=1000.0)
    way = price_way(parts, pricing)
    assert way["price"] == "1000.00"
    assert way["cost_unrounded"] == pytest.approx(sum(part.cost_unrounded for part in parts))
    assert way["minutes"] == pytest.approx(sum(part.minutes for part in parts))
    assert Decimal(way["price_before_tax"]) + Decimal(way["tax"]) == Decimal(way["price"])
    assert price_way(parts, pricing, shown=Decimal("77"))["price"] == "77.00"


def test_a_way_with_a_gap_has_no_price():
    whole = estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, SHOP, board=PU).snapshot()
    gap = estimate(STARTING_RECIPES["glass-on-twin"], {}, SHOP, board=PU).snapshot()
    way = price_way([whole, gap], SHOP.pricing)
    assert way["price"] is None
    assert way["problems"] == [problem.to_json() for problem in gap.problems]
