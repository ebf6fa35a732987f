"""Somebody who was here before is offered where a new person is typed, and never made a second time unasked."""

from __future__ import annotations

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from quotes.models import TakeIn
from shop.models import Board, Customer, JournalEntry
from tests.quotes.quoting.test_takein_pages import entries as takein_entries
from tests.shop import rows


@pytest.fixture
def niamh(counter):
    return rows.customer(counter, "Niamh Dáil", phone="+353 20 910 0144", email="niamh@strand.example")


def new(client, form_key, **typed):
    own = {"name": "Somebody", "kind": "private", "submission_key": form_key()}
    return client.post(reverse("customer-new"), {**own, **typed})


SEEN_AS_KNOWN = [
    {"name": "Niamh Dáil", "phone": "020 910 0144"},
    {"name": "niamh dail", "phone": "00353 (0)20 910-0144"},
    {"name": "Niamh", "phone": "020 910 0144"},  # a short name, the same phone
    {"name": "N. Dáil", "email": "NIAMH@strand.example"},
    {"name": "Niamh Dáil"},  # no phone to tell them apart by
]
SEEN_AS_NEW = [
    {"name": "Niamh Dáil", "phone": "020 910 0145"},
    {"name": "Niamh Dáil", "phone": "+44 20 910 0144"},
    {"name": "Tomás Dáil", "email": "tomas@strand.example"},
    {"name": "Tomás"},
]


@pytest.mark.parametrize("typed", SEEN_AS_KNOWN)
def test_who_is_known_is_offered_beside_what_was_typed(counter_client, niamh, form_key, typed):
    answer = new(counter_client, form_key, **typed)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "This may be Niamh Dáil, +353 20 910 0144: choose, then send it again." in page
    assert "Use Niamh Dáil, +353 20 910 0144, 0 boards" in page
    assert all(f'value="{value}"' in page for value in typed.values())
    assert Customer.objects.count() == 1


@pytest.mark.parametrize("typed", SEEN_AS_NEW)
def test_who_is_somebody_else_is_not_asked_about(counter_client, niamh, form_key, typed):
    assert new(counter_client, form_key, **typed).status_code == 302
    assert Customer.objects.count() == 2


def test_the_known_person_is_used_and_what_was_missing_filled_in(counter_client, niamh, form_key):
    typed = {"name": "Niamh", "phone": "020 910 0144", "address": "3 Sea Road", "email": "other@strand.example"}
    answer = new(counter_client, form_key, **typed, known=str(niamh.pk))
    assert answer.url == reverse("customer", args=[niamh.pk])
    page = counter_client.get(answer.url).content.decode()
    assert "Filled in from what you typed: address." in page
    assert "Not taken, since something else stands there: name “Niamh”, email “other@strand.example”." in page
    niamh.refresh_from_db()
    assert (niamh.name, niamh.phone, niamh.address) == ("Niamh Dáil", "+353 20 910 0144", "3 Sea Road")
    assert Customer.objects.count() == 1
    assert JournalEntry.objects.first().details == {"changed": ["address"]}


def test_a_new_person_may_have_the_same_phone(counter_client, niamh, form_key):
    typed = {"name": "Tomás Dáil", "phone": "020 910 0144"}
    assert new(counter_client, form_key, **typed, known="new").status_code == 302
    assert Customer.objects.filter(name="Tomás Dáil").exists()


@pytest.mark.parametrize("known", ["999999", "x", "", "<b>"])
def test_nobody_else_can_be_chosen(counter_client, niamh, form_key, known):
    assert new(counter_client, form_key, name="N", phone="020 910 0144", known=known).status_code == 422
    assert Customer.objects.count() == 1


def test_a_double_tap_is_not_asked_about_itself(counter_client, niamh, form_key):
    typed = {"name": "Tomás", "phone": "020 910 0777", "submission_key": form_key()}
    first, second = (new(counter_client, form_key, **typed) for _ in range(2))
    assert first.url == second.url
    assert Customer.objects.count() == 2


def test_who_stands_for_people_without_a_name_is_never_offered(counter_client, counter, form_key):
    Customer.objects.create(name="Walk-in customer", walk_in=True)
    assert new(counter_client, form_key, name="Walk-in customer").status_code == 302


def test_the_offer_asks_the_database_as_often_for_many_as_for_few(counter_client, counter, form_key):
    def asked() -> int:
        with CaptureQueriesContext(connection) as seen:
            assert new(counter_client, form_key, name="Niamh", phone="020 910 0144").status_code == 422
        return len(seen)

    rows.customer(counter, "One", phone="020 910 0144")
    few = asked()
    for number in range(30):
        rows.customer(counter, f"Niamh {number}", phone="+353 20 9100144")
    assert asked() == few


# --- at take-in -------------------------------------------------------------------------------------------------------


def take_in(client, form_key, **typed):
    return client.post(reverse("takein-new"), takein_entries(form_key, **typed))


def test_take_in_offers_who_is_known_and_keeps_the_page(counter_client, niamh, form_key):
    answer = take_in(counter_client, form_key, who_name="Niamh", who_phone="0209100144", wants="Watertight")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Use Niamh Dáil, +353 20 910 0144, 0 boards" in page
    assert 'href="#id_known_0"' in page
    for typed in ("Niamh", "0209100144", "118 mm", "5′6″ fish"):
        assert f'value="{typed}"' in page
    assert "Watertight" in page
    assert not TakeIn.objects.exists()
    assert Customer.objects.count() == 1


def test_take_in_uses_the_known_person(counter_client, niamh, form_key):
    take_in(counter_client, form_key, who_name="Niamh", who_phone="0209100144", known=str(niamh.pk))
    assert TakeIn.objects.get().brought_by == Board.objects.get().owner == niamh
    assert Customer.objects.count() == 1


def test_take_in_makes_a_new_person_when_told(counter_client, niamh, form_key):
    take_in(counter_client, form_key, who_name="Tomás", who_phone="0209100144", known="new")
    assert TakeIn.objects.get().brought_by.name == "Tomás"


def test_a_double_tap_at_take_in_is_not_asked_about_itself(counter_client, profile, form_key):
    typed = takein_entries(form_key)
    first, second = (counter_client.post(reverse("takein-new"), typed) for _ in range(2))
    assert first.url == second.url
    assert TakeIn.objects.count() == Customer.objects.count() == 1
