"""The recipe editor and the wall price list in a browser.

The price follows what is typed, and what must not be is said.
"""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from playwright.sync_api import expect

from quotes.models import PriceListPrint, RecipeVersion
from shop.models import Profile
from tests import sample_shop
from tests.conftest import make_user
from tests.quotes import seed
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)

EDIT = "/recipes/ding-deck-medium/edit/"
DING = [f"--measure={name}={typed}" for name, typed in seed.DING.items()]


@pytest.fixture
def keeper(transactional_db):
    make_profile()
    sample_shop.stock_the_store()
    seed.recipes()
    return make_user("keeper")


def goes(page, words: str, role: str = "button") -> None:
    """Press what has these words, and wait for the next page, told by its new heading."""
    page.locator("h1").evaluate("heading => heading.dataset.before = 'yes'")
    page.get_by_role(role, name=words).first.click()
    page.wait_for_selector("h1:not([data-before])")


def test_the_price_follows_while_a_recipe_is_edited_and_polyester_on_eps_is_refused(
    page, live_server, log_in, quiet, keeper
):
    log_in(page, keeper)
    Profile.objects.update(price_step=1)  # a coat shared with other boards moves a price by less than the usual five
    page.goto(live_server.url + "/recipes/ding-deck-medium/")
    goes(page, "Change it")
    before = page.locator("p.price").inner_text()

    goes(page, "Add a step", "link")
    goes(page, "Hot coat", "link")
    page.locator("select[name=place]").select_option(index=0)
    goes(page, "Keep it in the draft")
    steps = page.locator("h2#operations + ol > li")
    count = steps.count()
    assert "Hot coat" in steps.last.inner_text()
    with_coat = page.locator("p.price").inner_text()
    assert with_coat != before
    assert "in the last version" in page.locator("section.own").inner_text()

    page.goto(f"{live_server.url}{EDIT}step/{count}/")
    page.get_by_label("Coats").fill("4")
    page.get_by_label("Coats").blur()
    price = page.locator("#price p.price")
    expect(price).not_to_have_text(with_coat)  # without a button, and without leaving the page
    assert page.url.endswith(f"step/{count}/")

    page.get_by_label("Resin system").select_option("polyester")
    goes(page, "Keep it in the draft")
    page.goto(f"{live_server.url}{EDIT}reference/")
    page.get_by_label("Core", exact=True).select_option("eps")
    page.get_by_label("resin").first.select_option("epoxy")
    goes(page, "Keep it in the draft")
    told = page.locator("section.own li").first.inner_text()
    goes(page, "Save as the next version")
    assert RecipeVersion.objects.filter(recipe__key="ding-deck-medium").count() == 2

    said = StringIO()
    with pytest.raises(SystemExit):
        call_command("price", "ding-deck-medium", "--core", "eps", *DING, stderr=said)
    sentence = "Polyester melts EPS foam, and this board's core is EPS: use epoxy."
    assert sentence in told
    assert sentence in said.getvalue()


def test_the_wall_price_list_is_filled_printed_and_turned_to_the_customer(page, live_server, log_in, keeper):
    log_in(page, keeper)
    page.goto(live_server.url + "/price-list/")
    goes(page, "Put in the usual rows")
    assert page.locator("table.stack tbody tr").count() > 10
    with page.expect_navigation(url="**/price-list/paper/**", wait_until="commit"):
        page.get_by_role("button", name="Print it for the counter").click()
    assert page.context.request.get(page.url).body().startswith(b"%PDF")
    assert PriceListPrint.objects.count() == 1
    page.goto(live_server.url + "/price-list/")
    assert "Nothing has moved" in page.locator("main").inner_text()
    goes(page, "Turn the screen to the customer", "link")
    shown = page.locator("main").inner_text()
    assert "from" in shown
    assert "Cost" not in shown
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), "nothing hangs over on a phone"
