"""Every GET page at phone and counter width: axe finds nothing, nothing scrolls sideways, thumbs can hit.

axe-core's rules for WCAG 2.2 A and AA and its best practices; the 48 px of our own targets are measured besides.
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from axe_playwright_python.sync_playwright import Axe

from shop.models import Role
from tests import walker
from tests.browser.conftest import COUNTER, PHONE
from tests.inventory import walk as _store  # noqa: F401
from tests.quotes import walk as _quotes  # noqa: F401
from tests.shop import walk as _shop  # noqa: F401

pytestmark = pytest.mark.django_db(transaction=True)

RULES = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]}
SMALL_TARGETS = """
() => [...document.querySelectorAll('a[href], button, input:not([type=hidden]), select, textarea, summary')]
  .filter(e => e.checkVisibility({checkOpacity: true, checkVisibilityCSS: true}) && !e.closest('p, dd, dt, td, th, li, .hint, .note') && !e.classList.contains('vh') && !e.classList.contains('skip'))
  .map(e => {
    const box = e.getBoundingClientRect();
    const label = e.id && document.querySelector(`label[for="${CSS.escape(e.id)}"]`) || e.closest('label');
    const other = label && /checkbox|radio/.test(e.type) ? label.getBoundingClientRect() : box;
    const high = Math.max(box.bottom, other.bottom) - Math.min(box.top, other.top);
    return [e.outerHTML.slice(0, 90), Math.round(high)];
  }).filter(([_, high]) => high > 0 && high < 47)
"""


PARTS = 3  # of all pages, so that no test takes long


@pytest.mark.parametrize("part", range(PARTS))
def test_every_page_is_clean_for_everybody(part, browser, live_server, client, transactional_db):
    rows = walker.all_rows()
    client.force_login(rows.keeper)
    wrong = []
    for_keepers = [one for one in walker.PAGES if one.get == 200 and one.whole and Role.KEEPER in one.opens_to]
    addresses = {one: walker.address(one, rows) for one in for_keepers[part::PARTS]}
    kinds = {one: client.get(where).headers.get("Content-Type", "") for one, where in addresses.items()}
    found = [(one, where) for one, where in addresses.items() if kinds[one].startswith("text/html")]
    for screen in (PHONE, COUNTER):
        # axe is put into the page from outside, which the pages' own policy rightly forbids to scripts of theirs
        context = browser.new_context(**screen, bypass_csp=True)
        context.set_default_timeout(20_000)
        context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
        page = context.new_page()
        for one, where in found:
            page.goto(live_server.url + where)
            wrong += [f"{one} {where}: {what}" for what in wrong_with(page, screen)]
        context.close()
    assert len(found) > 100 / PARTS
    assert not wrong, f"{len(wrong)} on {len(found)} pages\n" + "\n".join(wrong)


def wrong_with(page, screen) -> Iterator[str]:
    """What is wrong with the page that is open on such a screen."""
    for found in Axe().run(page, options=RULES).response["violations"]:
        nodes = "; ".join(str(node["target"]) for node in found["nodes"][:3])
        yield f"{found['id']}: {found['help']}: {nodes}"
    wide = page.evaluate("document.documentElement.scrollWidth")
    if wide > screen["viewport"]["width"]:
        yield f"scrolls sideways, {wide} px wide"
    if page.locator("h1").count() != 1:
        yield f"has {page.locator('h1').count()} first headings"
    if screen is PHONE:
        for what, high in page.evaluate(SMALL_TARGETS):
            yield f"{what} is {high} px high"
