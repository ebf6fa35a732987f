"""Exact columns in the database's own arithmetic: in their whole numbers, or refused."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.db import transaction
from django.db.models import F, Value

from inventory.models import Lot, Material
from shop.fields import exact

D = Decimal
LEFT = Lot._meta.get_field("quantity_left")


@pytest.fixture
def lots(profile):
    resin = Material.objects.create(key="resin", name="Resin", kind="resin", unit="g")
    Lot.objects.create(material=resin, received_on=date(2026, 1, 1), quantity_left=D(10), value_left=D(2))
    return Lot.objects.all()


@pytest.mark.parametrize(
    "wrong",
    [
        F("quantity_left") + D(5),
        F("quantity_left") - 5,
        D("0.5") + F("quantity_left"),
        F("quantity_left") * D("1.5"),
        F("quantity_left") / 2,
        F("quantity_left") + F("value_left"),
        (F("quantity_left") + D(5)) * 2,
        Value(D(5)),
    ],
    ids=str,
)
def test_a_plain_number_beside_a_column_of_whole_numbers_is_refused(lots, wrong):
    with pytest.raises(TypeError), transaction.atomic():
        lots.update(quantity_left=wrong)
    for compared in ("", "__gt", "__gte", "__lt", "__lte"):
        with pytest.raises(TypeError):
            lots.filter(**{f"quantity_left{compared}": wrong}).exists()
    assert lots.get().quantity_left == 10


def test_a_number_in_the_columns_own_whole_numbers_is_exact(lots):
    lots.update(quantity_left=F("quantity_left") + exact(D("5.000001"), like=LEFT))
    assert lots.get().quantity_left == D("15.000001")
    lots.update(quantity_left=F("quantity_left") * 2 - exact(D(1), like=LEFT))
    assert lots.get().quantity_left == D("29.000002")
    assert lots.filter(quantity_left__gt=F("quantity_left") - exact(D("0.000001"), like=LEFT)).exists()
    assert lots.filter(quantity_left=D("29.000002")).update(quantity_left=F("quantity_left")) == 1
    assert lots.filter(quantity_left__gte=29, quantity_left__lt=D("29.1")).exists()
