"""The store on a phone with the keyboard alone.

Take in a delivery, weigh a drum, count the shelf, see what to order.
"""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.utils import timezone

from inventory import books
from inventory.models import Count, Lot, Material, Movement, Pack, PackPrice, Reservation, Supplier
from shop.models import Role
from tests.conftest import TODAY, make_profile, make_user

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def resin(transactional_db):
    make_profile()
    make_user(Role.KEEPER)
    resin = Material.objects.create(
        key="resin", name="Laminating resin", kind="resin", unit="g", shelf="A1", density_kg_m3=D(1130)
    )
    supplier = Supplier.objects.create(name="Slipway Supplies")
    pack = Pack.objects.create(material=resin, supplier=supplier, words="20 kg drum", content=D(20_000), preferred=True)
    PackPrice.objects.create(pack=pack, price=D(96), from_day=TODAY)
    return resin


def press(page, words: str, role: str = "link") -> None:
    """Go to what has these words and press it, by keyboard; then wait for the next page, told by its new heading."""
    page.locator("h1").evaluate("heading => heading.dataset.before = 'yes'")
    page.get_by_role(role, name=words).first.focus()
    page.keyboard.press("Enter")
    page.wait_for_selector("h1:not([data-before])")


def fill(page, label: str, words: str) -> None:
    page.get_by_label(label).first.focus()
    page.keyboard.press("Control+a")
    page.keyboard.type(words)


def test_a_delivery_a_drum_a_shelf_and_the_buy_list_without_a_mouse(page, live_server, log_in, quiet, resin):
    from shop.models import User

    log_in(page, User.objects.get())
    page.goto(live_server.url + "/store/")

    press(page, "Receive a delivery")
    press(page, "Slipway Supplies")
    fill(page, "Delivery note", "LS-4471")
    fill(page, "How many of 20 kg drum", "1")
    fill(page, "Freight", "4")
    press(page, "Put it all on the shelf", "button")
    lot = Lot.objects.get()
    assert (lot.quantity_left, lot.value_left) == (D(20_000), D(100))

    press(page, "Laminating resin")
    press(page, "Open the lot")
    press(page, "Put it on the scale")
    fill(page, "Weight when empty", "1.2 kg")
    press(page, "Remember this container", "button")
    fill(page, "On the scale", "20.9 kg")
    press(page, "Book it", "button")
    assert Movement.objects.get(kind="use").quantity == -300
    assert "300" in page.get_by_role("status").filter(has_text="Used").inner_text()

    page.goto(live_server.url + "/store/counts/")
    press(page, "Begin to count", "button")
    press(page, "Begin:")
    fill(page, "Drum on the scale", "20.8 kg")
    press(page, "That is what is there", "button")
    press(page, "See what differs")
    press(page, "Book what is ticked", "button")
    assert Count.objects.get().closed_at is not None
    lot.refresh_from_db()
    assert lot.quantity_left == 19_600

    Reservation.objects.create(
        material=resin, quantity=D(30_000), needed_on=timezone.localdate() + timedelta(days=3), made_at=timezone.now()
    )
    page.goto(live_server.url + "/store/")
    press(page, "What to order")
    line = page.get_by_role("row").filter(has_text="Laminating resin")
    assert "1 × 20 kg drum" in line.inner_text(), "10.4 kg are short; a drum covers them"
    press(page, "Order from Slipway Supplies")
    assert "20 kg drum" in page.locator("main").inner_text()
    assert books.problems() == []
