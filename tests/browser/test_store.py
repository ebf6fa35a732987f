"""The store on a phone: with the keyboard alone, and by a counted hand.

Take in a delivery, weigh a drum, count the shelf, see what to order.
"""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.utils import timezone

from inventory.buying.orders import place_order, still_to_come
from inventory.models import Count, Lot, Material, Movement, Pack, PackPrice, Reservation, Supplier
from inventory.stock import books
from shop.models import Role, User
from shop.platform.acts import Signed
from tests.conftest import TODAY, make_user
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)

SCREENS = 3 * 844  # px: the longest page of the daily work on a phone


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
    log_in(page, User.objects.get())
    page.goto(live_server.url + "/store/")

    press(page, "Receive a delivery")
    press(page, "Slipway Supplies")
    fill(page, "Delivery note", "LS-4471")
    fill(page, "Find a pack", "drum")
    press(page, "Find", "button")
    fill(page, "How many of 20 kg drum", "1")
    fill(page, "Freight", "4")
    press(page, "Put it all on the shelf", "button")
    lot = Lot.objects.get()
    assert (lot.quantity_left, lot.value_left) == (D(20_000), D(100))

    page.locator("summary").filter(has_text="A1").press("Enter")
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
    line = page.locator("summary").filter(has_text="Laminating resin")
    assert "1 × 20 kg drum" in line.inner_text(), "10.4 kg are short; a drum covers them"
    press(page, "Order from Slipway Supplies")
    assert "20 kg drum" in page.locator("main").inner_text()
    assert books.problems() == []


@pytest.fixture
def on_order(resin):
    """Five things on order from one supplier, the usual week's post."""
    keeper, supplier = User.objects.get(), Supplier.objects.get()
    usual = [("Hardener", "hardener", "mL"), ("Glass cloth, 4 oz", "cloth", "m2"), ("Disc, P120", "abrasive", "piece"),
             ("Masking tape", "tape", "m"), ("Filler", "filler", "g")]  # fmt: skip
    for name, kind, unit in usual:
        one = Material.objects.create(key=kind, name=name, kind=kind, unit=unit, shelf="B")
        pack = Pack.objects.create(material=one, supplier=supplier, words="box of 50", content=D(50))
        PackPrice.objects.create(pack=pack, price=D(20), from_day=TODAY)
        place_order(packs={pack: 2}, ordered_on=TODAY - timedelta(days=3), signed=Signed(keeper, timezone.now()))
    return supplier


@pytest.mark.usefixtures("quiet")
def test_a_delivery_of_five_lines_takes_a_minute_and_a_half_at_most(page, live_server, log_in, hand, on_order):
    """Four lines as ordered, of the fifth one box at another price, and a drum that nobody had noted as ordered."""
    log_in(page, User.objects.get())
    hand.go(live_server.url + "/store/")
    hand.tap(page.get_by_role("link", name="Receive a delivery"))
    hand.tap(page.get_by_role("link", name="Slipway Supplies"))
    assert page.evaluate("document.documentElement.scrollHeight") <= SCREENS
    hand.type(page.get_by_label("Delivery note"), "LS-4471")
    for name in ("Hardener", "Glass cloth", "Disc", "Masking tape"):
        hand.tap(page.get_by_label(re.compile(rf"2\s+×\s+box of 50\s+{name}")))
    filler = page.locator(".check").filter(has_text="Filler")
    hand.tap(filler.get_by_text("Differs"))
    hand.type(filler.get_by_label("How many"), "1")
    hand.type(filler.get_by_label("Price of all"), "22")
    hand.type(page.get_by_label("Find a pack"), "drum")
    hand.tap(page.get_by_role("button", name="Find"))
    hand.type(page.get_by_label("How many of 20 kg drum"), "1")
    hand.type(page.get_by_label("Freight"), "9")
    assert page.evaluate("document.documentElement.scrollHeight") <= SCREENS
    hand.tap(page.get_by_role("button", name="Put it all on the shelf"))

    assert "6 lines from Slipway Supplies" in page.get_by_role("status").inner_text()
    assert sum(lot.value_left for lot in Lot.objects.all()) == 4 * 40 + 22 + 96 + 9
    assert still_to_come(on_order, TODAY) == {Pack.objects.get(material__key="filler").pk: 1}
    assert books.problems() == []
    assert hand.seconds <= 90, hand.says()
