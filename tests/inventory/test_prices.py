"""What a material costs to buy again, and who says so."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

import pytest

from inventory.models import Material, PackPrice, Supplier
from inventory.prices import prices_on, replacement_price
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
def test_all_prices_take_two_queries_however_many_materials(shelf, count, django_assert_num_queries):
    shelf.price("20 kg drum", "20000", "96.00")
    for number in range(count):
        shelf.material = Material.objects.create(key=f"m{number}", name=f"M{number}", kind="resin", unit="g")
        shelf.receive("10", "1.00")
    with django_assert_num_queries(2):
        assert len(prices_on(TODAY)) == count + 1
