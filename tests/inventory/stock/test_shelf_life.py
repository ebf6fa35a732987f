"""Past its date nothing is silently used; a test lets it be used a while longer, or ends it."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal as D

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from inventory.models import ShelfTest, StockQuestion
from inventory.stock import ledger
from inventory.stock.shelf_life import change_lot, record_test
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY


@pytest.fixture
def stale(shelf):
    return shelf.receive("500", "2.00", received_on=date(2026, 1, 5), use_by=TODAY - timedelta(days=3))


def put_to_test(shelf, lot, **more):
    entries = {
        "tested_on": TODAY,
        "passed": True,
        "good_until": TODAY + timedelta(days=60),
        "words": "gelled in 18 min",
    }
    return record_test(lot=lot, signed=Signed(shelf.by, NOW), **{**entries, **more})


def test_a_passed_test_lets_it_be_used_past_its_date(shelf, stale, keeper):
    put_to_test(shelf, stale)
    stale.refresh_from_db()
    assert stale.good_until == TODAY + timedelta(days=60)
    shelf.use("10")
    assert not StockQuestion.objects.exists()
    ledger.sell(material=shelf.material, quantity=D(10), signed=shelf.signed(keeper))


def test_a_failed_test_ends_a_lot_that_still_had_time(shelf):
    lot = shelf.receive("500", "2.00", use_by=TODAY + timedelta(days=90))
    put_to_test(shelf, lot, passed=False, good_until=None)
    lot.refresh_from_db()
    assert lot.out_of_date(TODAY)
    shelf.use("10")
    assert StockQuestion.objects.get().words.endswith("Was it tested first?")


REFUSED = [
    ({"good_until": None}, "empty"),
    ({"good_until": TODAY - timedelta(days=1)}, "before the test"),
    ({"good_until": TODAY + timedelta(days=181)}, "180 days at most"),
    ({"words": ""}, "blank"),
    ({"tested_on": TODAY + timedelta(days=1), "good_until": TODAY + timedelta(days=90)}, "in the future"),
]


@pytest.mark.parametrize(("entries", "words"), REFUSED)
def test_a_test_that_says_nothing_moves_no_date(shelf, stale, entries, words):
    with pytest.raises(Refused, match=words):
        put_to_test(shelf, stale, **entries)
    stale.refresh_from_db()
    assert stale.good_until == TODAY - timedelta(days=3)
    assert not ShelfTest.objects.exists()


def test_a_test_older_than_the_last_one_does_not_count_over_it(shelf, stale):
    put_to_test(shelf, stale, passed=False, good_until=None)
    before = TODAY - timedelta(days=2)
    with pytest.raises(Refused, match="before the last test"):
        put_to_test(shelf, stale, tested_on=before, good_until=before + timedelta(days=90))
    stale.refresh_from_db()
    assert stale.out_of_date(TODAY)


def test_a_typing_slip_in_the_date_is_put_right(shelf, stale, bench):
    shelf.material.opened_life_days = 30
    shelf.material.save()
    entries = {"brand": "B", "delivery_note": "N"}
    change_lot(lot=stale, use_by=TODAY + timedelta(days=300), opened_on=TODAY, signed=Signed(shelf.by, NOW), **entries)
    stale.refresh_from_db()
    assert (stale.good_until, stale.brand) == (TODAY + timedelta(days=30), "B")
    with pytest.raises(Refused, match="before the day it was received"):
        change_lot(lot=stale, use_by=date(2025, 1, 1), opened_on=None, signed=Signed(shelf.by, NOW), **entries)
    with pytest.raises(Refused, match="Opened on must not lie in the future"):
        change_lot(lot=stale, use_by=None, opened_on=TODAY + timedelta(days=1), signed=Signed(shelf.by, NOW), **entries)
    with pytest.raises(PermissionDenied):
        change_lot(lot=stale, use_by=None, opened_on=None, signed=Signed(bench, NOW), **entries)


def test_the_test_is_entered_at_the_bench(shelf, stale, bench_client, form_key):
    address = reverse("shelf-test", args=[stale.pk])
    entries = {"passed": "yes", "words": "20 g, 1.5 %", "tested_on": TODAY.isoformat(), "submission_key": form_key()}
    assert bench_client.post(address, entries).status_code == 422
    entries |= {"good_until": (TODAY + timedelta(days=30)).isoformat(), "submission_key": form_key()}
    assert bench_client.post(address, entries).status_code == 302
    page = bench_client.get(reverse("lot", args=[stale.pk])).content.decode()
    assert "20 g, 1.5 %" in page
    assert "by a test" in page
    assert "€" not in page
