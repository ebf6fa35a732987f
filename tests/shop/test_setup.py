"""The first page of a new shop: everything at once or nothing, and never again."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.test import Client

from shop.acts import Refused
from shop.models import JournalEntry, LabourRate, NumberSeries, Overhead, Profile, TaxRate, User
from shop.setup import set_up, shop_set_up
from tests.conftest import NOW

PASSWORD = "seven long boards"
ENTRIES = {
    "name": "Marram Board Repairs",
    "address": "3 Strand Row\nPortmarram",
    "country": "IE",
    "currency": "EUR",
    "locale": "en_IE",
    "timezone": "Europe/Dublin",
    "paper": "A4",
    "volume_system": "us",
    "tax_profile": "ie-vat",
    "tax_number": "IE9000001E",
    "prices_include_tax": "on",
    "repair_rate": "13,5",
    "goods_rate": "23",
    "wage": "22",
    "overhead_monthly": "1080",
    "productive_hours": "120",
    "margin_percent": "25",
    "deposit_percent": "30",
    "minimum_price": "25",
    "price_step": "5",
    "tag": "1",
    "quote": "1",
    "invoice": "144",
    "credit": "1",
    "receipt": "1",
    "keeper_name": "Órla Sands",
    "username": "Orla",
    "password": PASSWORD,
    "password_again": PASSWORD,
}
ARGUMENTS = {
    "profile": {"name": "Marram", "address": "3 Strand Row", "country": "IE"},
    "tax_rates": [{"name": "No tax", "category": "O", "percent": Decimal(0), "for_repairs": True}],
    "wage": Decimal(22),
    "overhead_monthly": Decimal(1080),
    "productive_hours": Decimal(120),
    "series": {"invoice": 144},
    "keeper": {"username": "Orla", "name": "Órla Sands", "password": PASSWORD},
    "at": NOW,
}


@pytest.fixture
def send(db, client, form_key):
    def post(**changed):
        return client.post("/setup/", {**ENTRIES, "submission_key": form_key(), **changed})

    return post


def nothing_was_made() -> bool:
    return not any(m.objects.exists() for m in (Profile, User, TaxRate, LabourRate, Overhead, NumberSeries))


def test_until_there_is_a_shop_every_page_leads_to_set_up(client, db):
    for where in ("/", "/people/", "/login/"):
        assert client.get(where).url == "/setup/"
    assert client.get("/setup/").status_code == 200


def test_one_page_makes_the_shop_and_the_first_login(send, client):
    assert send().url == "/"
    shop = Profile.objects.get()
    assert (shop.name, shop.tax_number, shop.working_days) == ("Marram Board Repairs", "IE9000001E", [0, 1, 2, 3, 4])
    rates = {(r.name, r.category, r.percent, r.for_repairs) for r in TaxRate.objects.all()}
    assert rates == {
        ("VAT reduced", "S", Decimal("13.5"), True),
        ("VAT standard", "S", Decimal(23), False),
    }
    assert LabourRate.objects.get().wage_per_hour == Decimal(22)
    assert Overhead.objects.get().per_hour == Decimal(9)  # 1080 over 120 hours
    assert NumberSeries.objects.get(key="invoice").next_number == 144
    assert NumberSeries.objects.count() == 5
    assert User.objects.get().username == "orla"
    assert JournalEntry.objects.get(verb="shop.set_up").by.name == "Órla Sands"
    assert client.get("/shop/").status_code == 200, "the keeper is logged in straight away"


def test_there_is_no_set_up_page_afterwards(send, form_key):
    send()
    stranger = Client()
    assert stranger.get("/setup/").url == "/"
    assert stranger.post("/setup/", {**ENTRIES, "username": "thief", "submission_key": form_key()}).url == "/"
    assert User.objects.count() == 1


def test_a_double_tap_makes_one_shop(send, form_key):
    key = form_key()
    assert send(submission_key=key).url == send(submission_key=key).url == "/"
    assert User.objects.count() == Profile.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"country": ""}, "Country is empty"),
        ({"tax_number": ""}, "VAT number is empty; invoices must carry it."),
        ({"repair_rate": ""}, "Tax on repair work is empty"),
        ({"repair_rate": "135"}, "must be from 0 to 100 per cent"),
        ({"wage": "1,500"}, "does 1,500 mean 1.5 or 1500"),
        ({"wage": "9**9**9"}, "cannot be read"),
        ({"productive_hours": "120 kg"}, "Hands-on hours in a month must be"),
        ({"invoice": "0"}, "must be a whole number from 1"),
        ({"timezone": "Europe/Atlantis"}, "pick one of those offered"),
        ({"password": "short", "password_again": "short"}, "too short"),
        ({"password_again": "another long one"}, "The two passwords differ"),
    ],
)
def test_what_is_wrong_is_said_and_nothing_is_made(send, changed, says):
    answer = send(**changed)
    assert answer.status_code == 422
    html = answer.content.decode()
    assert says in html
    assert "3 Strand Row" in html, "what was typed is kept"
    assert nothing_was_made()


def test_a_tax_number_that_can_not_be_right_is_asked_about_once(send):
    html = send(tax_number="IE9000001A").content.decode()
    assert "check digits do not agree" in html
    assert "Yes, it is really IE9000001A" in html
    assert nothing_was_made()
    assert send(tax_number="IE9000001A", odd_tax_number="on").status_code == 302


def test_a_shop_that_is_not_registered_has_one_rate_of_nothing(send):
    send(tax_profile="none", tax_number="", repair_rate="", goods_rate="")
    rate = TaxRate.objects.get()
    assert (rate.category, rate.percent, rate.for_repairs) == ("O", Decimal(0), True)


def test_amounts_are_read_in_the_currency_chosen_on_the_same_page(send):
    answer = send(currency="JPY", wage="2500.50", minimum_price="2500", price_step="500")
    assert "at most 0 decimals" in answer.content.decode()


def test_rooms_above_are_told_inside_the_same_transaction(db):
    told = []

    def listen(sender, profile, by, at, **_):
        told.append((profile.name, by.username, at))

    shop_set_up.connect(listen)
    try:
        set_up(**ARGUMENTS)
    finally:
        shop_set_up.disconnect(listen)
    assert told == [("Marram", "orla", NOW)]


def test_when_a_room_above_can_not_start_there_is_no_shop(db):
    def break_down(**_):
        raise RuntimeError("no recipes")

    shop_set_up.connect(break_down)
    try:
        with pytest.raises(RuntimeError):
            set_up(**ARGUMENTS)
    finally:
        shop_set_up.disconnect(break_down)
    assert nothing_was_made()


def test_a_shop_is_set_up_once(db):
    set_up(**ARGUMENTS)
    with pytest.raises(Refused, match="set up already"):
        set_up(**ARGUMENTS)
    assert User.objects.count() == 1
