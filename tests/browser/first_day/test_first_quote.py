"""The first day: from an empty data folder to the first glass-on fin priced, sent and on paper, counted tap by tap."""

from __future__ import annotations

import io
import re

import pytest
from pypdf import PdfReader

from inventory.models import PackPrice
from quotes.models import Quote, Way
from tests.browser.test_setup import WITHOUT_TAX_NUMBER

pytestmark = pytest.mark.django_db(transaction=True)

WHO_AND_WHAT = {
    "who_name": "Aoife",
    "who_phone": "0209100144",
    "board_name": "Fish",
    "length_mm": "5'8",
    "width_mm": "21 in",
}
MADE_OF = {"core": "PU foam", "resin": "polyester"}
DAMAGE = {"d0_kind": "fin torn off", "d0_side": "bottom", "d0_place": "right fin"}
CRUSHED = {"d0_length": "120", "d0_width": "35", "d0_depth": "25"}
FIN = {"m_fin_base": "125", "m_fin_height": "118", "m_fin_tip": "35"}
MATTER_MOST = ("13.50", "8.20", "52")  # of the first three on the sheet: what moves this price most
ADDRESS = "3 Strand Row"
PAGES, TAPS, CHARACTERS, SECONDS = 15, 70, 220, 180


def set_up(hand, url):
    page = hand.page
    hand.go(f"{url}/")
    hand.choose(page.locator("#id_country"), "Ireland")
    hand.tap(page.get_by_role("button", name="Go on"))
    hand.tap(page.get_by_label("Not registered for tax"))
    for name, words in WITHOUT_TAX_NUMBER.items():
        hand.type(page.locator(f"#id_{name}"), words)
    hand.tap(page.get_by_role("button", name="Set up the shop"))


def take_in(hand):
    page = hand.page
    hand.tap(page.get_by_role("link", name="Take in a board"))
    for name, words in WHO_AND_WHAT.items():
        hand.type(page.locator(f"[name={name}]"), words)
    for name, words in {**MADE_OF, **DAMAGE}.items():
        hand.choose(page.locator(f"[name={name}]"), words)
    for name, words in CRUSHED.items():
        hand.type(page.locator(f"[name={name}]"), words)
    hand.tap(page.get_by_label("All looked at"))
    hand.tap(page.get_by_role("button", name="Take in the board"))


def price_it(hand):
    page = hand.page
    hand.tap(page.get_by_role("button", name="Write a quote"))
    hand.tap(page.get_by_role("link", name="Add a way"))
    hand.tap(page.get_by_role("link", name=re.compile("^Glass-on fin")))
    for name, words in FIN.items():
        hand.type(page.locator(f"[name={name}]"), words)
    hand.tap(page.get_by_role("button", name="Work it out"))


def type_prices(hand):
    page = hand.page
    hand.tap(page.get_by_role("link", name="Type the prices"))
    for box, words in zip(page.locator("[name^=price_]").all(), MATTER_MOST, strict=False):
        hand.type(box, words)
    hand.tap(page.get_by_role("button", name="Keep these prices"))


def send_it(hand):
    page = hand.page
    hand.type(page.get_by_label("Your shop’s address"), ADDRESS)
    hand.tap(page.get_by_role("button", name="Keep the address"))
    hand.tap(page.get_by_role("button", name="Send: number it for good"))
    where = page.get_by_role("link", name="Open the paper").get_attribute("href")
    hand.tap(page.get_by_role("link", name="Open the paper"))
    return where


def text_of(pdf):
    return " ".join(" ".join(one.extract_text() for one in PdfReader(io.BytesIO(pdf)).pages).split())


def test_the_first_glass_on_fin_is_priced_and_on_paper(hand, quiet, live_server):
    set_up(hand, live_server.url)
    take_in(hand)
    price_it(hand)
    guessed = Way.objects.get().cost
    assert guessed, "it is priced on guesses, before any price is typed"
    type_prices(hand)
    assert PackPrice.objects.count() == len(MATTER_MOST)
    assert Way.objects.get().cost != guessed, "what was typed is in the price"
    where = send_it(hand)
    quote, way = Quote.objects.get(), Way.objects.get()
    assert quote.number
    paper = hand.page.request.get(live_server.url + where)
    assert paper.headers["content-type"] == "application/pdf"
    words = text_of(paper.body())
    assert "Glass-on fin" in words
    assert f"€{way.gross:.2f}" in words
    assert ADDRESS in words
    assert "guess" not in words
    assert hand.loads <= PAGES, hand.says()
    assert hand.taps <= TAPS, hand.says()
    assert hand.keys <= CHARACTERS, hand.says()
    assert hand.seconds <= SECONDS, hand.says()
