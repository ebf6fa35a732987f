"""What was typed while the login had run out: carried across the login, shown again, never sent by itself."""

from __future__ import annotations

import re
from html import unescape

import pytest
from django.test import Client

from shop.models import Customer
from shop.web import post_login_replay
from tests.conftest import PASSWORD

WHO = {"name": "Niamh “Ní” <b>Sé</b>", "kind": "private", "phone": "086 910 0144", "note": "leave it\nby the door"}
NEW = "/people/new/"


def hidden(html: str) -> dict[str, str]:
    """The hidden entries of a page's main part."""
    found = re.findall(r'<input type="hidden" name="([^"]*)" value="([^"]*)"', html.partition("<main")[2])
    return {unescape(name): unescape(value) for name, value in found}


@pytest.fixture
def phone(counter) -> Client:
    """Somebody at the counter whose login ran out, with the token that our pages give."""
    client = Client(enforce_csrf_checks=True)
    client.get("/login/")
    return client


def send(client: Client, path: str, entries: dict[str, str], **headers: str):
    token = client.cookies["csrftoken"].value
    return client.post(path, {**entries, "csrfmiddlewaretoken": token}, headers=headers)


def log_in(client: Client, kept: str, name: str = "counter", password: str = PASSWORD):
    return send(client, "/login/", {"username": name, "password": password, "kept": kept})


def test_what_was_typed_is_shown_again_after_the_login_and_recorded_by_one_more_tap(phone, form_key):
    key = form_key()
    answer = send(phone, NEW, {**WHO, "submission_key": key})
    assert "no-store" in answer["Cache-Control"]
    page = answer.content.decode()
    assert "You were logged out before this was recorded" in page
    assert 'action="/login/"' in page
    wrong = log_in(phone, hidden(page)["kept"], password="not the password")
    assert wrong.status_code == 422
    page = log_in(phone, hidden(wrong.content.decode())["kept"]).content.decode()
    assert f'action="{NEW}"' in page
    again = hidden(page)
    assert again["submission_key"] == key
    assert {name: again[name] for name in WHO} == WHO

    shown = send(phone, NEW, again)
    assert shown.status_code == 422
    assert [shown.context["form"][name].value() for name in WHO] == list(WHO.values())
    assert "You were logged out before this was recorded" in shown.content.decode()
    assert hidden(shown.content.decode())["submission_key"] == key
    assert post_login_replay.LOOK_AGAIN not in hidden(shown.content.decode())
    assert not Customer.objects.exists(), "showing it records nothing"

    for _ in range(2):
        assert send(phone, NEW, {**WHO, "submission_key": key}).status_code == 302
    assert Customer.objects.get().phone == WHO["phone"]


def test_a_form_from_elsewhere_is_carried_nowhere(phone, form_key):
    answer = phone.post(NEW, {**WHO, "submission_key": form_key()})
    assert answer.status_code == 403
    assert "kept" not in hidden(answer.content.decode())


def test_what_was_not_signed_here_or_too_long_ago_does_not_come_back(phone, form_key, monkeypatch):
    page = send(phone, NEW, {**WHO, "submission_key": form_key()}).content.decode()
    kept = hidden(page)["kept"]
    assert log_in(phone, kept[:-1] + ("A" if kept[-1] != "A" else "B")).url == "/"
    assert log_in(phone, "[]").url == "/"
    monkeypatch.setattr(post_login_replay, "HOW_LONG", -1)
    assert log_in(phone, kept).url == "/"


def test_whom_a_page_is_closed_to_does_not_see_it_filled(phone, bench, form_key):
    page = send(phone, NEW, {**WHO, "submission_key": form_key()}).content.decode()
    again = hidden(log_in(phone, hidden(page)["kept"], name="bench").content.decode())
    assert send(phone, NEW, again).status_code == 403


@pytest.mark.parametrize(
    ("path", "entries", "headers"),
    [
        ("/shop/staff/new/", {"username": "dara", "role": "keeper"}, {}),  # who may do what
        ("/invoice/1/payment/", {"amount": "20.00", "method": "cash"}, {}),  # money
        (NEW, {"name": "x", "new_password": "a password of ours"}, {}),
        (NEW, {"name": "x" * (post_login_replay.MOST + 1)}, {}),
        (NEW, {"save": "Save"}, {}),  # only a button
        (NEW, {"name": "x"}, {"HX-Request": "true"}),  # part of a page: a price worked out while typing
    ],
)
def test_what_must_be_typed_anew(phone, form_key, path, entries, headers):
    answer = send(phone, path, {**entries, "submission_key": form_key()}, **headers)
    assert (answer.status_code, answer.url) == (302, "/login/?next=/")
    assert send(phone, NEW, {"name": "x", "submission_key": form_key()}).status_code == 200, "another page carries"
