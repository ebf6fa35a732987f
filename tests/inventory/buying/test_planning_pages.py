"""The pages of what is reserved, what is used and what to order: what they say, to whom, and how often they ask."""

from __future__ import annotations

import io
from datetime import timedelta
from decimal import Decimal
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from pypdf import PdfReader

from inventory.buying.buy_list import SupplierList, buy_list
from inventory.buying.planning import Want, reserve
from inventory.models import BuyingRules, Lot, Material, Order, Supplier
from inventory.stock.totals import monday
from shop.models import Profile
from shop.papers.paper import plain_head, render
from shop.platform.acts import Signed
from tests.inventory.buying.test_planning import plain
from tests.reading import says


@pytest.fixture
def today():
    return timezone.localdate()


@pytest.fixture
def wanted(shelf, today):
    """A job wants 900 g of resin the day after tomorrow and 100 g are there; 500 g tins come in three days."""
    pack = shelf.price("500 g tin", "500", "6", from_day=today - timedelta(days=30))
    Supplier.objects.update(lead_days=3, email="orders@slipway.example", phone="020 910 0555")
    shelf.receive(
        "100", "1", received_on=today - timedelta(days=1), happened_at=timezone.now(), recorded_at=timezone.now()
    )
    reserve(wants=[Want(shelf.material, Decimal(900), today + timedelta(days=2))], at=timezone.now())
    shelf.pack = pack
    return shelf


def text(answer) -> str:
    return plain(unescape(says(answer)))


def seen(client, name: str, *args) -> str:
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200
    return text(answer)


def test_the_bench_reads_what_will_be_missing_and_no_money(wanted, bench_client):
    page = seen(bench_client, "plan")
    assert "800 g will be missing" in page
    assert "900 g reserved, 100 g on the shelf" in page
    assert "What to order" not in page
    assert "€" not in page
    assert bench_client.get(reverse("buy-list")).status_code == 403


def test_nothing_reserved_is_said(bench_client):
    assert "no job is on the bench" in seen(bench_client, "plan")


def test_the_buy_list_says_all_there_is_to_know_before_ordering(wanted, counter_client, today):
    page = seen(counter_client, "buy-list")
    assert "2 × 500 g tin" in page
    assert "Slipway Supplies" in page
    assert "€12.00" in page
    assert "Jobs have reserved 900 g" in page
    assert "short from" in page  # comes in three days, wanted in two


def test_the_paper_is_for_the_hand_that_orders(wanted, counter_client, today):
    answer = counter_client.get(reverse("buy-list-pdf"))
    assert (answer.status_code, answer["Content-Type"]) == (200, "application/pdf")
    pages = PdfReader(io.BytesIO(answer.content)).pages
    paper = plain(" ".join(" ".join(page.extract_text() for page in pages).split()))
    for words in ("Slipway Supplies", "2 × 500 g tin, Laminating resin", "100 g", ", late", "12.00"):
        assert words in paper
    only = reverse("buy-list-pdf") + f"?supplier={wanted.pack.supplier_id}"
    assert counter_client.get(only).status_code == 200
    assert counter_client.get(reverse("buy-list-pdf") + "?supplier=999999").status_code == 404
    assert counter_client.get(reverse("buy-list-pdf") + "?supplier=x").status_code == 404


def test_thirty_things_to_order_are_one_page_and_more_have_their_heads_again(wanted, today, shelf):
    """From three suppliers, each line with what is left, in days that come too late."""
    [line] = buy_list(today)
    houses = [Supplier(name=f"House {number}", lead_days=3, phone="020 910 0555") for number in range(3)]

    def pages(each: int) -> list[str]:
        context = {
            **plain_head(Profile.objects.get(), "Buy list", "today"),
            "lists": [SupplierList(house, [line] * each) for house in houses],
        }
        return [page.extract_text() for page in PdfReader(io.BytesIO(render("papers/buy_list.html", context))).pages]

    [one] = pages(10)
    assert one.count("Laminating resin") == 30
    first, second = pages(18)
    assert first.count("Laminating resin") + second.count("Laminating resin") == 54
    assert "Order by" in second


def test_a_supplier_reads_the_order_and_not_the_reasons(wanted, counter_client, today):
    Material.objects.update(shelf_life_days=180)
    order = seen(counter_client, "buy-list-text", wanted.pack.supplier_id)
    ours = order.index("For the shop only")
    assert "2 × 500 g tin, Laminating resin" in order[:ours]
    assert "please send a batch good until" in order[:ours]
    assert "1 Test Lane, Testport" in order[:ours]
    assert "reserved" not in order[:ours]
    assert "Jobs have reserved 900 g" in order[ours:]
    page = seen(counter_client, "buy-list-order", wanted.pack.supplier_id)
    letter = page.split('href="mailto:')[1].split('"')[0]
    assert letter.startswith("orders%40slipway.example?subject=Order%20from%20Test")
    assert "For%20the%20shop" not in letter


def test_what_was_ordered_leaves_the_list_and_can_be_called_off(wanted, counter_client, form_key, today):
    url = reverse("buy-list-order", args=[wanted.pack.supplier_id])
    entries = {f"packs_{wanted.pack.pk}": "3", "ordered_on": today.isoformat(), "submission_key": form_key()}
    assert counter_client.post(url, entries).status_code == 302
    assert counter_client.post(url, entries).status_code == 302  # a double tap
    order = Order.objects.get()
    assert (order.packs, order.expected_on) == (3, today + timedelta(days=3))
    page = seen(counter_client, "buy-list")
    assert "Nothing is due" in page
    assert "1500 g still to come" in page
    close = reverse("order-close", args=[order.pk])
    assert counter_client.post(close, {"submission_key": form_key()}).status_code == 302
    assert "2 × 500 g tin" in seen(counter_client, "buy-list")
    assert counter_client.post(close, {"submission_key": form_key()}).status_code == 302
    assert "called off already" in seen(counter_client, "buy-list")


@pytest.mark.parametrize(
    ("packs", "said"),
    [("0", "Every count is 0"), ("", "must be a whole number"), ("two", "must be a whole number"), ("-1", "none")],
)
def test_an_order_of_nothing_is_asked_about(wanted, counter_client, form_key, today, packs, said):
    url = reverse("buy-list-order", args=[wanted.pack.supplier_id])
    entries = {f"packs_{wanted.pack.pk}": packs, "ordered_on": today.isoformat(), "submission_key": form_key()}
    answer = counter_client.post(url, entries)
    assert answer.status_code == 422
    assert said in text(answer)
    assert not Order.objects.exists()


def test_how_we_buy_is_kept_and_a_cost_of_nothing_refused(counter_client, form_key):
    url = reverse("buying-rules")
    entries = {
        "order_cost": "8,50",
        "holding_percent": "30",
        "service_percent": "98",
        "look_ahead_days": "14",
        "most_weeks": "6",
    }
    assert counter_client.post(url, {**entries, "submission_key": form_key()}).status_code == 302
    kept = BuyingRules.objects.get()
    bought = (kept.order_cost, kept.holding_percent, kept.service_percent, kept.look_ahead_days, kept.most_weeks)
    assert bought == (Decimal("8.5"), 30, 98, 14, 6)
    wrong = {**entries, "order_cost": "0", "look_ahead_days": "soon", "submission_key": form_key()}
    answer = counter_client.post(url, wrong)
    assert answer.status_code == 422
    assert "must be above zero" in text(answer)
    assert 'value="soon"' in text(answer)


def test_use_over_time_is_a_drawing_and_a_table(shelf, bench_client, today):
    now = timezone.now()
    shelf.receive("5000", "50", received_on=monday(today) - timedelta(weeks=4), recorded_at=now)
    shelf.use("280", happened_at=now - timedelta(days=7), recorded_at=now)
    page = seen(bench_client, "material-use", shelf.material.pk)
    assert page.count("<rect") == 27, "half a year of whole weeks, and this one"
    assert "Most in a week 280 g, usually 70 g; 27 weeks." in page
    assert "472 days left" in page  # 4720 g at 280 g in four weeks
    assert "€" not in page


def test_the_pages_ask_the_same_queries_however_much_there_is(wanted, keeper_client, today):
    from inventory.stock import ledger

    def queries(name: str, *args) -> int:
        with CaptureQueriesContext(
            connection,
        ) as asked:
            seen(keeper_client, name, *args)
        return len(asked)

    pages = [("plan",), ("buy-list",), ("material-use", wanted.material.pk)]
    for page in pages:
        seen(keeper_client, *page)  # session and first-time look-ups
    before = [queries(*page) for page in pages]
    now = timezone.now()
    for number in range(12):
        other = Material.objects.create(key=f"m{number}", name=f"M {number}", kind="cloth", unit="m2")
        ledger.receive(
            lot=Lot(material=other, received_on=today),
            quantity=Decimal(9),
            value=Decimal(9),
            signed=Signed(wanted.by, now),
        )
        ledger.use(material=other, quantity=Decimal(8), signed=Signed(wanted.by, now))
        reserve(wants=[Want(other, Decimal(3), today)] * 2, at=now)
    assert [queries(*page) for page in pages] == before
    assert max(before) <= 20
