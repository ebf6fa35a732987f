"""Take-in on a phone: a tap is taken however quickly it follows the last thing typed."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import expect

from shop.models import Customer
from tests.browser.conftest import PHONE
from tests.conftest import make_user
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)


def test_a_tap_right_after_a_size_was_typed_is_not_lost_and_who_is_known_is_offered(
    browser, live_server, client, transactional_db
):
    make_profile()
    client.force_login(make_user("counter"))
    Customer.objects.create(name="Niamh Dáil", phone="+353 20 910 0144")
    context = browser.new_context(**PHONE)
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    page = context.new_page()
    page.goto(f"{live_server.url}/take-in/new/")
    for name, text in (
        ("who_name", "Niamh"),
        ("who_phone", "020 910 0144"),
        ("board_name", "Log"),
        ("length_mm", "9'"),
    ):
        page.locator(f"[name={name}]").fill(text)
    for name, value in (("d0_kind", "ding"), ("d0_side", "deck"), ("d0_place", "middle")):
        page.locator(f"[name={name}]").select_option(value)
    page.get_by_label("All looked at").check()
    page.locator("[name=width_mm]").fill("22 in")  # leaving this box asks for the drawing, and the tap comes with it
    page.locator("button[name=save]").click()
    expect(page.locator(".error-summary")).to_contain_text("This may be Niamh Dáil")
    page.get_by_label(re.compile("Use Niamh Dáil")).check()
    page.locator("button[name=save]").click()
    expect(page.locator("h1")).to_have_text("Log")
    assert Customer.objects.count() == 1
    context.close()
