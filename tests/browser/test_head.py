"""The head of every page: one row on a phone, every room one or two taps away, by script or not, by thumb or key."""

from __future__ import annotations

import pytest

from shop.models import Role
from shop.web.context import ROOMS
from tests import walker
from tests.browser.conftest import COUNTER, PHONE
from tests.conftest import make_user
from tests.inventory import walk as _store  # noqa: F401
from tests.quotes import walk as _quotes  # noqa: F401
from tests.sample_shop import make_profile
from tests.shop import walk as _shop  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)

HIGHEST = 0.08 * PHONE["viewport"]["height"]  # of a phone's first screen, for the way around
DAILY = (
    "rack", "day", "takein-new", "takein", "quotes", "quote", "job", "step", "mix-new", "quick", "sale", "invoice",
    "money", "store", "buy-list", "customers", "customer", "board", "recipes", "learned",
)  # fmt: skip


def _open(browser, live_server, client, role, *, screen=PHONE, **more):
    client.force_login(role)
    context = browser.new_context(**screen, **more)
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    return context, context.new_page()


def test_the_head_costs_a_twelfth_of_a_phone_on_every_daily_page(browser, live_server, client, transactional_db):
    make_profile()
    rows = walker.Rows({role: make_user(role) for role in Role.values})
    context, page = _open(browser, live_server, client, rows.keeper)
    first = {one.name: one for one in reversed(walker.PAGES)}
    high = {}
    for name in DAILY:
        page.goto(live_server.url + walker.address(first[name], rows))
        high[name] = page.locator("header.band").bounding_box()["height"]
    context.close()
    assert max(high.values()) <= HIGHEST, high


@pytest.mark.parametrize("role", Role.values)
@pytest.mark.parametrize("width", [320, 390])
def test_every_room_is_one_or_two_taps_away_without_script(role, width, browser, live_server, client, transactional_db):
    make_profile()
    narrow = {**PHONE, "viewport": {"width": width, "height": 844}, "java_script_enabled": False}
    context, page = _open(browser, live_server, client, make_user(role), screen=narrow)
    rooms = [word for word, _, roles, _ in ROOMS if role in roles]
    for word in rooms:
        page.goto(live_server.url + "/")
        assert page.locator("header.band").bounding_box()["height"] <= HIGHEST
        link = page.locator("nav a:visible", has_text=word)
        if not link.count():
            page.locator("nav summary").tap()
        assert link.bounding_box()["height"] >= 48
        with page.expect_navigation():
            link.tap()
        assert page.locator("nav [aria-current=page]").first.text_content() == word
        assert page.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_the_keyboard_reaches_every_room_and_the_counters_screen_shows_them_all(
    browser, live_server, client, transactional_db
):
    make_profile()
    keeper = make_user("keeper")
    context, page = _open(browser, live_server, client, keeper)
    page.goto(live_server.url + "/")
    page.keyboard.press("Tab")  # past the rooms
    said = []
    for _ in range(5):
        page.keyboard.press("Tab")
        said.append(page.evaluate("document.activeElement.textContent"))
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    for _ in range(3):
        page.keyboard.press("Tab")
        said.append(page.evaluate("document.activeElement.textContent"))
    assert said == [word for word, *_ in ROOMS]
    page.keyboard.press("Enter")
    page.wait_for_url("**/shop/")
    context.close()
    context, page = _open(browser, live_server, client, keeper, screen=COUNTER)
    page.goto(live_server.url + "/")
    assert page.locator("nav a:visible").all_inner_texts() == [word for word, *_ in ROOMS]
    assert not page.locator("nav summary").is_visible()
    context.close()
