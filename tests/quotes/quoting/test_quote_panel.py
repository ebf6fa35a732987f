"""What the shop alone sees of each way of a quote: chance of loss, range of cost, and what the cost is made of."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from quotes import quoting
from quotes.models import Way
from shop.models import Profile
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.costing.dice import thrown
from tests.quotes import seed
from tests.quotes.conftest import take_in, with_two_ways
from tests.reading import says

BEGINS = {"quote": with_two_ways}
pytestmark = pytest.mark.usefixtures("standing")

BOX = {"pocket_length": "118", "pocket_width": "34", "pocket_depth": "23"}
OWN = ("Chance of loss", "eight in ten", "By material", "By operation", "An hour earns")


@pytest.fixture(autouse=True)
def _today(monkeypatch):
    from django.utils import timezone

    monkeypatch.setattr(timezone, "now", lambda: NOW)


def page(client, quote, name="quote"):
    answer = client.get(reverse(name, args=[quote.pk]))
    assert answer.status_code == 200
    return says(answer)


def text_of(html):
    """The words of a page, a space between cells."""
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


def ways_of(answer):
    return answer.context["ways"]


def test_chance_and_range_of_a_way_are_those_of_dice(quote, counter, counter_client):
    """Two hundred thousand throws of every factor, cup and scatter, against what the page says in closed form."""
    way = quote.boards.get().ways.get(position=2)
    quoting.add_line(way=way, words="Fins", price=Decimal("60"), cost=Decimal("35"), signed=Signed(counter, NOW))
    way.refresh_from_db()
    cost, _, _ = thrown([part.estimate for part in way.parts.all()], 11)
    cost += 35
    shown = page(counter_client, quote)
    low, high = re.search(r"Way\s+2 <span class=\"sum\">([\d,.]+) to ([\d,.]+)</span>", shown).groups()
    said = [float(one.replace(",", "")) for one in (low, high)]
    assert said == pytest.approx(np.quantile(cost, [0.1, 0.9]), rel=0.01)
    chance = int(re.findall(r"(\d+) % of such jobs cost more than the price before tax", shown)[1])
    assert chance == pytest.approx(100 * (cost > float(way.net)).mean(), abs=1.5)


def test_a_price_below_cost_is_a_loss_more_often_than_not(quote, counter, counter_client):
    way = quote.boards.get().ways.get(position=1)
    quoting.edit_way(
        way=way, title=way.title, words=way.words, ready_on=None, price_by_hand=way.cost, price_reason="a friend",
        below_cost=True, signed=Signed(counter, NOW),
    )  # fmt: skip
    shown = page(counter_client, quote)
    assert int(re.findall(r"(\d+) % of such jobs cost more", shown)[0]) > 60
    assert "below cost" in shown


def test_the_cost_lies_there_by_material_and_by_operation(quote, counter, counter_client):
    way = quote.boards.get().ways.get(position=2)
    quoting.add_line(way=way, words="Fins", price=Decimal("60"), cost=Decimal("35"), signed=Signed(counter, NOW))
    way.refresh_from_db()
    lines = way.parts.get().snapshot["lines"]
    resin = [line for line in lines if line["material"] == "resin-lam"]
    cost = sum(Decimal(line["cost_shown"]) for line in resin)
    grams = sum(line["expected"]["value"] for line in resin)
    own = text_of(page(counter_client, quote).split("By material")[2])
    materials, operations = own.split("By operation")
    found = re.search(rf"{resin[0]['name']} (\S+) g (\S+) g (\S+)", materials).groups()
    paper_grams = sum(line["need"]["value"] for line in resin)
    assert [float(one) for one in found] == pytest.approx([paper_grams, grams, float(cost)], rel=0.005)
    rope = sum(Decimal(line["cost_shown"]) for line in lines if line["operation"] == "rope-fin")
    assert re.search(rf"Rope a fin \d+ min [\d.]+ {rope}", operations), operations
    for table in (materials, operations):
        assert "Fins, bought" in table
        assert re.search(rf"Cost {way.cost:.2f}", table)


def test_only_who_sees_money_sees_it_and_never_the_customer(quote, counter, counter_client, bench_client):
    assert bench_client.get(reverse("quote", args=[quote.pk])).status_code == 403
    shown = page(counter_client, quote)
    turned = page(counter_client, quote, "quote-customer")
    content = quoting.send_quote(quote=quote, signed=Signed(counter, NOW)).document.content
    cost = quote.boards.get().ways.get(position=2).cost
    for words in (*OWN, f"{cost:.2f}"):
        assert words in shown
        assert words not in turned
    assert f"{cost:.2f}" not in str(content)
    assert "snapshot" not in str(content)


def test_it_is_folded(quote, counter_client):
    own = page(counter_client, quote).split("For the shop only")[1]
    assert own.count("<details>") == 2 * 3
    assert "<details open" not in own


def test_it_asks_the_same_number_of_questions_however_many_ways(quote, versions, counter, counter_client):
    board = quote.boards.get()
    with CaptureQueriesContext(connection) as two:
        page(counter_client, quote)
    for title in ("Third", "Fourth"):
        quoting.add_way(
            board=board, version=versions["glass-on-twin"], measures=seed.KEELS, title=title, signed=Signed(counter, NOW), damage=board.takein.damages.get(),
        )  # fmt: skip
    other = take_in(counter, board=seed.fish(name="Her other fish"), damages=[seed.rail_ding()])
    quoting.add_board(quote=quote, takein=other, signed=Signed(counter, NOW))
    quoting.add_way(
        board=quote.boards.last(), version=versions["fin-box"], measures=BOX,
        damage=other.damages.get(), signed=Signed(counter, NOW),
    )  # fmt: skip
    with CaptureQueriesContext(connection) as five:
        answer = counter_client.get(reverse("quote", args=[quote.pk]))
    assert len(ways_of(answer)) == 5
    assert len(five) == len(two)


def test_a_way_without_a_price_says_so_and_the_page_stands(quote, counter_client):
    way = quote.boards.get().ways.get(position=1)
    problem = {"text": "“Roving” has no price: give one of its packs a price.", "operation": "rope-fin",
               "field": "material", "fix": "recipe"}  # fmt: skip
    Way.objects.filter(pk=way.pk).update(net=None, gross=None, cost=None, problems=[problem], totals={})
    own = text_of(page(counter_client, quote).split("For the shop only")[1])
    assert "Way 1 no price yet" in own
    assert re.search(r"Way 2 [\d.]+ to [\d.]+", own)


def test_a_shop_without_tax_reads_of_no_tax(quote, counter_client):
    assert "before tax" in page(counter_client, quote)
    Profile.objects.update(tax_profile="none")
    way = quote.boards.get().ways.get(position=2)
    for name, pk in (("quote", quote.pk), ("way-why", way.pk), ("way-sure", way.pk)):
        shown = says(counter_client.get(reverse(name, args=[pk])))
        assert "before tax" not in shown, name
        assert "Price before tax" not in shown, name
