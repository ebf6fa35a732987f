"""The keeper's pages: rates with their days, numbers that only go up, and the last keeper who stays."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from shop.business import shop_settings, staff
from shop.forms.shop import ShopForm
from shop.models import ClosedDay, JournalEntry, LabourRate, NumberSeries, Overhead, Profile, Role, TaxRate, User
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, PASSWORD, logged_in, make_user

D = Decimal


def refusal(act) -> str:
    with pytest.raises(Refused) as said:
        act()
    return " ".join(said.value.messages)


# --- rates ------------------------------------------------------------------------------------------------------------


def test_a_new_rate_for_repairs_ends_the_one_before_it(keeper):
    shop_settings.add_tax_rate(
        signed=Signed(keeper, NOW),
        name="VAT",
        category="S",
        percent=D("9"),
        from_day=date(2027, 1, 1),
        for_repairs=True,
    )
    last, first = date(2026, 12, 31), date(2027, 1, 1)
    assert TaxRate.objects.on(last).get(for_repairs=True).percent == D("13.5")
    assert TaxRate.objects.on(first).get(for_repairs=True).percent == D("9")


def test_rates_for_repairs_do_not_overlap(keeper):
    said = refusal(
        lambda: shop_settings.add_tax_rate(
            signed=Signed(keeper, NOW),
            name="VAT",
            category="S",
            percent=D("9"),
            from_day=date(2026, 1, 1),
            for_repairs=True,
        )
    )
    assert said == "Another rate for repairs begins on 2026-01-01; this one must begin after it."


def test_only_a_standard_rate_charges_anything(keeper):
    said = refusal(
        lambda: shop_settings.add_tax_rate(
            signed=Signed(keeper, NOW),
            name="x",
            category="E",
            percent=D(5),
            from_day=date(2027, 1, 1),
            for_repairs=False,
        )
    )
    assert said == "Only a standard rate has per cent above zero."


def test_the_rate_for_repairs_ends_only_by_the_next_one(keeper):
    rate = TaxRate.objects.get(for_repairs=True)
    said = refusal(lambda: shop_settings.end_tax_rate(signed=Signed(keeper, NOW), rate=rate, to_day=date(2027, 1, 1)))
    assert "Add the next one" in said


def test_a_wage_set_twice_for_one_day_is_the_last_one(keeper, bench):
    for wage in ("23", "24"):
        shop_settings.set_wage(
            signed=Signed(keeper, NOW), person=bench, wage_per_hour=D(wage), from_day=date(2026, 12, 1)
        )
    assert LabourRate.objects.get(person=bench).wage_per_hour == D(24)


def test_overheads_are_spread_over_hands_on_hours(keeper_client, form_key):
    entries = {"monthly": "1 260", "productive_hours": "140 h", "from_day": "2026-12-01"}
    keeper_client.post("/shop/overheads/", {**entries, "submission_key": form_key()})
    assert Overhead.objects.get(from_day=date(2026, 12, 1)).per_hour == D(9)  # 1260 over 140


# --- days -------------------------------------------------------------------------------------------------------------


def test_a_week_is_closed_and_a_day_of_it_opened_again(keeper):
    shop_settings.close_days(
        signed=Signed(keeper, NOW), first=date(2026, 12, 24), last=date(2026, 12, 27), reason="Christmas"
    )
    assert ClosedDay.objects.count() == 4
    shop_settings.open_day(signed=Signed(keeper, NOW), closed=ClosedDay.objects.get(day=date(2026, 12, 24)))
    assert ClosedDay.objects.count() == 3


@pytest.mark.parametrize(
    ("first", "last", "says"),
    [
        (date(2026, 12, 24), date(2026, 12, 23), "must not be before the first"),
        (date(2026, 1, 1), date(2026, 12, 31), "At most 92 days at once"),
    ],
)
def test_days_in_the_wrong_order_or_too_many_are_refused(keeper, first, last, says):
    assert says in refusal(lambda: shop_settings.close_days(signed=Signed(keeper, NOW), first=first, last=last))
    assert not ClosedDay.objects.exists()


def test_a_shop_works_at_least_one_day(keeper_client, form_key):
    answer = keeper_client.post("/shop/working-days/", {"submission_key": form_key()})
    assert answer.status_code == 422
    assert "no board would ever be ready" in answer.content.decode()
    assert Profile.objects.get().working_days == [0, 1, 2, 3, 4]


# --- numbers ----------------------------------------------------------------------------------------------------------


def test_numbers_only_go_up(keeper):
    shop_settings.move_numbers_on(signed=Signed(keeper, NOW), next_numbers={"invoice": 144})
    said = refusal(lambda: shop_settings.move_numbers_on(signed=Signed(keeper, NOW), next_numbers={"invoice": 143}))
    assert said == "The next number can only go up; it is 144 now."
    assert NumberSeries.objects.get(key="invoice").next_number == 144


def test_one_wrong_number_moves_none(keeper):
    NumberSeries.objects.filter(key="tag").update(next_number=50)
    refusal(lambda: shop_settings.move_numbers_on(signed=Signed(keeper, NOW), next_numbers={"quote": 9, "tag": 2}))
    assert NumberSeries.objects.get(key="quote").next_number == 1


# --- the shop ---------------------------------------------------------------------------------------------------------


def test_saving_the_shop_unchanged_changes_nothing(keeper_client, form_key):
    before = Profile.objects.values().get()
    answer = keeper_client.post("/shop/change/", {**shown(), "submission_key": form_key()})
    assert answer.status_code == 302, answer.content.decode()
    assert Profile.objects.values().get() == before


def shown():
    """The settings page's boxes as they stand there."""
    form = ShopForm(initial=ShopForm.showing(Profile.objects.get()))
    entries = {name: form[name].value() for name in form.fields if form[name].value() not in (None, False)}
    return {**entries, "bench_hours_per_day": f"{entries['bench_hours_per_day']} h", "odd_tax_number": "on"}


def test_the_currency_changes_while_nothing_was_given_out_and_amounts_keep_their_figures(keeper_client, form_key):
    page = keeper_client.get("/shop/change/").content.decode()
    assert "It can be changed until the first quote" in page
    entries = {**shown(), "currency": "GBP", "submission_key": form_key()}
    asked = keeper_client.post("/shop/change/", entries)
    assert asked.status_code == 422
    assert "Ireland: money is EUR, not GBP" in asked.content.decode()
    assert keeper_client.post("/shop/change/", {**entries, "odd_currency": "on"}).status_code == 302
    shop = Profile.objects.get()
    assert (shop.currency, shop.minimum_price) == ("GBP", 25)
    assert JournalEntry.objects.get(verb="shop.currency").words == (
        "Changed the currency from EUR to GBP; amounts kept their figures"
    )


def test_what_disagrees_with_the_country_is_asked_about_when_it_changes_not_at_every_saving(keeper_client, form_key):
    Profile.objects.update(timezone="Europe/London")
    quiet = {**shown(), "name": "Another name"}
    assert keeper_client.post("/shop/change/", {**quiet, "submission_key": form_key()}).status_code == 302
    moved = keeper_client.post("/shop/change/", {**shown(), "country": "PT", "submission_key": form_key()})
    assert "Portugal: Europe/London is no time zone there" in moved.content.decode()
    assert "Portugal: Ireland, VAT is not its tax" in moved.content.decode()


def test_amounts_on_the_settings_page_are_read_in_the_currency_chosen_there(keeper_client, form_key):
    entries = {**shown(), "currency": "JPY", "odd_currency": "on", "minimum_price": "22.50"}
    answer = keeper_client.post("/shop/change/", {**entries, "submission_key": form_key()})
    assert "Smallest job must have at most 0 decimals" in answer.content.decode()


def test_a_room_above_may_say_that_the_currency_stays(keeper, keeper_client, form_key):
    def stays(**_):
        return "The currency stays: there is a paper."

    shop_settings.currency_asked.connect(stays)
    try:
        said = refusal(lambda: shop_settings.change_profile(signed=Signed(keeper, NOW), currency="USD"))
        page = keeper_client.get("/shop/change/").content.decode()
        late = keeper_client.post("/shop/change/", {**shown(), "currency": "USD", "submission_key": form_key()})
    finally:
        shop_settings.currency_asked.disconnect(stays)
    assert said == "The currency stays: there is a paper."
    assert 'value="USD"' not in page
    assert late.content.decode().count("The currency stays: there is a paper.") > 1, "also where the page was older"


@pytest.mark.parametrize("role", [Role.COUNTER, Role.BENCH])
def test_only_the_keeper_changes_the_shop_whatever_door_it_comes_by(profile, role):
    person = make_user(role)
    with pytest.raises(PermissionDenied):
        shop_settings.change_profile(signed=Signed(person, NOW), name="Mine")
    with pytest.raises(PermissionDenied):
        staff.add_login(signed=Signed(person, NOW), username="x", name="x", role=Role.KEEPER, password=PASSWORD)


# --- who works here ---------------------------------------------------------------------------------------------------


def test_the_last_keeper_stays_one(keeper):
    one = {"signed": Signed(keeper, NOW), "person": keeper, "name": keeper.name}
    assert "last keeper" in refusal(lambda: staff.change_login(**one, role=Role.BENCH, is_active=True))
    assert "last keeper" in refusal(lambda: staff.change_login(**one, role=Role.KEEPER, is_active=False))
    staff.add_login(signed=Signed(keeper, NOW), username="second", name="Second", role=Role.KEEPER, password=PASSWORD)
    staff.change_login(**one, role=Role.BENCH, is_active=True)
    assert User.objects.get(pk=keeper.pk).role == Role.BENCH


def test_a_keeper_who_may_not_log_in_does_not_count(keeper):
    second = staff.add_login(
        signed=Signed(keeper, NOW), username="second", name="Second", role="keeper", password=PASSWORD
    )
    staff.change_login(signed=Signed(keeper, NOW), person=second, name="Second", role="keeper", is_active=False)
    one = {"signed": Signed(keeper, NOW), "person": keeper, "name": keeper.name}
    assert "last keeper" in refusal(lambda: staff.change_login(**one, role=Role.COUNTER, is_active=True))


def test_two_logins_never_share_a_name(keeper, counter):
    said = refusal(
        lambda: staff.add_login(
            signed=Signed(keeper, NOW), username="Counter", name="x", role="bench", password=PASSWORD
        )
    )
    assert said == "Another login has this name already; choose another."


def test_a_new_password_ends_the_old_login_but_not_the_keepers_own_page(keeper, counter, form_key):
    theirs, own, fresh = logged_in(counter), logged_in(keeper), "quite another password"
    for person in (counter, keeper):
        own.post(reverse("staff-password", args=[person.pk]), {"password": fresh, "submission_key": form_key()})
    assert theirs.get("/people/").status_code == 302
    assert own.get("/shop/").status_code == 200


# --- the journal ------------------------------------------------------------------------------------------------------


def entries(number: int, by: User, about: str = "shop.board:7") -> None:
    JournalEntry.objects.bulk_create(
        JournalEntry(at=NOW, by=by, verb="test", about=about, words=f"Entry {n}") for n in range(number)
    )


def test_the_journal_asks_as_often_for_five_hundred_entries_as_for_five(keeper_client, keeper):
    def asked() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert keeper_client.get("/shop/journal/").status_code == 200
        return len(seen)

    entries(5, keeper)
    few = asked()
    entries(495, keeper)
    assert asked() == few <= 8


def test_the_journal_is_narrowed_by_row_kind_person_and_words(keeper_client, keeper, bench):
    entries(3, keeper)
    entries(2, bench, about="shop.customer:71")

    def shown(**query) -> int:
        return keeper_client.get("/shop/journal/", query).context["page"].paginator.count

    assert shown() == 5
    assert shown(about="shop.board:7") == shown(about="shop.board") == 3
    assert shown(about="shop.customer:7") == 0, "7 is not 71"
    assert shown(person=bench.pk) == 2
    assert shown(q="entry 1") == 2
    assert shown(person="nobody", page="last\0") == 5


def test_pages_of_the_journal_keep_what_was_asked(keeper_client, keeper):
    entries(60, keeper)
    html = keeper_client.get("/shop/journal/", {"q": "Entry", "page": 2}).content.decode()
    assert "Page 2 of 3, 60 in all" in html
    assert "?q=Entry&amp;page=3" in html


def test_all_that_is_wrong_with_a_new_login_is_said_at_once(keeper_client, form_key):
    entries = {"name": "", "username": "wave-rider", "role": "bench"}
    for password, says in (("short", "too short"), ("wave rider!", "too similar to the login name")):
        sent = {**entries, "password": password, "submission_key": form_key()}
        html = keeper_client.post("/shop/staff/new/", sent).content.decode()
        assert "Name is empty" in html
        assert says in html


def test_a_new_password_is_not_like_the_persons_name(keeper, bench):
    said = refusal(lambda: staff.reset_password(signed=Signed(keeper, NOW), person=bench, password="Bench Person 1"))
    assert said == "The password is too similar to the name."
