"""The first page of a new shop: everything at once or nothing, and never again."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from django.test import Client

from shop.business import shop_settings
from shop.business.setup import set_up, shop_set_up
from shop.countries import tax, usual, world
from shop.measures.money import show_money
from shop.models import JournalEntry, LabourRate, NumberSeries, Overhead, Profile, TaxRate, User
from shop.platform.acts import Refused, Signed
from tests import form_contract
from tests.conftest import NOW, TODAY

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
    assert client.get("/setup/").status_code == client.get("/setup/?country=IE").status_code == 200


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
        ({"password": "0123456789", "password_again": ""}, "too common"),
        ({"password": "Orla Orla!", "username": "orlaorla"}, "too similar to the login name"),
        ({"password": "Órla Sands1", "username": "boss"}, "too similar to the name"),
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
    answer = send(currency="JPY", odd_currency="on", wage="2500.50", minimum_price="2500", price_step="500")
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


# --- what follows from the country ------------------------------------------------------------------------------------

TYPED = {"name": "Marram", "keeper_name": "Órla Sands", "username": "orla", "password": PASSWORD}
# Currency: ISO 4217. Zone: the tz database's of the largest city. Paper: CLDR, supplemental data, measurementData, from
# memory. Signs: a thousand, and a half, as CLDR writes them for the country. Tax: shop/countries/tax.py.
SAMPLE = {
    "IE": ("EUR", "Europe/Dublin", "A4", ",.", "ie-vat", "13.5", "23"),
    "GB": ("GBP", "Europe/London", "A4", ",.", "uk-vat", "20", "20"),
    "DE": ("EUR", "Europe/Berlin", "A4", ".,", "eu-vat", "19", "19"),
    "FR": ("EUR", "Europe/Paris", "A4", "\u202f,", "eu-vat", "20", "20"),
    "PT": ("EUR", "Europe/Lisbon", "A4", "\xa0,", "eu-vat", "23", "23"),
    "ES": ("EUR", "Europe/Madrid", "A4", ".,", "eu-vat", "21", "21"),
    "BE": ("EUR", "Europe/Brussels", "A4", ".,", "eu-vat", "21", "21"),
    "BG": ("EUR", "Europe/Sofia", "A4", "\xa0,", "eu-vat", "20", "20"),
    "US": ("USD", "America/New_York", "letter", ",.", "us-sales", None, None),
    "CA": ("CAD", "America/Toronto", "letter", ",.", "none", None, None),
    "AU": ("AUD", "Australia/Sydney", "A4", ",.", "au-gst", "10", "10"),
    "NZ": ("NZD", "Pacific/Auckland", "A4", ",.", "nz-gst", "15", "15"),
    "ZA": ("ZAR", "Africa/Johannesburg", "A4", "\xa0,", "none", None, None),
    "JP": ("JPY", "Asia/Tokyo", "A4", ",", "none", None, None),
    "BR": ("BRL", "America/Sao_Paulo", "A4", ".,", "none", None, None),
    "MX": ("MXN", "America/Mexico_City", "letter", ",.", "none", None, None),
    "CR": ("CRC", "America/Costa_Rica", "letter", ".,", "none", None, None),
    "ID": ("IDR", "Asia/Jakarta", "A4", ".,", "none", None, None),
}


def as_a_browser(client, country, **typed):
    """The second page's form as it stands there, ticked boxes too, with what was typed."""
    html = client.get(f"/setup/?country={country}").content.decode()
    (form,) = form_contract.forms_of(form_contract.read(html))
    ((where, entries),) = form_contract.ready_to_send(client, f"/setup/?country={country}")
    ticked = {e.get("name"): "on" for e in form.iter("input") if e.get("type") == "checkbox" and "checked" in e.attrib}
    del entries["save"]
    return client.post(where, {**entries, **ticked, **typed})


def rate_for(country):
    """What has to be typed besides: a number where the shop is registered, a rate where nobody knows it."""
    rules = tax.profile(tax.profile_of(country))
    return {
        **({"tax_number": "1", "odd_tax_number": "on"} if rules.number_word else {}),
        **({"repair_rate": "0"} if rules.registered and usual.country(country).repair_rate is None else {}),
    }


@pytest.mark.parametrize("country", SAMPLE)
def test_what_follows_from_a_country_fits_it(country):
    there = usual.country(country)
    currency, zone, paper, signs, key, repair, goods = SAMPLE[country]
    found = (there.currency, there.timezone, there.paper, there.tax_profile)
    assert found == (currency, zone, paper, key)
    assert (there.repair_rate, there.goods_rate) == (repair and Decimal(repair), goods and Decimal(goods))
    amount = show_money(Decimal("1234567.5"), currency, there.locale)
    assert re.findall(r"(?<=\d)\D(?=\d)", amount) == [signs[0], *signs], amount
    assert show_money(Decimal("1234.5"), currency, there.locale) in there.summary
    assert all(ord(letter) < 0xFF00 for letter in amount), "no full-width letters, which need a font of their own"


@pytest.mark.parametrize("country", SAMPLE)
def test_a_shop_is_set_up_in_any_country_by_typing_next_to_nothing(country, db, client):
    answer = as_a_browser(client, country, **TYPED, **rate_for(country))
    assert answer.status_code == 302, answer.content.decode()
    shop, there = Profile.objects.get(), usual.country(country)
    for name in ("currency", "locale", "timezone", "paper", "volume_system", "tax_profile"):
        assert getattr(shop, name) == getattr(there, name)
    assert shop.country == country
    assert shop.prices_include_tax == tax.profile(there.tax_profile).prices_include_tax
    guess = usual.guess(there.currency)
    assert LabourRate.objects.get().wage_per_hour == guess.wage
    assert Overhead.objects.get().monthly == guess.overhead_monthly
    assert (shop.minimum_price, shop.price_step) == (guess.minimum_price, guess.price_step)
    assert TaxRate.objects.filter(for_repairs=True).get().percent == (there.repair_rate or 0)
    page = client.get("/shop/").content.decode()
    assert page.count("As guessed at set-up: put in yours.") == 2
    assert "No address yet" in page


@pytest.mark.parametrize(
    ("typed", "marks"), [({}, 2), ({"wage": "23"}, 1), ({"wage": "23", "overhead_monthly": "900"}, 0)]
)
def test_only_what_nobody_touched_is_called_a_guess_until_it_changes(typed, marks, db, client):
    as_a_browser(client, "IE", **TYPED, **typed, tax_profile="none")
    words = "As guessed at set-up: put in yours."
    assert client.get("/shop/").content.decode().count(words) == marks
    shop_settings.set_wage(
        signed=Signed(User.objects.get(), NOW), person=None, wage_per_hour=Decimal(25), from_day=TODAY
    )
    assert client.get("/shop/").content.decode().count(words) == marks - (not typed)


def test_who_typed_the_very_figure_we_would_have_guessed_is_not_told_it_is_a_guess(db, client):
    set_up(**ARGUMENTS)  # a wage of 22, typed
    client.force_login(User.objects.get())
    assert "As guessed at set-up" not in client.get("/shop/").content.decode()


def test_every_country_has_a_way_of_writing_amounts_and_zones_of_its_own():
    lacking = set()
    for code, _ in world.countries():
        there = usual.country(code)
        assert there.locale in dict(world.styles())
        assert there.tax_profile in tax.PROFILES
        offered = {zone for _, zones in world.time_zones() for zone, _ in zones}
        assert set(there.zones) <= offered
        assert set(there.currencies) <= set(dict(world.currencies()))
        if not there.timezone or not there.currency:
            lacking.add(code)
    assert lacking <= {"AC", "AQ", "BV", "CP", "CQ", "DG", "EA", "HM", "IC", "SJ", "TA", "XK"}


def test_where_no_zone_is_known_one_is_picked_never_the_first_of_the_list(db, client):
    answer = as_a_browser(client, "XK", **TYPED)
    assert answer.status_code == 422
    assert "Time zone is empty" in answer.content.decode()
    assert as_a_browser(client, "XK", **TYPED, timezone="Europe/Belgrade").status_code == 302


def test_a_country_in_several_zones_names_the_one_most_people_live_in_and_says_that_there_are_others():
    there = usual.country("BR")
    assert len(there.zones) > 10
    assert "the time of Sao Paulo (there are others)" in there.summary


def test_the_first_page_asks_for_the_country_and_the_browser_may_know_it(db, client):
    html = client.get("/setup/", headers={"accept-language": "fr, en-NZ;q=0.8, en;q=0.5"}).content.decode()
    assert '<option value="NZ" selected>' in html
    assert "password" not in html
    for asked in ("", "Atlantis", "ie"):
        answer = client.get("/setup/", {"country": asked})
        assert answer.status_code == 422
        assert ("Country is empty" if not asked else "Country: pick one of those offered") in answer.content.decode()


@pytest.mark.parametrize(
    ("country", "changed", "says", "tick"),
    [
        ("AU", {"currency": "EUR"}, "Australia: money is AUD, not EUR", "odd_currency"),
        ("AU", {"timezone": "Europe/Dublin"}, "Australia: Europe/Dublin is no time zone there", "odd_timezone"),
        ("US", {"paper": "A4"}, "United States: the usual paper is US Letter", "odd_paper"),
    ],
)
def test_what_disagrees_with_the_country_is_asked_about_once(country, changed, says, tick, db, client):
    typed = {**TYPED, **rate_for(country), **changed}
    answer = as_a_browser(client, country, **typed)
    assert answer.status_code == 422
    assert says in answer.content.decode()
    assert "<details open>" in answer.content.decode(), "the amounts, guessed for another money, or what is wrong"
    assert f'name="{tick}"' in answer.content.decode()
    assert nothing_was_made()
    assert as_a_browser(client, country, **typed, **{tick: "on"}).status_code == 302
    assert {getattr(Profile.objects.get(), name) for name in changed} == set(changed.values())


def test_what_may_differ_within_a_country_is_not_asked_about(db, client):
    typed = {**TYPED, **rate_for("AU"), "timezone": "Australia/Perth", "locale": "en_GB", "repair_rate": "12"}
    assert as_a_browser(client, "AU", **typed).status_code == 302


def test_a_shop_in_panama_may_count_in_either_of_its_currencies(db, client):
    assert as_a_browser(client, "PA", **TYPED, currency="USD").status_code == 302


def test_a_shop_that_is_not_registered_types_four_boxes(db, client):
    assert as_a_browser(client, "IE", **TYPED, tax_profile="none").status_code == 302
    assert TaxRate.objects.get().category == "O"


def test_where_no_tax_rules_are_held_the_page_says_so_and_asks_for_no_rates(db, client):
    html = client.get("/setup/?country=JP").content.decode()
    assert "Japan: Dryrack holds no tax rules of it yet" in html
    assert 'name="repair_rate"' not in html
    assert 'name="tax_number"' not in html


def test_without_a_guess_for_its_currency_a_shop_is_asked_openly(db, client):
    html = client.get("/setup/?country=KG").content.decode()
    assert "<details open>" in html
    assert "<details open>" not in client.get("/setup/?country=IE").content.decode()
    answer = as_a_browser(client, "KG", **TYPED)
    assert "Wage for an hour is empty" in answer.content.decode()


def test_a_fold_opens_where_something_in_it_is_wrong(send):
    assert "<details open>" in send(price_step="0").content.decode()
    assert "<details open>" not in send(name="").content.decode()


def test_all_that_is_wrong_is_said_at_once(send):
    html = send(name="", password="short", password_again="", username="", wage="x", tax_number="").content.decode()
    for says in (
        "Shop name is empty",
        "too short",
        "Login name is empty",
        "Wage for an hour must",
        "invoices must carry",
    ):
        assert says in html


def test_the_password_is_typed_once_and_its_whole_rule_is_told_before(db, client):
    html = client.get("/setup/?country=IE").content.decode()
    assert "At least 10 characters of any kind" in html
    assert "not like your name or login name" in html
    assert "none of the 20 000" in html  # Django, Password management, CommonPasswordValidator
    before, _, after = html.partition("<noscript>")
    assert 'name="password_again"' in after.partition("</noscript>")[0], "twice only where it cannot be looked at"
    assert 'data-show="id_password"' in before


def test_what_cannot_be_changed_later_says_so_before_it_is_kept(db, client):
    html = client.get("/setup/?country=IE").content.decode()
    assert "It can be changed until the first quote, invoice, receipt or price list is given out" in html
    assert "It cannot be changed later." in html.partition('name="username"')[0].rpartition('name="keeper_name"')[2]
    assert "later they only go up" in html


@pytest.mark.parametrize("country", ["IE", "US", "JP"])
def test_the_form_keeps_to_the_contract(country, db, client):
    problems = form_contract.check(client, f"/setup/?country={country}")
    assert not problems, "\n".join(problems)
