"""What no page can use is taken out or refused at the door, with a page of ours and never with 500."""

from __future__ import annotations

import pytest
from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import reverse

from inventory.models import Material
from shop.models import Customer
from shop.web.middleware import CleanInput
from tests.conftest import PASSWORD

NUL = "\0"


def seen(request) -> dict[str, list[str]]:
    """What a page finds in the query of a request."""
    found: dict[str, list[str]] = {}

    def page(inner) -> HttpResponse:
        found.update(inner.GET.lists())
        return HttpResponse()

    CleanInput(page)(request)
    return found


def test_a_nul_in_the_query_reaches_no_page():
    request = RequestFactory().get("/store/?q=a%00b&q=c&she%00lf=%00&page=2")
    assert seen(request) == {"q": ["ab", "c"], "shelf": [""], "page": ["2"]}


@pytest.mark.parametrize(
    ("address", "name"),
    [
        ("store", "q"), ("store", "shelf"), ("shelf-labels", "shelf"), ("receive", "q"), ("place-edit", "shelf"),
        ("quick", "recipe"), ("sale", "q"), ("customers", "q"), ("quotes", "q"), ("money", "q"), ("journal", "q"),
        ("learned", "q"), ("operations", "q"), ("figures", "q"), ("recipes", "q"), ("price-list", "q"), ("takein-new", "q"), ("material-new", "shelf"),
    ],
)  # fmt: skip
def test_a_query_with_a_nul_answers_as_the_one_without(keeper_client, profile, address, name):
    """On PostgreSQL a NUL in a text is an error, on SQLite it finds nothing: with it left out both find the same."""
    Material.objects.create(key="wax", name="Wax", kind="counter", unit="piece", shelf="wax")
    Customer.objects.create(name="wax lover")
    asked = reverse(address)
    with_nul, without = (keeper_client.get(asked, {name: words}) for words in ("w\0ax", "wax"))
    assert with_nul.status_code == without.status_code < 500
    if with_nul["Content-Type"].startswith("text/html"):
        assert NUL not in with_nul.content.decode()
    if with_nul.context is not None:
        assert len(with_nul.context.get("page") or ()) == len(without.context.get("page") or ())


def test_a_search_with_a_nul_finds_what_was_meant(keeper_client, profile):
    Material.objects.create(key="wax", name="Wax bar", kind="counter", unit="piece", shelf="A1")
    assert "Wax bar" in keeper_client.get(reverse("store"), {"q": "w\0ax"}).content.decode()


def test_a_recipe_posted_with_a_nul_is_the_recipe_without(counter_client, profile):
    assert counter_client.post(reverse("quick"), {"recipe": "no\0ne"}).status_code == 404


@pytest.mark.parametrize("path", ["/t/0\x0001", "/store/\x00", "/learned/operations/fill/\x00/"])
def test_a_nul_in_the_path_is_our_page_for_400(keeper_client, path):
    answer = keeper_client.get(path.replace("\0", "%00"))
    assert answer.status_code == 400
    assert "did not understand" in answer.content.decode()


FORM, PARTS = "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"


@pytest.mark.parametrize("charset", ["utf-16", "latin-1", "utf-7", "hex", "rot13", "idna"])
@pytest.mark.parametrize("kind", [FORM, PARTS])
@pytest.mark.parametrize("name", ["login", "customer-new", "nowhere"])
def test_a_form_in_another_encoding_is_our_page_for_400(client, keeper_client, kind, charset, name):
    address = "/nowhere/" if name == "nowhere" else reverse(name)
    for visitor in (client, keeper_client):
        visitor.raise_request_exception = False
        answer = visitor.generic("POST", address, b"username=x", content_type=f"{kind}; charset={charset}")
        assert answer.status_code == 400
        assert "did not understand" in answer.content.decode()


def test_utf8_by_any_of_its_names_is_read(counter_client):
    for name in ("utf-8", "UTF8", "utf_8"):
        answer = counter_client.post(
            reverse("customer-new"), b"name=%C3%98", content_type=f"{FORM}; charset={name}", follow=True
        )
        assert answer.status_code == 422
        assert "Ø" in answer.content.decode()


@pytest.mark.parametrize(
    "asked", ["abc", "-1", "%FF", "9999-12-31", "rack", "", "//evil.example/", "javascript:x", "\\"]
)
def test_who_logs_in_for_no_page_of_ours_comes_to_the_rack(client, keeper, asked):
    sent = {"username": keeper.username, "password": PASSWORD, "next": asked}
    answer = client.post(reverse("login"), sent)
    assert (answer.status_code, answer["Location"]) == (302, reverse("rack"))
    answer = client.get(reverse("login"), {"next": asked})
    assert (answer.status_code, answer["Location"]) == (302, reverse("rack"))


def test_who_logs_in_for_a_page_comes_to_it(client, keeper):
    sent = {"username": keeper.username, "password": PASSWORD, "next": "/store/?q=wax"}
    assert client.post(reverse("login"), sent)["Location"] == "/store/?q=wax"
