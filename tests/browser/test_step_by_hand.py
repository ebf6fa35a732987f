"""A step at the bench in one gloved hand: what is wanted is on the first screen, and takes few taps."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.utils import timezone

from quotes import bench, quoting
from quotes.models import Mix, Step, StepUse
from quotes.ready_days.outlook import look_again
from shop.platform.acts import Signed
from tests import sample_shop
from tests.browser.conftest import PHONE
from tests.conftest import make_user
from tests.quotes import seed
from tests.quotes.benches import step_of
from tests.quotes.conftest import take_in
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)

FIRST_SCREEN = PHONE["viewport"]["height"]
GLOVES = 64  # px, what a glove meets
LONG = {"brought_by": "Siobhán Ní Dhonnchadha-Saltmarsh", "name": "9′6″ nose rider with the blue rails"}


@pytest.fixture
def shop(transactional_db):
    make_profile()
    sample_shop.stock_the_store()
    seed.receive_stock(by=make_user("keeper"))
    return seed.recipes()


def on_the_bench(versions):
    """The keels agreed, for somebody with a long name and a board with one."""
    now, counter = timezone.now(), make_user("counter")
    customer = seed.customer()
    customer.name = LONG["brought_by"]
    board = seed.fish(name=LONG["name"])
    takein = take_in(counter, brought_by=customer, board=board, at=now)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, now))
    quoting.add_way(
        board=quote.boards.get(), damage=takein.damages.get(), version=versions["glass-on-twin"],
        measures=seed.KEELS, signed=Signed(counter, now),
    )  # fmt: skip
    sent = quoting.send_quote(quote=quote, signed=Signed(counter, now))
    return bench.accept_way(way=sent.boards.get().ways.get(), signed=Signed(counter, now), how="at the counter")


@pytest.fixture
def job(shop):
    return on_the_bench(shop)


@pytest.fixture
def hands(job, page, log_in):
    person = make_user("bench")
    log_in(page, person)
    return person


def to_be_done_now(step):
    Step.objects.filter(pk=step.pk).update(earliest_at=timezone.now() - timedelta(minutes=1), latest_at=None)


def foot(locator):
    box = locator.bounding_box()
    assert box is not None
    return box["y"] + box["height"]


def test_step_done_is_on_the_first_screen_of_every_step(job, hands, page, live_server):
    for step in job.steps.order_by("position"):
        to_be_done_now(step)
        page.goto(f"{live_server.url}/step/{step.pk}/")
        done = page.get_by_role("button", name="Step done").first
        assert foot(done) <= FIRST_SCREEN, f"{step.title}: {foot(done):.0f}"
        if page.locator(".doses").count():
            assert foot(page.locator(".doses").first) < foot(done)
            assert foot(page.get_by_role("button", name="Mixed as shown")) <= FIRST_SCREEN, step.title
        if step.planned.cautions:
            assert foot(page.locator(".care").first) < foot(done), f"{step.title}: a caution comes before the hands"
        bench.finish_step(
            step=step, minutes=Decimal(9), rest_as_planned=False, signed=Signed(hands, timezone.now())
        )  # fmt: skip


def test_a_step_done_as_planned_takes_eight_seconds(job, hands, page, hand, live_server):
    step = job.steps.order_by("position").first()
    hand.go(f"{live_server.url}/step/{step.pk}/")
    hand.tap(page.get_by_role("button", name="Step done").first)
    step.refresh_from_db()
    assert step.state == Step.State.DONE
    assert hand.seconds <= 8, hand.says()


def test_a_weighed_mix_takes_fifteen_seconds(job, hands, page, hand, live_server):
    laminate = step_of(job, "laminate")
    to_be_done_now(laminate)
    hand.go(f"{live_server.url}/step/{laminate.pk}/")
    hand.tap(page.locator("summary").filter(has_text="Weighed otherwise"))
    hand.type(page.locator("[name=resin_g]"), "31")
    hand.type(page.locator("[name=hardener_g]"), "0.47")
    hand.tap(page.get_by_role("button", name="Mixed so"))
    assert Mix.objects.count() == 1
    used = StepUse.objects.filter(step=laminate, material__unit="g").get()
    assert (used.used, used.as_planned) == (31, False)
    assert hand.seconds <= 15, hand.says()


def test_the_next_step_of_today_is_begun_with_one_tap(job, hands, page, hand, live_server):
    look_again(at=timezone.now())
    first = job.steps.order_by("position").first()
    for where in ("/today/", "/"):
        page.goto(live_server.url + where)
        begin = page.get_by_role("button", name="Begin").first
        assert begin.bounding_box()["height"] >= GLOVES, where
        assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["viewport"]["width"], where
    hand.go(f"{live_server.url}/today/")
    begin = page.get_by_role("button", name=f"Begin {first.title}")
    assert foot(begin) <= FIRST_SCREEN
    hand.tap(begin)
    assert page.url == f"{live_server.url}/step/{first.pk}/"
    first.refresh_from_db()
    assert first.state == Step.State.DOING
    assert hand.seconds <= 5, hand.says()
    page.goto(f"{live_server.url}/today/")
    assert page.locator(".today .state.now").first.inner_text().startswith("under way since")
