"""A login that runs out while somebody types, in a browser: with our script and without it, nothing typed is lost."""

from __future__ import annotations

import pytest

from shop.models import Customer
from tests.conftest import PASSWORD


@pytest.mark.parametrize("script", [True, False], ids=["with script", "without script"])
def test_what_was_typed_comes_back_after_the_login(live_server, browser, browser_context_args, counter, client, script):
    client.force_login(counter)
    context = browser.new_context(**browser_context_args, java_script_enabled=script)
    cookie = {"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}
    context.add_cookies([cookie])
    page = context.new_page()
    page.goto(f"{live_server.url}/people/new/")
    page.get_by_label("Name", exact=True).fill("Niamh Sé")
    page.get_by_label("Note").fill("leave it\nby the door")
    context.clear_cookies(name="sessionid")
    page.get_by_role("button", name="Save the customer").click()

    page.get_by_label("Login name").fill("counter")
    page.get_by_label("Password").fill(PASSWORD)
    page.get_by_role("button", name="Log in").click()
    page.get_by_role("button", name="Show what was entered").click()

    assert page.get_by_label("Name", exact=True).input_value() == "Niamh Sé"
    assert page.get_by_label("Note").input_value() == "leave it\nby the door"
    assert not Customer.objects.exists()
    page.get_by_role("button", name="Save the customer").click()
    page.get_by_role("heading", name="Niamh Sé").wait_for()
    assert Customer.objects.get().note.split() == ["leave", "it", "by", "the", "door"]
    context.close()
