"""What a material costs to buy again, and who says so."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

import pytest

from inventory.catalogue.guesses import GUESSES_IN_EURO, guess_of
from inventory.catalogue.packs import pack_content
from inventory.catalogue.starting import STARTING_MATERIALS, load_starting_materials, put_in_guesses
from inventory.models import Material, PackPrice, Supplier
from inventory.stock.prices import prices_on, replacement_price
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, in_words


def test_the_usual_pack_s_price_of_the_day(shelf):
    pack = shelf.price("20 kg drum", "20000", "96.00", from_day=TODAY - timedelta(days=269))
    PackPrice.objects.create(pack=pack, price=D("104.00"), from_day=TODAY - timedelta(days=22))
    PackPrice.objects.create(pack=pack, price=D("999.00"), from_day=TODAY + timedelta(days=37))
    now, then = replacement_price(shelf.material, TODAY), replacement_price(shelf.material, TODAY - timedelta(days=55))
    assert (now.per_unit, now.words) == (
        D("0.0052"),
        f"20 kg drum, Slipway Supplies, {in_words(TODAY - timedelta(days=22), weekday=False)}",
    )
    assert then.per_unit == D("0.0048")
    assert replacement_price(shelf.material, TODAY - timedelta(days=297)) is None


def test_without_a_usual_pack_the_newest_price_counts(shelf):
    shelf.price("5 kg tin", "5000", "40.00", from_day=TODAY - timedelta(days=269), preferred=False)
    newer = shelf.price("1 kg tin", "1000", "9.00", from_day=TODAY - timedelta(days=177), preferred=False)
    assert replacement_price(shelf.material, TODAY).pack == newer
    newer.retired_at = NOW - timedelta(days=147)
    newer.save()
    assert replacement_price(shelf.material, TODAY).words.startswith("5 kg tin")


def test_without_any_pack_price_the_last_delivery_that_cost_something_counts(shelf):
    assert replacement_price(shelf.material, TODAY) is None
    supplier = Supplier.objects.create(name="Slipway Supplies")
    shelf.receive("1000", "6.00", received_on=TODAY - timedelta(days=55), supplier=supplier)
    last = shelf.receive("1000", "8.00", received_on=TODAY - timedelta(days=23), supplier=supplier)
    shelf.receive("500", "0", received_on=TODAY - timedelta(days=5), origin="gift")
    price = replacement_price(shelf.material, TODAY)
    assert (price.per_unit, price.words) == (
        D("0.008"),
        f"last delivery, Slipway Supplies, {in_words(TODAY - timedelta(days=23), weekday=False)}",
    )
    shelf.reverse(last.movements.get())
    assert replacement_price(shelf.material, TODAY).per_unit == D("0.006")


@pytest.mark.parametrize("count", [1, 20])
def test_all_prices_take_three_queries_however_many_materials(shelf, count, django_assert_num_queries):
    shelf.price("20 kg drum", "20000", "96.00")
    for number in range(count):
        shelf.material = Material.objects.create(key=f"m{number}", name=f"M{number}", kind="resin", unit="g")
        shelf.receive("10", "1.00")
    with django_assert_num_queries(3):
        assert len(prices_on(TODAY)) == count + 1


def test_a_guess_stands_in_only_where_neither_a_pack_nor_a_delivery_says_a_price(shelf):
    row = shelf.material
    row.guess_words, row.guess_content, row.guess_price = "5 kg tin", D(5000), D(44)
    row.save()
    found = replacement_price(row, TODAY)
    assert (found.per_unit, found.words, found.guess) == (D("0.0088"), "a guess: 5 kg tin", True)
    received = shelf.receive("1000", "6.00")
    assert (replacement_price(row, TODAY).per_unit, replacement_price(row, TODAY).guess) == (D("0.006"), False)
    shelf.reverse(received.movements.get())
    assert replacement_price(row, TODAY).guess
    shelf.price("20 kg drum", "20000", "96.00")
    assert (replacement_price(row, TODAY).per_unit, replacement_price(row, TODAY).guess) == (D("0.0048"), False)


def test_there_is_a_guess_for_each_starting_material_and_its_pack_reads():
    assert {start.key for start in STARTING_MATERIALS} == set(GUESSES_IN_EURO)
    for start in STARTING_MATERIALS:
        facts = {
            "density_kg_m3": start.density, "areal_weight_g_m2": start.areal, "roll_width_mm": start.width,
            "linear_weight_tex": D(str(start.facts["tex"])) if "tex" in start.facts else None,
        }  # fmt: skip
        words = GUESSES_IN_EURO[start.key].words
        assert pack_content(words, start.unit, **facts, goods=start.name) > 0, words


@pytest.mark.parametrize(
    ("currency", "price"), [("EUR", "44.00"), ("GBP", "37.50"), ("JPY", "7050"), ("XAU", None), ("BHD", None)]
)
def test_a_guess_has_the_size_of_a_price_in_its_currency(currency, price):
    """Worked out by hand: 44 × 0.85 = 37.40, to the half; 44 × 160 = 7040, to the nearest fifty."""
    found = guess_of("resin-lam", currency)
    assert (found and str(found.price)) == price


def test_a_new_shop_gets_guesses_in_its_currency_and_an_old_one_at_the_touch_of_a_button(keeper):
    Material.objects.create(key="resin-lam", name="Our resin", kind="resin", unit="g")  # stays as it is
    load_starting_materials(currency="GBP")
    assert Material.objects.get(key="resin-gloss").guess_price == D("41")
    Material.objects.update(guess_words="", guess_content=None, guess_price=None)
    assert not Material.objects.filter(guess_price__isnull=False).exists()
    assert len(put_in_guesses(signed=Signed(keeper, NOW))) == len(STARTING_MATERIALS)
    tape = Material.objects.get(key="tape-masking")
    assert (tape.guess_words, tape.guess_content, tape.guess_price) == (
        "box of 24 rolls, 25 mm × 50 m", D(1200), D(72),
    )  # fmt: skip


def test_guesses_follow_the_shop_s_currency(profile):
    load_starting_materials(currency="EUR")
    for currency, price in (("GBP", D("37.5")), ("BHD", None), ("EUR", D(44))):
        profile.currency = currency
        profile.save()
        assert Material.objects.get(key="resin-lam").guess_price == price
