"""From rows to an estimate and back: prices, rates and tax of the day, money that adds up, and the day it is ready."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from math import ceil

import pytest

from inventory.models import Material, PackPrice
from quotes.costing import Construction
from quotes.estimating import Calendar, HandLine, estimate, price_way, read_typed, shop_inputs
from quotes.models import Factor
from shop.models import LabourRate, Profile, TaxRate
from shop.platform.acts import Refused
from tests import sample_shop
from tests.conftest import TODAY, in_words
from tests.quotes import seed
from tests.sample_shop import TWIN_KEELS

PU = Construction("pu", "polyester", "glass")


@pytest.fixture
def versions(profile):
    sample_shop.stock_the_store()
    return seed.recipes()


def priced(version, inputs, measures=seed.KEELS, board=PU):
    return estimate(version=version, measures=measures, board=board, day=inputs.day, inputs=inputs).snapshot()


def test_every_line_says_where_its_price_comes_from(versions):
    snapshot = priced(versions["glass-on-twin"], shop_inputs(day=TODAY))
    assert snapshot.problems == ()
    assert all(line.unit_cost.source and line.factor.source for line in snapshot.lines)
    foam = next(line for line in snapshot.lines if line.material == "foam-64")
    source = f"pack of 1000 g, Slipway Supplies, {in_words(sample_shop.PRICED_FROM, weekday=False)}"
    assert foam.unit_cost == (0.017, "g", source, False)  # 17.00 for a pack of 1000 g


def test_wage_and_overhead_are_those_of_the_day(versions):
    LabourRate.objects.create(wage_per_hour=Decimal("24.50"), from_day=TODAY + timedelta(days=1))
    today, tomorrow = shop_inputs(day=TODAY).shop, shop_inputs(day=TODAY + timedelta(days=1)).shop
    assert (today.wage_per_hour, tomorrow.wage_per_hour) == (22.0, 24.5)
    assert today.overhead_per_hour == 9.0  # 1080 a month over 120 hours


def test_a_new_pack_price_counts_from_its_day(versions):
    pack = Material.objects.get(key="foam-64").packs.get()
    PackPrice.objects.create(pack=pack, price=Decimal("34"), from_day=TODAY)
    before, after = shop_inputs(day=TODAY - timedelta(days=1)), shop_inputs(day=TODAY)
    assert before.shop.materials["foam-64"].price.value == 0.017
    assert after.shop.materials["foam-64"].price.value == 0.034


def test_exact_figures_cross_without_dust(versions):
    Material.objects.filter(key="cloth-4oz").update(areal_weight_g_m2=Decimal("135.6"))
    assert shop_inputs(day=TODAY).shop.materials["cloth-4oz"].areal_weight_g_m2 == 135.6


def test_the_shops_own_factor_replaces_the_trades(versions):
    Factor.objects.create(
        operation="laminate", material="cloth-6oz", value=1.4, low=1.2, high=1.7, source="14 cuts of this shop"
    )
    snapshot = priced(versions["glass-on-twin"], shop_inputs(day=TODAY))
    cloth = next(x for x in snapshot.lines if x.operation == "laminate" and x.material == "cloth-6oz")
    said = {"value": 1.4, "low": 1.2, "high": 1.7, "source": "14 cuts of this shop"}
    assert said.items() <= cloth.factor.to_json().items()
    assert cloth.use == pytest.approx(1.4 * cloth.need)


def test_the_shops_temperature_is_used_unless_one_is_given(versions):
    Profile.objects.update(shop_temperature_c=Decimal("17.5"))
    assert shop_inputs(day=TODAY).shop.temperature_c == 17.5
    assert shop_inputs(day=TODAY, temperature=24).shop.temperature_c == 24


def test_a_material_without_a_price_leaves_no_price_and_says_what_is_missing(versions):
    PackPrice.objects.filter(pack__material__key="roving").delete()
    snapshot = priced(versions["glass-on-twin"], shop_inputs(day=TODAY))
    assert snapshot.price is None
    assert [(str(p.remedy), "Roving 2000 tex" in p.text) for p in snapshot.problems] == [("material:roving", True)]


def test_without_a_wage_or_a_tax_rate_there_is_no_price(versions):
    LabourRate.objects.all().delete()
    TaxRate.objects.update(for_repairs=False)
    snapshot = priced(versions["glass-on-twin"], shop_inputs(day=TODAY))
    assert snapshot.price is None
    assert [str(p.remedy) for p in snapshot.problems] == ["shop:tax", "shop:wage_per_hour"]
    assert price_way([snapshot], inputs=shop_inputs(day=TODAY))["price"] is None


def test_a_shop_that_is_not_registered_charges_no_tax(versions):
    Profile.objects.update(tax_profile="none")
    inputs = shop_inputs(day=TODAY)
    way = price_way([priced(versions["glass-on-twin"], inputs)], inputs=inputs)
    assert way["tax"] == "0.00"
    assert way["price"] == way["price_before_tax"]
    assert way["lines"][0]["tax_category"] == "O"


def test_two_repairs_in_one_way_pay_the_minimum_and_the_rounding_once(versions):
    inputs = shop_inputs(day=TODAY)
    dent = {"dents": "1", "length": "20", "width": "15", "depth": "2"}
    one = priced(versions["pressure-dent"], inputs, dent)
    way = price_way([one, one], inputs=inputs)
    cost = 2 * one.cost_unrounded
    # a quarter of the price is margin, 13.5 % VAT on top, up to a whole 5
    shown = Decimal(str(cost)) / Decimal("0.75") * Decimal("1.135")
    assert Decimal(way["price"]) == ceil(shown / 5) * 5
    assert way["cost"] == str(Decimal(str(cost)).quantize(Decimal("0.01")))
    assert way["minutes"] == pytest.approx(2 * one.minutes)


def test_tax_is_worked_out_per_rate_on_the_sums_and_the_gross_is_the_master(versions):
    inputs = shop_inputs(day=TODAY)
    lines = [HandLine("Leash", Decimal("30.00"), Decimal("14.00"), Decimal("23"))]
    way = price_way([priced(versions["glass-on-twin"], inputs)], inputs=inputs, lines=lines)
    rows = {row["percent"]: row for row in way["document"]["tax_rows"]}
    work = Decimal(way["lines"][0]["price"])
    # 30 × 23/123 = 5.6098
    assert rows["23"] == {"category": "S", "percent": "23", "net": "24.39", "tax": "5.61", "gross": "30.00"}
    assert Decimal(rows["13.5"]["tax"]) == (work * Decimal("13.5") / Decimal("113.5")).quantize(Decimal("0.01"))
    assert Decimal(way["price"]) == work + 30
    assert Decimal(way["price_before_tax"]) + Decimal(way["tax"]) == Decimal(way["price"])


def test_a_price_by_hand_is_the_whole_way_with_its_lines(versions):
    inputs = shop_inputs(day=TODAY)
    one = priced(versions["glass-on-twin"], inputs)
    lines = [HandLine("Leash", Decimal("30.00"), Decimal("14.00"), Decimal("13.5"))]
    way = price_way([one], inputs=inputs, lines=lines, by_hand=Decimal("485"))
    assert [line["price"] for line in way["lines"]] == ["455.00", "30.00"]
    assert (way["price"], way["tax"], way["price_before_tax"]) == ("485.00", "57.69", "427.31")  # 485 × 13.5/113.5
    # what an hour earns: 427.31 less materials, overhead and the leash, over the hours
    hours = one.expected_minutes / 60
    assert way["earned_per_hour"] == pytest.approx((427.31 - one.outlay - 14) / hours)


def test_a_price_by_hand_below_its_own_lines_is_refused(versions):
    inputs = shop_inputs(day=TODAY)
    lines = [HandLine("Leash", Decimal("30.00"))]
    with pytest.raises(Refused, match="does not hold the lines by hand"):
        price_way([priced(versions["glass-on-twin"], inputs)], inputs=inputs, lines=lines, by_hand=Decimal("20"))


def test_a_trade_customers_discount_comes_off_before_the_rounding(versions):
    inputs = shop_inputs(day=TODAY)
    Profile.objects.update(price_step=Decimal("0.01"))
    plain, less = shop_inputs(day=TODAY), shop_inputs(day=TODAY).of_quote(Decimal("10"))
    one = priced(versions["glass-on-twin"], inputs)
    full, cut = (Decimal(price_way([one], inputs=i)["price"]) for i in (plain, less))
    assert abs(cut - full * Decimal("0.9")) <= Decimal("0.01")


def test_a_markup_on_cost_makes_the_price_of_the_margin_that_equals_it(versions):
    # Markup m on cost is a margin of m / (1 + m) on the price: 25 % on cost is 20 % of the price.
    Profile.objects.update(price_step=Decimal("0.01"), price_method="markup", margin_percent=Decimal("25"))
    markup = shop_inputs(day=TODAY)
    Profile.objects.update(price_method="margin", margin_percent=Decimal("20"))
    margin = shop_inputs(day=TODAY)
    one = priced(versions["glass-on-twin"], markup)
    by_markup, by_margin = (price_way([one], inputs=inputs) for inputs in (markup, margin))
    assert by_markup["price"] == by_margin["price"]
    assert by_markup["margin"]["trail"][0]["words"] == "25 % markup on the cost"
    assert by_margin["margin"]["trail"][0]["words"] == "20 % margin on the price"


def test_prices_without_tax_have_it_added(versions):
    Profile.objects.update(prices_include_tax=False)
    inputs = shop_inputs(day=TODAY)
    way = price_way([priced(versions["glass-on-twin"], inputs)], inputs=inputs)
    net = Decimal(way["price_before_tax"])
    assert net % 5 == 0
    assert way["shown"] == way["price_before_tax"]
    assert Decimal(way["tax"]) == (net * Decimal("0.135")).quantize(Decimal("0.01"))


def test_inputs_take_the_same_number_of_queries_however_full_the_store_is(profile, django_assert_num_queries):
    sample_shop.stock_the_store(only={"cup"})
    with django_assert_num_queries(10):
        shop_inputs(day=TODAY)
    Material.objects.all().update(key="cup-old")
    PackPrice.objects.all().delete()
    from inventory.models import Supplier

    Supplier.objects.update(name="Old")
    sample_shop.stock_the_store()
    with django_assert_num_queries(10):
        shop_inputs(day=TODAY)


def test_what_was_typed_is_kept_beside_what_it_means(versions):
    inputs = shop_inputs(day=TODAY)
    snapshot = priced(versions["glass-on-twin"], inputs, {**seed.KEELS, "fin_base": "6 5/8 in"})
    assert snapshot.measures["fin_base"].typed == "6 5/8 in"
    assert snapshot.measures["fin_base"].value == pytest.approx(168.275)  # 6.625 × 25.4


def test_a_measure_that_can_not_be_read_is_refused_in_a_sentence(versions):
    with pytest.raises(Refused) as said:
        priced(versions["glass-on-twin"], shop_inputs(day=TODAY), {**seed.KEELS, "fin_base": "132 g"})
    assert list(said.value.error_dict) == ["fin_base"]


def test_nothing_typed_leaves_the_recipes_own_default():
    from quotes.costing import STARTING_RECIPES

    given, wrong = read_typed(STARTING_RECIPES["glass-on-twin"], {"fins": "  ", "fin_base": "168"})
    assert (list(given), wrong) == (["fin_base"], {})


def test_the_core_in_rows_prices_as_the_core_alone(versions):
    from quotes.costing import STARTING_RECIPES
    from quotes.costing import estimate as core_estimate

    inputs = shop_inputs(day=TODAY)
    alone = core_estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, inputs.shop, board=PU).snapshot()
    through_rows = priced(versions["glass-on-twin"], inputs)
    assert through_rows.cost_unrounded == alone.cost_unrounded
    assert through_rows.price == alone.price


WEEK = Calendar(hours_per_day=5.0, working_days=frozenset(range(5)))
WEDNESDAY = date(2026, 11, 25)


def test_work_begins_on_a_worked_day():
    assert WEEK.first_open(date(2026, 11, 28)) == date(2026, 11, 30)
    with pytest.raises(Refused, match="No day within a year"):
        Calendar(5.0, frozenset()).first_open(WEDNESDAY)
