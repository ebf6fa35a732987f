"""How long the store's pages are on a phone, with the rows of the sample shop."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

import pytest
from django.db.models import Count as Number
from django.urls import reverse
from django.utils import timezone

from inventory.buying.planning import Want, reserve
from inventory.models import Count, Material, Supplier
from quotes.management import demo_shop, twenty
from shop.models import User
from shop.platform.acts import Signed
from tests.browser.test_store import SCREENS

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def sample_shop(transactional_db) -> User:
    """The sample shop's store as it is filled, restocked and counted; returns who keeps it."""
    now = timezone.localtime()
    opening = datetime.combine(now.date() - timedelta(days=24), time(9, 30), tzinfo=now.tzinfo)
    _, people = demo_shop.open_shop(at=opening)
    keeper = people["orla"]
    demo_shop.fill_store(signed=Signed(keeper, opening))
    twenty.restock(signed=Signed(keeper, opening))
    twenty.count_shelf(signed=Signed(keeper, opening))
    reserve(wants=list(work_ahead(now.date())), at=now)
    return keeper


def work_ahead(today: date) -> Iterator[Want]:
    """What jobs of three weeks want: of most materials what is there, of every fourth more than that."""
    for number, material in enumerate(Material.objects.in_use().with_stock().filter(on_hand__gt=0)[:36]):
        each = material.on_hand / (8 if number % 4 == 0 else 30)
        for day in range(1, 16):
            yield Want(material, each, today + timedelta(days=day))


def pages() -> dict[str, str]:
    """The daily pages of the store, each of the row that makes it longest."""
    moved = Material.objects.annotate(n=Number("movements")).order_by("-n", "pk").first()
    counted = Count.objects.annotate(n=Number("lines")).order_by("-n").first()
    seller = Supplier.objects.annotate(n=Number("packs")).order_by("-n", "pk").first()
    return {
        "store": reverse("store"),
        "material": reverse("material", args=[moved.pk]),
        "use over time": reverse("material-use", args=[moved.pk]),
        "change a material": reverse("material-edit", args=[moved.pk]),
        "delivery": reverse("delivery-new", args=[seller.pk]),
        "buy list": reverse("buy-list"),
        "worth": reverse("stock-worth"),
        "count": reverse("count", args=[counted.pk]),
        "what can hurt": reverse("hazards"),
        "reserved": reverse("plan"),
    }


@pytest.mark.usefixtures("quiet")
def test_no_page_of_the_store_is_over_three_screens_of_a_phone(page, live_server, log_in, sample_shop, record_property):
    log_in(page, sample_shop)
    heights = {}
    for name, where in pages().items():
        page.goto(live_server.url + where)
        heights[name] = page.evaluate("document.documentElement.scrollHeight")
        assert page.evaluate("document.documentElement.scrollWidth") <= 390, name
    record_property("by hand", f"px high: {', '.join(f'{name} {high}' for name, high in heights.items())}")
    assert {name: high for name, high in heights.items() if high > SCREENS} == {}
