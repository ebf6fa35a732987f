"""Pages made from one act: to whom they open, what they show, that they do it once, and what they say."""

from __future__ import annotations

import pytest
from django.contrib.messages import get_messages
from django.urls import path, reverse

from inventory.forms.materials import SupplierForm
from inventory.models import Supplier
from shop import urls
from shop.forms.fields import MeasureField, ShedForm
from shop.models import JournalEntry, Role
from shop.platform.acts import SEES_MONEY, Refused, Signed, action
from shop.web.page import Shown, act_page, button, sent
from shop.web.request import ShopRequest

pytestmark = pytest.mark.urls(__name__)


class NameForm(SupplierForm):
    def entries(self) -> dict[str, str]:
        return {"name": self.cleaned_data["name"]}


@action("supplier.rename", *SEES_MONEY)
def rename(*, supplier: Supplier, name: str, signed: Signed) -> Supplier:
    if name == supplier.name:
        raise Refused("That is its name already.", field="name")
    supplier.name = name
    supplier.save()
    signed.record(supplier, f"Renamed {supplier}")
    return supplier


@action("supplier.close", Role.KEEPER)
def close(*, supplier: Supplier, signed: Signed) -> None:
    if supplier.note:
        raise Refused("It is closed already.")
    supplier.note = "closed"
    supplier.save()
    signed.record(supplier, f"Closed {supplier}")


@action("supplier.count", *SEES_MONEY)
def count_suppliers(*, signed: Signed) -> int:
    return Supplier.objects.count()


def to_renamed(supplier: Supplier) -> str:
    return reverse("renamed", args=[supplier.pk])


@act_page(
    rename, "inventory/supplier_form.html", rows=Supplier, called="supplier",
    to=to_renamed, says=lambda supplier: f"It is {supplier.name} now.",
)  # fmt: skip
def renamed(request: ShopRequest, supplier: Supplier) -> Shown:
    """Another name."""
    return {"form": NameForm(sent(request), shop=request.shop, supplier=supplier), "more": "than the form"}


closed = button(close, rows=Supplier, called="supplier", to="suppliers", says="Closed.")
counted = button(count_suppliers, to="suppliers", says=lambda many: f"There are {many}.")

urlpatterns = [
    path("test/<int:supplier>/rename/", renamed, name="renamed"),
    path("test/<int:pk>/close/", closed, name="closed"),
    path("test/count/", counted, name="counted"),
    *urls.urlpatterns,
]


@pytest.fixture
def supplier(db) -> Supplier:
    return Supplier.objects.create(name="Slipway Supplies")


def said(answer) -> list[str]:
    return [str(one) for one in get_messages(answer.wsgi_request)]


def entries(name: str, key: str) -> dict[str, str]:
    return {"name": name, "lead_days": "7", "submission_key": key}


def test_a_page_opens_to_the_roles_of_its_act_and_keeps_its_name(supplier, bench_client, counter_client):
    assert (renamed.open_to, closed.open_to) == (SEES_MONEY, (Role.KEEPER,))
    assert (renamed.__name__, renamed.__doc__) == ("renamed", "Another name.")
    assert bench_client.get(to_renamed(supplier)).status_code == 403
    assert counter_client.get(reverse("closed", args=[supplier.pk])).status_code == 403


def test_a_page_shows_its_form_and_its_row(supplier, counter_client):
    answer = counter_client.get(to_renamed(supplier))
    assert answer.status_code == 200
    assert (answer.context["supplier"], answer.context["more"]) == (supplier, "than the form")
    assert answer.context["form"]["name"].value() == "Slipway Supplies"


def test_what_is_sent_is_done_once_said_once_and_leads_on(supplier, counter_client, form_key):
    typed = entries("Tideline Trade", form_key())
    first, again = (counter_client.post(to_renamed(supplier), typed) for _ in range(2))
    assert {answer.url for answer in (first, again)} == {to_renamed(supplier)}
    assert JournalEntry.objects.filter(verb="supplier.rename").count() == 1
    page = counter_client.get(to_renamed(supplier))
    assert [str(one) for one in page.context["messages"]] == ["It is Tideline Trade now."]


def test_a_refusal_stands_beside_its_field_and_nothing_is_said(supplier, counter_client, form_key):
    answer = counter_client.post(to_renamed(supplier), entries("Slipway Supplies", form_key()))
    assert answer.status_code == 422
    assert answer.context["form"].errors == {"name": ["That is its name already."]}
    assert said(answer) == []
    assert not JournalEntry.objects.exists()


@pytest.mark.parametrize("name", ["renamed", "closed"])
@pytest.mark.parametrize("method", ["get", "post"])
def test_a_row_that_is_not_there_is_not_found(name, method, keeper_client):
    assert getattr(keeper_client, method)(reverse(name, args=[404])).status_code == 404


def test_a_button_does_it_once_says_so_and_leads_on(supplier, keeper_client, form_key):
    where, key = reverse("closed", args=[supplier.pk]), {"submission_key": form_key()}
    first, again = (keeper_client.post(where, key) for _ in range(2))
    assert (first.url, again.url) == (reverse("suppliers"), reverse("suppliers"))
    assert JournalEntry.objects.filter(verb="supplier.close").count() == 1
    page = keeper_client.get(reverse("suppliers"))
    assert [str(one) for one in page.context["messages"]] == ["Closed."]


def test_a_button_that_is_only_looked_at_does_nothing(supplier, keeper_client):
    answer = keeper_client.get(reverse("closed", args=[supplier.pk]))
    assert (answer.status_code, answer.url) == (302, reverse("suppliers"))
    assert not JournalEntry.objects.exists()


def test_a_refused_button_is_said_where_it_leads(supplier, keeper_client, form_key):
    where = reverse("closed", args=[supplier.pk])
    keeper_client.post(where, {"submission_key": form_key()})
    keeper_client.get(reverse("suppliers"))
    answer = keeper_client.post(where, {"submission_key": form_key()})
    assert (answer.url, said(answer)) == (reverse("suppliers"), ["It is closed already."])


def test_a_button_may_be_about_no_row(supplier, counter_client, form_key):
    answer = counter_client.post(reverse("counted"), {"submission_key": form_key()})
    assert (answer.url, said(answer)) == (reverse("suppliers"), ["There are 1."])


class WarmForm(ShedForm):
    warm = MeasureField(dimension="temperature", unit="degC", high=40)


def test_a_tick_box_that_takes_an_odd_value_is_no_entry_of_the_act():
    form = WarmForm({"warm": "50", "odd_warm": "on"})
    assert form.is_valid()
    assert form.entries() == {"warm": 50}
