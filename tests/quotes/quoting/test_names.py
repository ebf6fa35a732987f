"""Names of people keep their own direction; their page and their number are one tap from what is theirs."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse

from shop.models import Role
from tests import walker
from tests.conftest import make_user
from tests.quotes import walk as _quotes  # noqa: F401
from tests.sample_shop import make_profile

TEMPLATES = Path(settings.BASE_DIR) / "templates"
NOT_SHOWN = re.compile(
    r'{% block title %}.*?{% endblock %}|[\w-]+="[^"]*"|<option.*?</option>|<caption>.*?</caption>|<bdi>.*?</bdi>'
)
A_NAME = re.compile(r"{{ (?:\w+\.)*(?:customer|brought_by|payer|owner|who_pays|buyer)\.name\b[^}]*}}")


@pytest.fixture
def rows(db):
    make_profile()
    return walker.Rows({role: make_user(role) for role in Role.values})


def test_every_name_of_a_customer_on_a_screen_stands_by_itself():
    bare = {
        str(page.relative_to(TEMPLATES)): A_NAME.findall(NOT_SHOWN.sub("", page.read_text()))
        for page in TEMPLATES.rglob("*.html")
        if "papers" not in page.parts
    }
    assert {page: names for page, names in bare.items() if names} == {}


@pytest.mark.parametrize(
    ("name", "row"), [("job", "job"), ("quote", "sent"), ("invoice", "invoice"), ("takein", "takein")]
)
def test_one_tap_to_the_customer_and_one_to_ring(name, row, client, rows):
    page = reverse(name, args=[rows[row].pk])
    person = {
        "job": lambda: rows["job"].takein.brought_by,
        "quote": lambda: rows["sent"].payer,
        "invoice": lambda: rows["invoice"].customer,
        "takein": lambda: rows["takein"].brought_by,
    }[name]()
    person.name, person.phone = "نعمة الموج", "+353 20 910 0144"
    person.save()
    client.force_login(rows.users["counter"])
    shown = client.get(page).content.decode()
    assert f'href="{reverse("customer", args=[person.pk])}"' in shown
    assert 'href="tel:+353209100144"' in shown
    assert "<bdi>نعمة الموج</bdi>" in shown


def test_the_bench_reads_the_name_and_is_not_sent_to_a_page_closed_to_it(client, rows):
    client.force_login(rows.users["bench"])
    shown = client.get(reverse("job", args=[rows["job"].pk])).content.decode()
    assert f"<bdi>{rows['job'].takein.brought_by.name}</bdi>" in shown
    assert "/people/" not in shown
    assert "tel:" not in shown
