"""The sheet of prices on a phone: what one quote needs in three screens, a pack changed behind a tap, nothing lost."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import expect

from inventory.catalogue.starting import load_starting_materials
from inventory.models import Material, Pack
from quotes import quoting
from shop.platform.acts import Signed
from tests.browser.conftest import COUNTER, PHONE
from tests.browser.test_every_page import RULES, SMALL_TARGETS
from tests.conftest import NOW, make_user
from tests.quotes import seed
from tests.quotes.conftest import take_in
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)

FIN = {
    "fins": "1", "fin_base": "125", "fin_height": "118", "fin_tip": "35", "pockets": "1", "pocket_length": "120",
    "pocket_width": "35", "pocket_depth": "25", "paint": "0",
}  # fmt: skip
THREE_SCREENS = 3 * PHONE["viewport"]["height"]


@pytest.fixture
def first_quote(transactional_db):
    """A draft of a glass-on fin in a shop where every price is a guess; its counter hand too."""
    make_profile()
    load_starting_materials(currency="EUR")
    versions, by = seed.recipes(), make_user("counter")
    quote = quoting.start_quote(takeins=[take_in(by)], signed=Signed(by, NOW))
    quoting.add_way(board=quote.boards.get(), version=versions["glass-on-fin"], measures=FIN, signed=Signed(by, NOW))
    return quote, by


@pytest.mark.parametrize(
    ("screen", "script"), [(PHONE, True), (COUNTER, True), (PHONE, False)], ids=["phone", "counter", "no script"]
)
def test_what_one_quote_needs_stands_in_three_screens(screen, script, browser, live_server, client, first_quote):
    quote, by = first_quote
    client.force_login(by)
    context = browser.new_context(**screen, java_script_enabled=script, bypass_csp=True)
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    page = context.new_page()
    for where in (f"/quote/{quote.pk}/prices/", "/store/prices/"):
        page.goto(live_server.url + where)
        assert page.locator("[name^=price_]:visible").count() >= 21
        height = page.locator("html").bounding_box()["height"]
        assert height <= THREE_SCREENS, f"{where} is {height} px high"
    page.goto(f"{live_server.url}/quote/{quote.pk}/prices/")
    rag, disc = (Material.objects.get(key=key) for key in ("rag", "disc-p100"))
    page.locator(f"[name=price_{disc.pk}]").fill("31")
    row = page.locator("li").filter(has=page.locator(f"[name=price_{rag.pk}]"))
    expect(page.locator(f"[name=pack_{rag.pk}]")).to_be_hidden()
    row.locator("summary").click()
    page.locator(f"[name=pack_{rag.pk}]").fill("a heap")
    page.locator(f"[name=price_{rag.pk}]").fill("18")
    if script:
        found = Axe().run(page, options=RULES).response["violations"]
        assert not found, [(one["id"], one["nodes"][0]["target"]) for one in found]
        assert page.evaluate(SMALL_TARGETS) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= screen["viewport"]["width"]
    page.get_by_role("button", name="Keep these prices").click()
    expect(page.locator(".error-summary")).to_contain_text("Pack of Rag")
    expect(page.locator(f"[name=pack_{rag.pk}]")).to_be_visible()
    expect(page.locator(f"[name=price_{disc.pk}]")).to_have_value("31")
    page.locator(f"[name=pack_{rag.pk}]").fill("bale of 80 rags")
    page.get_by_role("button", name="Keep these prices").click()
    page.wait_for_url(f"{live_server.url}/quote/{quote.pk}/")
    assert {(pack.material.key, pack.words) for pack in Pack.objects.all()} == {
        ("rag", "bale of 80 rags"),
        ("disc-p100", "box of 50 discs"),
    }
    context.close()
