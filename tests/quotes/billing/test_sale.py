"""Goods over the counter: off the shelf, invoiced, paid; refused where the shelf does not hold them."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Lot, Material, Movement, StockQuestion
from inventory.stock import books as store_books
from inventory.stock import ledger
from quotes import billing
from quotes.billing import books
from quotes.models import Invoice, Payment
from shop.models import Profile, TaxRate
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes.conftest import refusal
from tests.reading import says as read

D = Decimal


@pytest.fixture
def wax(profile, keeper) -> Material:
    """Ten bars of wax that cost 2.00 each, sold at 3.25 without tax."""
    row = Material.objects.create(
        key="wax-bar", name="Wax bar", kind="counter", unit="piece", facts={"sells_for": "3.25"}
    )
    ledger.receive(
        lot=Lot(material=row, received_on=TODAY),
        quantity=D(10),
        value=D("20.00"),
        signed=Signed(keeper, NOW),
    )
    return row


def sell(wax, by, many="3", price="4.00", method="cash"):
    return billing.sell_goods(goods=[billing.Goods(wax, D(many), D(price))], method=method, signed=Signed(by, NOW))


def test_wax_leaves_the_shelf_and_is_paid_at_the_rate_of_goods(wax, counter):
    payment = sell(wax, counter)
    # 12.00 with 23 % in it: 12 × 23 / 123 = 2.24 (2.2439)
    invoice = payment.invoice
    assert (payment.amount, invoice.gross, invoice.tax, invoice.net) == (D("12.00"), D("12.00"), D("2.24"), D("9.76"))
    assert billing.balance(invoice) == 0
    line = invoice.lines.get()
    assert (line.words, line.quantity, line.unit, line.tax_percent) == ("Wax bar", 3, "C62", 23)
    assert sum(wax.lots.values_list("quantity_left", flat=True)) == 7
    assert Movement.objects.order_by("pk").last().value == D("-6.00")
    assert books.problems() == []
    assert store_books.problems() == []


def test_goods_without_a_price_are_named_with_where_to_set_it(wax, counter_client, form_key):
    Material.objects.filter(pk=wax.pk).update(facts={})
    html = counter_client.get(reverse("sale")).content.decode()
    form = reverse("material-edit", args=[wax.pk])
    assert "Wax bar has no selling price yet" in html
    assert f'href="{form}#id_sells_for"' in html
    sent = {"submission_key": form_key(), "name": "Wax bar", "kind": "counter", "unit": "piece", "sells_for": "3.25"}
    assert counter_client.post(form, sent).status_code == 302
    again = counter_client.get(reverse("sale"))
    assert "has no selling price" not in again.content.decode()
    assert [price for _, price in again.context["goods"]] == [D("3.25")]


def set_price(client, wax, form_key, price: str) -> None:
    said = {"submission_key": form_key(), "name": "Wax bar", "kind": "counter", "unit": "piece", "sells_for": price}
    assert client.post(reverse("material-edit", args=[wax.pk]), said).status_code == 302


@pytest.mark.parametrize(
    ("shop", "words", "shown", "net_of_five"),
    [
        ({"prices_include_tax": True}, "Sells for, with tax", "4.00", 4.065041),  # 5 / 1.23
        ({"prices_include_tax": False}, "Sells for, without tax", "3.25", 5.0),
        ({"tax_profile": "none"}, "Sells for", "3.25", 5.0),
    ],
)
def test_a_selling_price_is_said_as_the_shop_says_its_prices(
    wax, counter_client, form_key, shop, words, shown, net_of_five
):
    Profile.objects.update(**shop)
    form = counter_client.get(reverse("material-edit", args=[wax.pk])).context["form"]
    assert (form.fields["sells_for"].label, form["sells_for"].value()) == (words, shown)
    set_price(counter_client, wax, form_key, shown)
    wax.refresh_from_db()
    assert wax.facts["sells_for"] == 3.25, "a price that was not changed stays to the last digit"
    set_price(counter_client, wax, form_key, "5.00")
    wax.refresh_from_db()
    assert wax.facts["sells_for"] == net_of_five
    assert [price for _, price in counter_client.get(reverse("sale")).context["goods"]] == [D("5.00")]
    page = read(counter_client.get(reverse("material", args=[wax.pk])))
    tax = words.partition(", ")[2]
    assert "€5.00 a piece" + (f' <span class="hint">{tax}</span>' if tax else "") + "</dd>" in page


def test_without_a_rate_in_force_a_selling_price_is_said_without_tax(wax, counter_client):
    TaxRate.objects.all().delete()
    form = counter_client.get(reverse("material-edit", args=[wax.pk])).context["form"]
    assert (form.fields["sells_for"].label, form["sells_for"].value()) == ("Sells for, without tax", "3.25")


def test_more_than_there_is_is_refused_whole(wax, counter):
    said = refusal(lambda: sell(wax, counter, many="11"))
    assert said["quantity"] == ["The shelf holds 10\u00a0pieces of Wax bar, not 11\u00a0pieces."]
    assert not Invoice.objects.exists()
    assert sum(wax.lots.values_list("quantity_left", flat=True)) == 10


def test_a_sale_taken_back_is_credited_and_paid_back_on_its_invoice(wax, counter):
    invoice = sell(wax, counter).invoice
    billing.credit_invoice(invoice=invoice, reason="the wrong wax", signed=Signed(counter, NOW))
    assert billing.balance(invoice) == D("-12.00")
    billing.refund(invoice=invoice, amount=D("12.00"), method="cash", signed=Signed(counter, NOW))
    assert billing.balance(invoice) == 0
    assert books.problems() == []


def test_the_page_offers_what_is_there_at_its_price_and_sells_it_once(wax, counter_client, form_key):
    page = counter_client.get(reverse("sale")).content.decode()
    assert "10\u00a0pieces on the shelf" in page
    assert 'value="4.00"' in page  # 3.25 and 23 % of it: 3.9975
    said = {f"many_{wax.pk}": "2", f"price_{wax.pk}": "4.00", "method": "cash", "submission_key": form_key()}
    first, second = (counter_client.post(reverse("sale"), said) for _ in range(2))
    assert first.url == second.url == reverse("receipt", args=[Payment.objects.get().pk])
    assert Payment.objects.get().amount == D("8.00")


@pytest.mark.parametrize(
    ("many", "price", "says"),
    [
        ("", "4.00", "Nothing is sold yet"),
        ("-1", "4.00", "how many"),
        ("a few", "4.00", "how many"),
        ("2", "", "Price of Wax bar is empty; say what one costs, like 4.50."),
        ("2", "9**9", "Price of Wax bar"),
        ("11", "4.00", "The shelf holds 10"),
    ],
)
def test_what_cannot_be_sold_is_a_sentence_and_sells_nothing(wax, counter_client, form_key, many, price, says):
    said = {f"many_{wax.pk}": many, f"price_{wax.pk}": price, "method": "cash", "submission_key": form_key()}
    answer = counter_client.post(reverse("sale"), said)
    assert answer.status_code == 422
    page = answer.content.decode()
    assert says in page
    assert not many or f'value="{many}"' in page
    assert not Invoice.objects.exists()


def test_a_shop_without_a_rate_in_force_is_told_before_it_sells(wax, counter, counter_client):
    TaxRate.objects.all().delete()
    said = "No tax rate is in force today; add the rate for goods under Shop."
    answer = counter_client.get(reverse("sale"), follow=True)
    assert answer.redirect_chain == [(reverse("money"), 302)]
    assert said in answer.content.decode()
    assert refusal(lambda: sell(wax, counter))["__all__"] == [said]
    assert sum(wax.lots.values_list("quantity_left", flat=True)) == 10


def test_a_shop_without_tax_sells_without_tax(wax, counter):
    Profile.objects.update(tax_profile="none")
    invoice = sell(wax, counter).invoice
    assert (invoice.tax, invoice.gross) == (0, D("12.00"))


def test_of_very_many_goods_the_others_are_found_by_name(wax, keeper, keeper_client):
    address = reverse("sale")
    assert 'name="q"' not in keeper_client.get(address).content.decode()
    for number in range(60):
        row = Material.objects.create(key=f"a-{number}", name=f"A {number}", kind="counter", unit="piece")
        ledger.receive(
            lot=Lot(material=row, received_on=TODAY),
            quantity=D(1),
            value=D(1),
            signed=Signed(keeper, NOW),
        )
    page = keeper_client.get(address).content.decode()
    assert "The first 60 by name; find the others." in page
    assert "Wax bar" not in page
    assert "Wax bar" in keeper_client.get(address, {"q": "wax"}).content.decode()
    assert "No goods of that name" in keeper_client.get(address, {"q": "tide table"}).content.decode()


@pytest.mark.parametrize("not_tracked", [False, True])
def test_what_nobody_has_counted_is_sold_at_its_price_and_stays_not_counted(
    profile, counter_client, form_key, not_tracked
):
    leash = Material.objects.create(
        key="leash", name="Leash", kind="counter", unit="piece", facts={"sells_for": "20"}, not_tracked=not_tracked
    )
    page = counter_client.get(reverse("sale")).content.decode()
    assert ("Not tracked." if not_tracked else "Not counted yet.") in page
    sent = {
        "submission_key": form_key(), f"many_{leash.pk}": "1", f"price_{leash.pk}": "24.60", "method": "cash",
    }  # fmt: skip
    assert counter_client.post(reverse("sale"), sent).status_code == 302
    assert Payment.objects.get().amount == D("24.60")
    assert not Material.objects.filter(pk=leash.pk).watched().exists()
    assert not StockQuestion.objects.exists()
    assert "Leash" in counter_client.get(reverse("sale")).content.decode(), "it can be sold again"
    assert store_books.problems() == books.problems() == []
