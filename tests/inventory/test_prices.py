"""What a material costs to buy again, and who says so."""

from __future__ import annotations

from datetime import date
from decimal import Decimal as D

import pytest

from inventory.models import Material, PackPrice, Supplier
from inventory.prices import prices_on, replacement_price
from tests.conftest import TODAY


def test_the_usual_pack_s_price_of_the_day(shelf):
    pack = shelf.price("20 kg drum", "20000", "96.00", from_day=date(2026, 3, 1))
    PackPrice.objects.create(pack=pack, price=D("104.00"), from_day=date(2026, 11, 3))
    PackPrice.objects.create(pack=pack, price=D("999.00"), from_day=date(2027, 1, 1))
    now, then = replacement_price(shelf.material, TODAY), replacement_price(shelf.material, date(2026, 10, 1))
    assert (now.per_unit, now.words) == (D("0.0052"), "20 kg drum, Slipway Supplies, 3 Nov 2026")
    assert then.per_unit == D("0.0048")
    assert replacement_price(shelf.material, date(2026, 2, 1)) is None


def test_without_a_usual_pack_the_newest_price_counts(shelf):
    shelf.price("5 kg tin", "5000", "40.00", from_day=date(2026, 3, 1), preferred=False)
    newer = shelf.price("1 kg tin", "1000", "9.00", from_day=date(2026, 6, 1), preferred=False)
    assert replacement_price(shelf.material, TODAY).pack == newer
    newer.retired_at = "2026-07-01T00:00Z"
    newer.save()
    assert replacement_price(shelf.material, TODAY).words.startswith("5 kg tin")


def test_without_any_pack_price_the_last_delivery_that_cost_something_counts(shelf):
    assert replacement_price(shelf.material, TODAY) is None
    supplier = Supplier.objects.create(name="Slipway Supplies")
    shelf.receive("1000", "6.00", received_on=date(2026, 10, 1), supplier=supplier)
    last = shelf.receive("1000", "8.00", received_on=date(2026, 11, 2), supplier=supplier)
    shelf.receive("500", "0", received_on=date(2026, 11, 20), origin="gift")
    price = replacement_price(shelf.material, TODAY)
    assert (price.per_unit, price.words) == (D("0.008"), "last delivery, Slipway Supplies, 2 Nov 2026")
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
