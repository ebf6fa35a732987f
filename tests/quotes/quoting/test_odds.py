"""How sure a price is: chance of loss, what it would take, what moves it, and who may see it."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from math import ceil

import pytest
from django.urls import reverse

from quotes import quoting
from quotes.costing import STARTING_RECIPES, estimate, sensitivities
from quotes.costing.learning.rework import ReworkRate
from quotes.quoting import odds
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.costing.dice import thrown
from tests.sample_shop import PU, SHOP, TWIN_KEELS

PRICING = SHOP.pricing


@pytest.fixture(scope="module")
def keels():
    return estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, SHOP, board=PU)


@pytest.fixture(scope="module")
def parts(keels):
    return [keels.snapshot()]


def at(parts, net, bought="0"):
    return odds.odds(parts, net=Decimal(net), bought=Decimal(bought), pricing=PRICING)


def test_a_higher_price_is_a_smaller_chance_of_loss(parts):
    chances = [at(parts, net).chance_of_loss for net in ("120", "200", "250", "300", "400")]
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.9
    assert chances[-1] < 0.01


def test_the_price_for_a_chance_has_that_chance(parts):
    plain = replace(PRICING, step=0.0)
    price = odds.price_for_chance(parts, Decimal("10"), bought=Decimal(0), pricing=plain)
    net = price / Decimal("1.135")  # 13.5 % VAT is in it
    assert at(parts, net).chance_of_loss == pytest.approx(0.10, abs=0.001)


@pytest.mark.parametrize("rates", [{"laminate": 0.1}, {"laminate": 0.1, "sand": 0.2}])
def test_the_price_for_a_chance_has_that_chance_where_steps_are_done_again(rates, parts):
    """Against dice; a price without that loses more often than it says."""
    again = {key: ReworkRate(key, 100, round(100 * rate), rate, 0.0) for key, rate in rates.items()}
    made = estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, replace(SHOP, again=again), board=PU).snapshot()
    plain = replace(PRICING, step=0.0)
    cost, _, _ = thrown([made], 4)
    for percent in (5, 10, 20):
        chance = Decimal(percent)
        prices = [odds.price_for_chance(found, chance, bought=Decimal(0), pricing=plain) for found in ([made], parts)]
        nets = [float(price / Decimal("1.135")) for price in prices]
        assert at([made], str(nets[0])).chance_of_loss == pytest.approx(percent / 100, abs=0.001)
        with_again, without = ((cost > net).mean() for net in nets)
        assert with_again == pytest.approx(percent / 100, abs=0.01)
        assert without > 1.05 * with_again


def test_prices_for_a_chance_fall_as_the_chance_rises(parts):
    prices = [price for _, price in at(parts, "300").prices]
    assert prices == sorted(prices, reverse=True)
    assert all(price % 5 == 0 for price in prices)


def test_the_price_for_a_wanted_earning_pays_outlay_and_hours(keels, parts):
    # 40 an hour over the hands-on hours, materials and overhead on top, 13.5 % VAT, up to a whole 5
    net = 40 * keels.expected_minutes / 60 + keels.outlay
    price = odds.price_to_earn(parts, Decimal("40"), bought=Decimal(0), pricing=PRICING)
    assert price == ceil(net * 1.135 / 5) * 5


def test_what_is_bought_in_shifts_cost_and_price_alike(parts):
    alone, with_fins = at(parts, "300"), at(parts, "335", bought="35")
    assert with_fins.chance_of_loss == pytest.approx(alone.chance_of_loss)
    assert with_fins.cost["q50"] == pytest.approx(alone.cost["q50"] + 35)
    assert with_fins.earned == pytest.approx(alone.earned)


def test_half_and_eight_in_ten_lie_inside_each_other(parts):
    span = at(parts, "300").cost_span
    assert span == sorted(span)
    found = at(parts, "300").earned
    assert found["q10"] < found["q25"] < found["q50"] < found["q75"] < found["q90"]


def test_the_strongest_movers_come_first_as_bars_on_one_scale():
    movers = sensitivities(STARTING_RECIPES["pressure-dent"], {"length": 80, "width": 60, "depth": 4}, SHOP, board=PU)
    chart = odds.bars(movers)
    assert len(chart["rows"]) == odds.MOVERS_SHOWN
    widths = [row["right"] - row["left"] for row in chart["rows"]]
    assert widths == sorted(widths, reverse=True)
    assert all(0 <= row["left"] <= row["right"] <= odds.BAR for row in chart["rows"])
    assert chart["more"] == len(movers) - odds.MOVERS_SHOWN
    assert chart["rest_at_most"] <= min(row["mover"].span for row in chart["rows"])


def test_nothing_moves_nothing():
    assert odds.bars([]) == {"rows": [], "width": odds.BAR, "more": 0, "rest_at_most": 0.0}


def test_a_ways_own_page_says_it_all_and_only_to_those_who_see_money(quote, counter, counter_client, bench_client):
    way = quote.boards.get().ways.get(position=2)
    quoting.add_line(way=way, words="Fins", price=Decimal("60"), cost=Decimal("35"), signed=Signed(counter, NOW))
    url = reverse("way-sure", args=[way.pk])
    page = counter_client.get(url + "?earning=40&chance=8").content.decode()
    for words in ("Chance of loss", "What would it take", "What moves this price", "An hour earns €40.00"):
        assert words in page
    assert "common practice, no source" in page
    assert bench_client.get(url).status_code == 403


def test_an_entry_that_can_not_be_read_is_refused_beside_its_box(quote, counter_client):
    way = quote.boards.get().ways.get(position=1)
    answer = counter_client.get(reverse("way-sure", args=[way.pk]) + "?earning=ten&chance=0")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "An hour should earn must be an amount" in page
    assert "Chance of loss at most must be from 1 to 99" in page
    assert 'value="ten"' in page


def test_without_a_price_there_are_no_odds(quote, counter_client):
    way = quote.boards.get().ways.get(position=1)
    problem = {"text": "“Roving” has no price: give one of its packs a price.", "operation": "rope-fin",
               "field": "material", "fix": "recipe"}  # fmt: skip
    type(way).objects.filter(pk=way.pk).update(net=None, gross=None, problems=[problem], totals={})
    page = counter_client.get(reverse("way-sure", args=[way.pk])).content.decode()
    assert "no price yet" in page
    assert "“Roving” has no price" in page
    assert "€" not in page
