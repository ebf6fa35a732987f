"""Every GET page at phone and counter width: axe finds nothing, nothing scrolls sideways, thumbs can hit.

axe-core's rules for WCAG 2.2 A and AA and its best practices; the 48 px of our own targets are measured besides.
"""

from __future__ import annotations

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


@pytest.mark.parametrize("screen", [PHONE, COUNTER], ids=["phone", "counter"])
def test_every_page_is_clean_for_everybody(screen, browser, live_server, client, transactional_db):
    rows = walker.all_rows()
    client.force_login(rows.keeper)
    # axe is put into the page from outside, which the pages' own policy rightly forbids to scripts of theirs
    context = browser.new_context(**screen, bypass_csp=True)
    context.set_default_timeout(20_000)
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    page = context.new_page()
    wrong, looked_at = [], 0
    for one in walker.PAGES:
        if one.get != 200 or not one.whole or Role.KEEPER not in one.opens_to:
            continue
        where = walker.address(one, rows)
        if not client.get(where).headers.get("Content-Type", "").startswith("text/html"):
            continue
        page.goto(live_server.url + where)
        looked_at += 1
        for found in Axe().run(page, options=RULES).response["violations"]:
            nodes = "; ".join(str(node["target"]) for node in found["nodes"][:3])
            wrong.append(f"{one} {where}: {found['id']}: {found['help']}: {nodes}")
        wide = page.evaluate("document.documentElement.scrollWidth")
        if wide > screen["viewport"]["width"]:
            wrong.append(f"{one} {where}: scrolls sideways, {wide} px wide")
        if page.locator("h1").count() != 1:
            wrong.append(f"{one} {where}: has {page.locator('h1').count()} first headings")
        if screen is PHONE:
            wrong += [f"{one} {where}: {what} is {high} px high" for what, high in page.evaluate(SMALL_TARGETS)]
    context.close()
    assert looked_at > 60
    assert not wrong, f"{len(wrong)} on {looked_at} pages\n" + "\n".join(wrong)
