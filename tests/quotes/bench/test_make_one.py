"""Two records of one person are made one: all that pointed to either is the one's, and papers stay as given out."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.apps import apps
from django.core.exceptions import PermissionDenied
from django.core.management import call_command
from django.db import IntegrityError
from django.urls import reverse

from quotes import bench as bench_verbs
from quotes import billing, quoting
from quotes.models import Invoice, Step, TakeIn
from shop.models import Customer, JournalEntry
from shop.people import merging
from shop.people.merging import make_one, pointing_here
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes import seed
from tests.quotes.benches import all_ticked
from tests.quotes.conftest import refusal, take_in
from tests.reading import says
from tests.shop import rows


@pytest.fixture
def kept(counter):
    return rows.customer(counter, "Niamh Ó Bric", phone="+353 20 910 0144", email="niamh@strand.example")


@pytest.fixture
def gone(job, counter, keeper):
    """Somebody with a board, a job, an invoice and a payment; who pays for another's board too; and was two before."""
    job.steps.exclude(operation=bench_verbs.RELEASE).update(state=Step.State.DONE)
    bench_verbs.finish_job(job=job, checks=all_ticked(job), signed=Signed(counter, NOW))
    invoice = billing.issue_invoice(jobs=[job], signed=Signed(counter, NOW))
    billing.pay(invoice=invoice, amount=Decimal(10), method="card", signed=Signed(counter, NOW))
    gone = invoice.customer
    tomas = rows.customer(counter, "Tomás Garvane")
    take_in(counter, brought_by=tomas, board=seed.fish(tomas), payer=gone, damages=[])
    make_one(kept=gone, gone=rows.customer(counter, "N. Bric"), signed=Signed(counter, NOW))
    return gone


def forward() -> set[tuple[type, str]]:
    """Every column of the service that holds a customer's key, found from the other side than the verb finds it."""
    return {
        (model, field.name)
        for model in apps.get_models(include_auto_created=True)
        for field in model._meta.concrete_fields
        if field.is_relation and field.remote_field.model is Customer
    }


def test_every_column_that_points_to_a_customer_is_handed_over(kept, gone, counter):
    assert set(pointing_here()) == forward()
    held = {(m, f): m._base_manager.filter(**{f: gone}).count() for m, f in forward()}
    assert all(held.values()), f"give the fixture `gone` a row of each: {held}"  # or a new one would go untested
    make_one(kept=kept, gone=gone, signed=Signed(counter, NOW))
    assert {(m, f): m._base_manager.filter(**{f: gone}).count() for m, f in forward()} == dict.fromkeys(held, 0)
    after = {(m, f): m._base_manager.filter(**{f: kept}).count() for m, f in forward()}
    assert after == {
        at: n + (at == (Customer, "merged_into")) for at, n in held.items()
    }  # and the one that goes itself


def test_papers_keep_the_name_as_issued_and_the_books_are_right(kept, gone, counter, counter_client):
    invoice = Invoice.objects.get()
    before = (invoice.frozen, bytes(invoice.document.pdf), invoice.document.sha256)
    make_one(kept=kept, gone=gone, signed=Signed(counter, NOW))
    invoice = Invoice.objects.get()
    assert (invoice.frozen, bytes(invoice.document.pdf), invoice.document.sha256) == before
    assert invoice.frozen["buyer"]["name"] == "Niamh Brennock"
    assert invoice.customer == kept
    call_command("check_books")
    for name, row in (("invoice", invoice), ("takein", TakeIn.objects.first()), ("quote", kept.quotes.get())):
        assert counter_client.get(reverse(name, args=[row.pk])).status_code == 200


def test_old_addresses_and_the_journal_lead_on(kept, gone, counter, keeper_client):
    old = rows.board(counter, gone)
    make_one(kept=kept, gone=gone, signed=Signed(counter, NOW))
    for name in ("customer", "customer-edit", "customer-same"):
        assert keeper_client.get(reverse(name, args=[gone.pk])).url == reverse(name, args=[kept.pk])
    page = says(keeper_client.get(reverse("customer", args=[kept.pk])))
    assert old.name in page
    assert "before, there was also" in page
    assert "<bdi>Niamh Brennock</bdi>, 020 910 0144" in page
    told = says(keeper_client.get(reverse("journal"), {"about": f"shop.customer:{kept.pk}"}))
    assert told.count("Added a customer") == 3  # of each of the three records
    entry = JournalEntry.objects.filter(verb="customer.merge").first()
    assert entry.details["gone"] == gone.pk
    assert "Brennock" not in entry.words + str(entry.details)
    assert [old.pk, *entry.details["moved"]["shop.board.owner"]].count(old.pk) == 2  # can be traced back


def test_the_record_that_went_is_offered_nowhere(kept, gone, counter, counter_client, form_key):
    make_one(kept=kept, gone=gone, signed=Signed(counter, NOW), name="Niamh Ó Bric")
    found = says(counter_client.get(reverse("customers"), {"q": "Brennock"}))
    assert "Nobody found" in found
    assert "Nobody found" in says(counter_client.get(reverse("takein-new"), {"q": "Brennock"}))
    page = says(counter_client.get(reverse("takein-new"), {"customer": gone.pk}))
    assert f'name="customer" value="{kept.pk}"' in page
    new = {"name": "Niamh Brennock", "kind": "private", "submission_key": form_key()}
    assert counter_client.post(reverse("customer-new"), new).status_code == 302
    assert "change that one" in str(
        refusal(lambda: rows.people.change_customer(signed=Signed(counter, NOW), customer=gone))
    )
    assert rows.board(counter, gone).owner == kept  # a page opened before
    quoting.take_in(
        brought_by=gone,
        board=seed.fish(),
        checks=seed.checked(),
        damages=[seed.rail_ding()],
        signed=Signed(counter, NOW),
    )
    assert TakeIn.objects.last().brought_by == kept


def test_what_is_kept_is_chosen_on_the_page(kept, counter, counter_client, form_key):
    other = rows.customer(
        counter, "Niamh Bric", phone="+353 20 910 0777", email="niamh@strand.example", address="3 Sea Road",
        note="Surfs left", discount_percent=Decimal(10),
    )  # fmt: skip
    rows.people.change_customer(signed=Signed(counter, NOW), customer=kept, note="Rings back")
    seen = says(counter_client.get(reverse("customer-same", args=[kept.pk])))
    where = reverse("customer-make-one", args=[kept.pk, other.pk])
    assert where in seen  # the same mail
    page = says(counter_client.get(where))
    for words in ("3 Sea Road", "Rings back<br>Surfs left", "+353 20 910 0144", "+353 20 910 0777", "10 %"):
        assert words in page
    assert 'name="email"' not in page  # they agree
    sent = {"name": "kept", "phone": "gone", "discount_percent": "gone", "submission_key": form_key()}
    assert counter_client.post(where, {**sent, "phone": "both"}).status_code == 422
    first, second = (counter_client.post(where, sent) for _ in range(2))
    assert first.url == second.url == reverse("customer", args=[kept.pk])
    kept.refresh_from_db()
    assert (kept.name, kept.phone, kept.address) == ("Niamh Ó Bric", "+353 20 910 0777", "3 Sea Road")
    assert (kept.note, kept.discount_percent) == ("Rings back\nSurfs left", 10)
    assert counter_client.get(where).url == first.url


def test_what_must_not_be_one_is_refused_with_a_sentence(kept, counter, counter_client, keeper, bench, form_key):
    walk_in = Customer.objects.create(name="Walk-in customer", walk_in=True)
    school = rows.customer(counter, "School", tax_number="IE1234567FA")
    other_school = rows.customer(counter, "School", tax_number="IE7654321GA")
    talker = rows.customer(counter, "Talker", note="x" * 1200)
    other_talker = rows.customer(counter, "Talker", note="y" * 1200)
    gone = rows.customer(counter, "Gone")
    make_one(kept=kept, gone=gone, signed=Signed(keeper, NOW))
    for one, two, words in (
        (kept, kept, "one record already"),
        (kept, walk_in, "stands for many"),
        (walk_in, kept, "stands for many"),
        (school, other_school, "different tax numbers"),
        (talker, other_talker, "longer than 2000"),
        (gone, school, "already"),
        (school, gone, "already"),
    ):
        assert words in str(refusal(lambda one=one, two=two: make_one(kept=one, gone=two, signed=Signed(counter, NOW))))
        where = reverse("customer-make-one", args=[one.pk, two.pk])
        assert words in says(counter_client.get(where))
        sent = {"name": "kept", "kind": "kept", "discount_percent": "kept", "phone": "kept", "email": "kept"}
        answer = counter_client.post(where, {**sent, "submission_key": form_key()})
        assert answer.status_code == 422
    with pytest.raises(PermissionDenied):
        make_one(kept=kept, gone=school, signed=Signed(bench, NOW))
    assert not Customer.objects.exclude(merged_into=None).exclude(pk=gone.pk).exists()


def test_the_same_tax_number_is_one_buyer_however_it_is_written(counter):
    one, two = (rows.customer(counter, "School", tax_number=number) for number in ("IE 1234567-FA", "ie1234567fa"))
    make_one(kept=one, gone=two, signed=Signed(counter, NOW))


def test_where_only_one_may_stand_it_is_said(kept, gone, counter, monkeypatch):
    """A table that can hold a person once refuses the second; nothing at all is moved then."""

    class Rows:
        def __getattr__(self, name):
            return lambda *args, **kwargs: self

        def values_list(self, *args, **kwargs):
            return [1]

        def update(self, **kwargs):
            raise IntegrityError

    class Once:
        _base_manager = Rows()
        _meta = Invoice._meta

    real = list(pointing_here())
    monkeypatch.setattr(merging, "pointing_here", lambda: [*real, (Once, "customer")])
    assert "can hold one of them only" in str(
        refusal(lambda: make_one(kept=kept, gone=gone, signed=Signed(counter, NOW)))
    )
    assert gone.invoices.count() == 1
    assert Customer.objects.get(pk=gone.pk).merged_into is None
