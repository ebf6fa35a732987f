"""The whole job as a person does it: from take-in to paid, by tapping, by keyboard alone, and with JavaScript off."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.utils import timezone
from playwright.sync_api import expect

import inventory.stock.books
from quotes.billing import books
from quotes.models import Invoice, Job, Quote, Step
from tests import sample_shop
from tests.browser.conftest import PHONE
from tests.conftest import make_user
from tests.quotes import seed
from tests.sample_shop import make_profile

pytestmark = pytest.mark.django_db(transaction=True)


class Thumb:
    """Does things by tapping and typing."""

    def __init__(self, page, script=True):
        self.page, self.script = page, script

    def settle(self):
        """Wait until what was sent is answered and shown."""
        self.page.wait_for_timeout(80)
        self.page.wait_for_load_state()
        if self.script:
            expect(self.page.locator(".htmx-request, .htmx-swapping, .htmx-settling")).to_have_count(0, timeout=30_000)

    def fill(self, name, text):
        self.page.locator(f"[name={name}]:visible").first.fill(text)

    def choose(self, name, value):
        self.page.locator(f"select[name={name}]").select_option(value)

    def tick(self, name):
        self.page.locator(f"[name={name}]").first.check()

    def pick(self, name, value):
        self.page.locator(f"[name={name}][value={value}]").check()

    def unfold(self, words):
        self.page.locator("main summary").filter(has_text=words).click()

    def go(self, words):
        self.page.locator("main a:visible, main button:visible").filter(
            has_text=re.compile(words.replace(" ", r"\s+"))
        ).first.click()
        self.settle()


class Keys(Thumb):
    """Never touches the page: Tab to what is wanted, then type, Space or Enter."""

    def tab_to(self, script, most=160):
        for _ in range(most):
            if self.page.evaluate(f"(() => {{ const e = document.activeElement; return Boolean({script}); }})()"):
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"the Tab key never reached {script} on {self.page.url}")

    def fill(self, name, text):
        self.tab_to(f"e.name === '{name}'")
        self.page.keyboard.press("Control+a")
        self.page.keyboard.type(text)

    def choose(self, name, value):
        self.tab_to(f"e.name === '{name}'")
        label = self.page.locator(f"select[name={name}] option[value={value}]").inner_text()
        self.page.keyboard.type(label.strip())

    def tick(self, name):
        self.tab_to(f"e.name === '{name}'")
        if not self.page.evaluate("document.activeElement.checked"):
            self.page.keyboard.press("Space")

    def pick(self, name, value):
        self.tab_to(f"e.name === '{name}'")
        if not self.page.evaluate(f"document.activeElement.value === '{value}'"):
            for _ in range(6):
                self.page.keyboard.press("ArrowDown")
                if self.page.evaluate(f"document.activeElement.value === '{value}'"):
                    break
        if not self.page.evaluate("document.activeElement.checked"):
            self.page.keyboard.press("Space")

    def unfold(self, words):
        self.tab_to(f"e.tagName === 'SUMMARY' && /{words}/.test(e.innerText)")
        self.page.keyboard.press("Enter")

    def go(self, words):
        self.tab_to(f"e.closest('main') && /^(A|BUTTON)$/.test(e.tagName) && /{words}/.test(e.innerText)")
        self.page.keyboard.press("Enter")
        self.settle()


@pytest.fixture
def stocked_shop(transactional_db):
    make_profile()
    sample_shop.stock_the_store()
    seed.recipes()
    return make_user("counter")


def take_in_and_send(hand, page, url):
    page.goto(url)
    hand.go("Take in a board")
    hand.fill("who_name", "Aoife Tidewater 🌊")
    hand.fill("board_name", "6′2″ <b>round</b> tail")
    hand.fill("length_mm", "6′2″")
    hand.fill("width_mm", "19 1/4 in")
    hand.choose("core", "pu")
    hand.choose("resin", "polyester")
    hand.choose("d0_kind", "plug")
    hand.choose("d0_side", "deck")
    hand.choose("d0_place", "plug")
    hand.unfold("Measured, or in words")
    hand.fill("d0_words", "leash plug pulled out")
    hand.tick("all_looked_at")
    hand.unfold("Left with it")
    hand.fill("left_with_it", "leash")
    hand.go("Take in the board")
    assert "Aoife Tidewater 🌊" in page.content()
    assert page.locator("main b").filter(has_text="round").count() == 0, "what people type is never markup"
    hand.go("Write a quote")
    hand.go("Add a way")
    hand.go("Leash plug")
    hand.fill("m_hole_diameter", "30 mm")
    hand.fill("m_hole_depth", "19")
    hand.go("Work it out")
    assert page.locator(".way .price").count() == 1
    hand.go("Send: number it for good")
    assert Quote.objects.get().number


def agree_and_pay_a_deposit(hand, page):
    hand.go("Agree on this")
    hand.go("Agreed")
    job = Job.objects.get()
    assert f"/job/{job.pk}/" in page.url
    hand.go("Take a deposit")
    hand.pick("method", "card")
    hand.go("Take")
    return job


def do_the_work(hand, page, live_server, job):
    while True:
        Step.objects.filter(job=job, state="todo").update(earliest_at=timezone.now() - timedelta(minutes=1))
        Step.objects.filter(job=job).update(latest_at=None)
        step = job.steps.exclude(state__in=["done", "dropped"]).first()
        if step is None or step.operation == "release":
            break
        page.goto(f"{live_server.url}/step/{step.pk}/")
        if page.locator("main button").filter(has_text="Mixed as shown").count():
            hand.go("Mixed as shown")
        hand.unfold("Other minutes")
        hand.fill("minutes", "12")
        hand.go("Step done")
        step.refresh_from_db()
        assert step.state == "done", page.content()[:3000]
    page.goto(f"{live_server.url}/job/{job.pk}/release/")
    boxes = page.locator("main input[type=checkbox]")
    for name in [boxes.nth(n).get_attribute("name") for n in range(boxes.count())]:
        hand.tick(name)
    if page.locator("[name=minutes]").count():
        hand.fill("minutes", "9")
    hand.go("Ready to collect")
    job.refresh_from_db()
    assert job.state == "finished"


def collect(hand, page, live_server, job):
    page.goto(f"{live_server.url}/job/{job.pk}/pick-up/")
    hand.go("Issue the invoice")
    page.goto(f"{live_server.url}/job/{job.pk}/pick-up/")
    hand.pick("method", "cash")
    hand.go("Take the money")
    page.goto(f"{live_server.url}/job/{job.pk}/pick-up/")
    hand.go("Picked up")
    job.refresh_from_db()
    assert job.state == "picked_up"
    invoice = Invoice.objects.with_balance().get()
    assert invoice.left == 0
    assert invoice.prepaid > 0
    assert books.problems() == []
    assert inventory.stock.books.problems() == []


def whole_job(hand, page, live_server):
    take_in_and_send(hand, page, live_server.url)
    job = agree_and_pay_a_deposit(hand, page)
    do_the_work(hand, page, live_server, job)
    collect(hand, page, live_server, job)


def test_from_take_in_to_paid_on_a_phone(stocked_shop, quiet, live_server, log_in):
    log_in(quiet, stocked_shop)
    whole_job(Thumb(quiet), quiet, live_server)


def test_from_take_in_to_paid_with_javascript_off(stocked_shop, browser, live_server, client):
    context = browser.new_context(**PHONE, java_script_enabled=False)
    context.set_default_timeout(30_000)
    client.force_login(stocked_shop)
    context.add_cookies([{"name": "sessionid", "value": client.cookies["sessionid"].value, "url": live_server.url}])
    page = context.new_page()
    whole_job(Thumb(page, script=False), page, live_server)
    context.close()


def test_from_take_in_to_paid_with_the_keyboard_alone(stocked_shop, page, live_server, log_in):
    log_in(page, stocked_shop)
    page.set_viewport_size({"width": 1280, "height": 800})
    whole_job(Keys(page), page, live_server)
