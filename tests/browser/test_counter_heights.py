"""The page of a quote with three ways, and of an invoice of twenty jobs: three screens of a phone at most."""

from __future__ import annotations

import pytest
from axe_playwright_python.sync_playwright import Axe

from quotes import bench as bench_verbs
from quotes import quoting
from quotes.management import demo_shop
from quotes.management.clock import Clock
from quotes.management.commands.demo import damage, three_ways
from quotes.models import Damage, Quote, Way
from shop.platform.acts import Signed
from tests import sample_shop
from tests.browser.conftest import PHONE
from tests.browser.test_every_page import RULES, SMALL_TARGETS
from tests.conftest import NOW, make_user
from tests.quotes import seed
from tests.quotes.billing.test_billing import finished, issue, priced
from tests.quotes.conftest import take_in
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)

THREE_SCREENS = 3 * PHONE["viewport"]["height"]


@pytest.fixture
def counter(transactional_db):
    make_profile()
    sample_shop.stock_the_store()
    return make_user("counter")


@pytest.fixture
def three(counter) -> Quote:
    """The sample shop's quote on the fish: two damages, three ways; sent."""
    seed.recipes()
    customer, board = demo_shop.niamh()
    hurt = [
        damage(Damage.Kind.BOX, Damage.Side.BOTTOM, "228", "-118", "left fin box crushed, 114 × 30 × 22 mm"),
        damage(
            Damage.Kind.FIN, Damage.Side.BOTTOM, "228", "118", "right box sound; changes only with keels glassed on"
        ),
    ]
    takein = take_in(counter, brought_by=customer, board=board, damages=hurt)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    three_ways(quote, takein, counter, Clock(NOW))
    return quoting.send_quote(quote=quote, signed=Signed(counter, NOW))


def stands_in_three_screens(page, address):
    page.goto(address)
    height = page.locator("html").bounding_box()["height"]
    assert height <= THREE_SCREENS, f"{address} is {height} px high"
    page.locator("main details").evaluate_all("all => all.forEach(one => one.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["viewport"]["width"], address
    assert page.evaluate(SMALL_TARGETS) == [], address
    found = Axe().run(page, options=RULES).response["violations"]
    assert not found, [(one["id"], one["nodes"][0]["target"]) for one in found]


def test_a_quote_with_three_ways_waiting_and_agreed(page, live_server, log_in, quiet, three, counter):
    log_in(page, counter)
    address = f"{live_server.url}/quote/{three.pk}/"
    stands_in_three_screens(page, address)
    assert page.get_by_text("Chance of loss").first.is_visible()
    keels = Way.objects.get(board__quote=three, position=2)
    bench_verbs.accept_way(way=keels, signed=Signed(counter, NOW), how="at the counter", spoken=True, past_date=True)
    stands_in_three_screens(page, address)


def test_an_invoice_of_twenty_jobs(page, live_server, log_in, quiet, counter):
    versions, bench, club = seed.recipes(), make_user("bench"), seed.customer()
    club.save()
    jobs = [finished(priced(counter, versions, "100", customer=club), bench) for _ in range(20)]
    invoice = issue(*jobs, by=counter)
    log_in(page, counter)
    stands_in_three_screens(page, f"{live_server.url}/invoice/{invoice.pk}/")
    assert page.locator("main table tbody tr").count() == 20
    assert page.locator("main .fold a").count() == 20
