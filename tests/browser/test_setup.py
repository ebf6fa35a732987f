"""The first day in a real browser: from an empty data folder to a shop that is logged in, counted tap by tap."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from shop.models import Profile, User
from tests.browser.conftest import COUNTER, PHONE
from tests.browser.test_every_page import RULES, SMALL_TARGETS

pytestmark = pytest.mark.django_db(transaction=True)

WITHOUT_TAX_NUMBER = {"name": "Marram", "keeper_name": "Órla", "username": "orla", "password": "seven long boards"}


def test_a_shop_is_set_up_in_few_taps(hand, quiet, live_server):
    page = hand.page
    hand.go(f"{live_server.url}/")
    assert "Where is it?" in page.locator("main").inner_text()
    hand.choose(page.locator("#id_country"), "Ireland")
    hand.tap(page.get_by_role("button", name="Go on"))
    hand.tap(page.get_by_label("Not registered for tax"))
    for name, words in WITHOUT_TAX_NUMBER.items():
        hand.type(page.locator(f"#id_{name}"), words)
    page.get_by_role("button", name="Show", exact=True).click()
    assert page.locator("#id_password").get_attribute("type") == "text"
    page.get_by_role("button", name="Hide", exact=True).click()
    assert page.locator("#id_password").get_attribute("type") == "password"
    hand.tap(page.get_by_role("button", name="Set up the shop"))
    page.wait_for_url(f"{live_server.url}/")
    assert Profile.objects.get().currency == "EUR"
    assert User.objects.get().username == "orla"
    assert (hand.loads, hand.taps, hand.keys) == (3, 9, 31), hand.says()


def test_a_shop_is_set_up_without_script(browser, live_server):
    page = browser.new_context(**PHONE, java_script_enabled=False).new_page()
    page.goto(f"{live_server.url}/setup/")
    page.select_option("#id_country", "US")
    page.get_by_role("button", name="Go on").click()
    assert page.get_by_role("button", name="Show", exact=True).count() == 0
    entries = {**WITHOUT_TAX_NUMBER, "repair_rate": "0", "password_again": "seven long board"}
    for name, words in entries.items():
        page.fill(f"#id_{name}", words)
    page.get_by_role("button", name="Set up the shop").click()
    assert "The two passwords differ" in page.locator(".error-summary").inner_text()
    page.fill("#id_password_again", WITHOUT_TAX_NUMBER["password"])
    page.get_by_role("button", name="Set up the shop").click()
    assert page.url == f"{live_server.url}/"
    assert Profile.objects.get().paper == "letter"


@pytest.mark.parametrize("screen", [PHONE, COUNTER], ids=["phone", "counter"])
def test_the_pages_of_set_up_are_clean(screen, browser, live_server, transactional_db):
    page = browser.new_context(**screen, bypass_csp=True).new_page()
    for where in ("/setup/", "/setup/?country=Atlantis", "/setup/?country=IE", "/setup/?country=JP"):
        page.goto(live_server.url + where)
        for fold in page.locator("summary").all():
            fold.click()
        found = Axe().run(page, options=RULES).response["violations"]
        assert not found, [(one["id"], one["nodes"][0]["target"]) for one in found]
        assert page.evaluate("document.documentElement.scrollWidth") <= screen["viewport"]["width"]
        assert page.evaluate(SMALL_TARGETS) == []
