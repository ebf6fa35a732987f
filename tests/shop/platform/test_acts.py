"""One shape for every act: who may, one transaction, rows that are checked, an entry in the journal under its key."""

from __future__ import annotations

import importlib
import pkgutil
import re
from collections.abc import Iterator
from typing import Any

import pytest
from django.apps import apps
from django.core.exceptions import ImproperlyConfigured, PermissionDenied, ValidationError

import inventory
import quotes
import shop
from inventory.models import Material, Supplier
from shop.models import JournalEntry, Role, Row
from shop.platform.acts import Refused, Signed, action
from tests.conftest import NOW, TODAY

KEY = re.compile(r"[a-z_]+\.[a-z_]+")
NOT_CHECKED = {"Submission", "User"}  # the first is written in two steps, the second checked by Django's own manager


@action("supplier.test", Role.KEEPER)
def add_supplier(*, name: str, signed: Signed, fails: bool = False) -> Supplier:
    row = Supplier.objects.create(name=name)
    signed.record(row, f"Added {row}")
    if fails:
        raise Refused("Not today.")
    return row


def acts() -> Iterator[Any]:
    """Every act of the house, found where it is defined."""
    for package in (shop, inventory, quotes):
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if ".migrations" in module.name or module.name.endswith((".settings", ".wsgi")):
                continue
            found = vars(importlib.import_module(module.name)).values()
            yield from (one for one in found if hasattr(one, "roles") and one.__module__ == module.name)


def test_an_act_is_done_by_who_may_and_written_down_once(keeper):
    row = add_supplier(name="Slipway Supplies", signed=Signed(keeper, NOW))
    entry = JournalEntry.objects.get()
    assert (entry.verb, entry.by, entry.at, entry.words) == ("supplier.test", keeper, NOW, "Added Slipway Supplies")
    assert entry.about == f"inventory.supplier:{row.pk}"


def test_nobody_else_may(bench):
    with pytest.raises(PermissionDenied, match="ask the keeper"):
        add_supplier(name="Slipway Supplies", signed=Signed(bench, NOW))
    assert not Supplier.objects.exists()


def test_an_act_that_says_no_leaves_nothing(keeper):
    with pytest.raises(Refused):
        add_supplier(name="Slipway Supplies", signed=Signed(keeper, NOW), fails=True)
    assert not Supplier.objects.exists()
    assert not JournalEntry.objects.exists()


def test_an_act_without_roles_or_without_somebody_is_a_mistake_found_at_once():
    with pytest.raises(ImproperlyConfigured, match="roles"):
        action("supplier.test")(add_supplier)
    with pytest.raises(ImproperlyConfigured, match="signed"):
        action("supplier.test", Role.KEEPER)(lambda name: name)


def test_every_act_of_the_house_has_its_key_and_its_roles():
    found = list(acts())
    assert len(found) > 120
    assert [one.__name__ for one in found if not KEY.fullmatch(one.key) or not set(one.roles) <= set(Role.values)] == []


def test_the_shop_is_read_once_for_an_act_and_all_within_it(profile, keeper, django_assert_num_queries):
    signed = Signed(keeper, NOW)
    with django_assert_num_queries(1):
        assert signed.day == TODAY
        assert signed.for_act("another.act").shop == profile


def test_every_model_of_the_house_is_checked_as_it_is_saved():
    own = [model for name in ("shop", "inventory", "quotes") for model in apps.get_app_config(name).get_models()]
    assert {model.__name__ for model in own if not issubclass(model, Row)} == NOT_CHECKED


@pytest.mark.parametrize(
    ("wrong", "words"),
    [({"name": ""}, "blank"), ({"name": "x" * 500}, "at most"), ({"unit": "cup"}, "not a valid choice")],
)
def test_what_a_field_cannot_hold_is_not_stored_even_without_a_form(db, wrong, words):
    facts = {"key": "resin", "name": "Laminating resin", "kind": "resin", "unit": "g", "shelf": "A1", **wrong}
    with pytest.raises(ValidationError, match=words):
        Material.objects.create(**facts)
    assert not Material.objects.exists()


def test_only_what_is_written_is_checked(db):
    row = Material.objects.create(key="resin", name="Laminating resin", kind="resin", unit="g", shelf="A1")
    row.name, row.shelf = "", "A2"
    row.save(update_fields=["shelf"])
    row.refresh_from_db()
    assert (row.name, row.shelf) == ("Laminating resin", "A2")
