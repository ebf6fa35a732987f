"""The counter in one hand: a plug while somebody waits, and a board handed over against money."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.utils import timezone

from quotes.models import Invoice, Job, Payment
from tests import sample_shop
from tests.conftest import make_user
from tests.quotes import seed
from tests.quotes.benches import RAIL_DING
from tests.quotes.billing.test_billing import finished, priced
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def shop(transactional_db):
    make_profile()
    sample_shop.stock_the_store()
    seed.receive_stock(by=make_user("keeper"))
    return seed.recipes()


def test_a_two_minute_job_takes_forty_five_seconds(shop, page, log_in, hand, quiet, live_server):
    log_in(page, make_user("counter"))
    hand.go(f"{live_server.url}/quick/")
    hand.tap(page.get_by_role("link", name=shop["ding-rail-small"].recipe.name))
    for name, typed in RAIL_DING.items():
        hand.type(page.locator(f"[name=m_{name}]"), typed)
    hand.choose(page.locator("[name=board_core]"), "PU foam")
    hand.choose(page.locator("[name=board_resin]"), "polyester")
    hand.tap(page.locator("[name=took]").nth(1))
    hand.tap(page.get_by_role("button", name="Work out the price"))
    hand.tap(page.get_by_role("button", name="Paid:"))
    assert Job.objects.get().state == Job.State.PICKED_UP
    assert Payment.objects.count() == Invoice.objects.count() == 1
    assert hand.seconds <= 45, hand.says()


def test_invoice_and_payment_at_pick_up_take_thirty_seconds(shop, page, log_in, hand, quiet, live_server):
    counter = make_user("counter")
    log_in(page, counter)
    job = finished(priced(counter, shop, "200.00"), make_user("bench"), at=timezone.now())
    hand.go(f"{live_server.url}/job/{job.pk}/")
    hand.tap(page.get_by_role("link", name="Hand the board over"))
    hand.tap(page.get_by_role("button", name="Issue the invoice"))
    hand.tap(page.get_by_label("card"))
    hand.tap(page.get_by_role("button", name="Take the money"))
    hand.tap(page.locator("main form button.go, main form input.go").last)
    job.refresh_from_db()
    assert job.state == Job.State.PICKED_UP
    assert Payment.objects.get().amount == Decimal(200)
    assert hand.seconds <= 30, hand.says()
