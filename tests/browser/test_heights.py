"""Pages of a recipe, its price and the trade's figures: three screens of a phone at most, the rest in folded groups."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from quotes import experience
from quotes.costing.job.session_size import session_size
from quotes.costing.steps.sessions import RESIN_BOARDS, SANDING_BOARDS, SPRAY_BOARDS
from quotes.pricelist import load_starting_rows
from tests import sample_shop
from tests.browser.conftest import PHONE
from tests.browser.test_every_page import RULES, SMALL_TARGETS
from tests.conftest import make_user
from tests.quotes import seed
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)

THREE_SCREENS = 3 * PHONE["viewport"]["height"]
FIN = "/recipes/glass-on-fin/"
PAGES = ("/recipes/", FIN, f"{FIN}sure/", "/price-list/", "/figures/", "/own-work/", "/learned/")
SEARCHED = {"/recipes/": "fin", "/price-list/": "leash", "/figures/": "cup"}
ALL_SEEN = {one.name: session_size(one, [1, 2, 1, 1, 2, 1]) for one in (RESIN_BOARDS, SANDING_BOARDS, SPRAY_BOARDS)}


def test_pages_of_the_trade_stand_in_three_screens(page, live_server, log_in, quiet, transactional_db, monkeypatch):
    monkeypatch.setattr(experience, "boards_seen", lambda at: ALL_SEEN)  # the page of figures at its highest
    make_profile()
    sample_shop.stock_the_store()
    seed.recipes()
    keeper = make_user("keeper")
    load_starting_rows()
    log_in(page, keeper)
    for where in PAGES:
        page.goto(live_server.url + where)
        height = page.locator("html").bounding_box()["height"]
        assert height <= THREE_SCREENS, f"{where} is {height} px high"
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["viewport"]["width"], where
        page.locator("main details").evaluate_all("all => all.forEach(one => one.open = true)")
        assert page.evaluate(SMALL_TARGETS) == [], where
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["viewport"]["width"], where
    for where, words in SEARCHED.items():
        page.goto(live_server.url + where)
        page.locator("main [name=q]").fill(words)
        page.locator("main [name=q]").press("Enter")
        page.wait_for_url(f"**{where}?q={words}")
        assert page.get_by_text(words).locator("visible=true").count(), where
        assert page.locator("main details:not([open]) > summary + ul").count() == 0, "what was found is not folded"
    page.goto(live_server.url + FIN)
    found = Axe().run(page, options=RULES).response["violations"]
    assert not found, [(one["id"], one["nodes"][0]["target"]) for one in found]
