"""The books after the main job: right as they are, and every way of spoiling them is found."""

from __future__ import annotations

from contextlib import chdir
from decimal import Decimal
from io import StringIO
from unittest import mock

import pytest
import time_machine
from django.core.management import call_command
from django.db import connection
from django.utils import timezone

import inventory.stock.books
from inventory.models import Lot, Material, Movement
from quotes.billing import books
from quotes.management import demo_shop, twenty
from quotes.management.commands.demo import Command as Demo
from quotes.models import Document, Invoice, InvoiceLine, Job, Payment, Quote, StepUse, Way
from shop.models import JournalEntry, NumberSeries
from tests.conftest import NOW

D = Decimal


@pytest.fixture(scope="module")
def story(kept):
    """What the sample shop's story says, with six of its twenty fins, and the folder it lays its papers in."""
    told = StringIO()
    with time_machine.travel(NOW), chdir(kept), mock.patch.object(twenty, "JOBS", 6):
        Demo(stdout=told).tell_story()
    return told.getvalue(), kept


@pytest.fixture
def demo_books(story, db, settings):
    """The sample shop after its story: what it said, and its rows."""
    told, settings.MEDIA_ROOT = story
    return told


def test_the_main_job_runs_from_a_crushed_box_to_a_paid_invoice_and_the_books_are_right(demo_books, settings):
    assert books.problems() == []
    assert inventory.stock.books.problems() == []
    job = Job.objects.get(takein__brought_by__name="Niamh Brennock")
    invoice = job.invoices.with_balance().get()
    assert (job.state, invoice.left) == (Job.State.PICKED_UP, D(0))
    assert invoice.gross == job.way.gross == invoice.prepaid + invoice.payable
    deposit, payment = job.payments.get(kind="deposit"), invoice.payments.get(kind="payment")
    assert deposit.amount + payment.amount == invoice.gross
    assert {path.name.split("-")[0] for path in (settings.MEDIA_ROOT / "out").iterdir()} == {
        "quote",
        "job",
        "invoice",
        "three",
    }
    for path in (settings.MEDIA_ROOT / "out").iterdir():
        assert path.read_bytes().startswith(b"%PDF-")
    assert JournalEntry.objects.filter(verb__contains="invoice").exists()
    assert "an hour earned" in demo_books
    assert not JournalEntry.objects.filter(at__gt=timezone.now()).exists(), "the story ends today"


def test_three_dings_wait_for_the_customer_to_choose(demo_books):
    quote = Quote.objects.get(payer__name="Eoin Strandley")
    [way] = quote.document.content["boards"][0]["ways"]
    assert [one["optional"] for one in way["repairs"]] == [True, True, True]
    assert sum(D(one["with_others"]) for one in way["repairs"]) == D(way["shown"])
    assert len(way["choices"]) == 7, "every choice of one, two or three"
    for row in way["choices"]:
        assert f": €{row['gross']}\n" in demo_books
        assert D(0) < D(row["deposit"]) < D(row["gross"])
    for one in way["repairs"]:
        assert D(one["with_others"]) < D(one["alone"]), "the visit is counted once"
        assert f"  {one['name']}: €{one['with_others']} with the others, €{one['alone']} alone\n" in demo_books
    assert quote.sent_at
    assert not Job.objects.filter(takein__brought_by__name="Eoin Strandley").exists(), "still open"


def test_what_was_really_used_left_the_shelf_and_stands_in_the_jobs_account(demo_books):
    job = Job.objects.get(takein__brought_by__name="Niamh Brennock")
    uses = [use for step in job.steps.all() for use in step.uses.filter(undone_at=None)]
    assert uses
    for use in uses:
        moved = -sum(m.quantity for m in use.movements.all() if m.kind in ("use", "return"))
        assert moved == use.used, use
    foam = Material.objects.get(key="foam-64")
    used = sum(use.used for use in StepUse.objects.filter(material=foam, undone_at=None))
    assert Material.objects.with_stock().get(pk=foam.pk).on_hand == D(2000) - used


def spoil(table, column, value, pk):
    with connection.cursor() as cursor:  # past the models, as a fault would
        cursor.execute(f'update "{table}" set "{column}" = %s where id = %s', [value, pk])


def test_spoilt_rows_are_found_and_named(demo_books, tmp_path):
    invoice = Invoice.objects.order_by("pk").first()
    line = invoice.lines.first()
    paper = Document.objects.filter(kind="quote").first()
    way = Way.objects.exclude(net=None).filter(board__quote__sent_at__isnull=False).first()
    lot = Lot.objects.left().filter(movements__kind="use").first()
    cases = [
        (Invoice, invoice.pk, "tax", invoice.tax + D("0.01"), "tax is kept as"),
        (InvoiceLine, line.pk, "amount", line.amount + D("1"), "quantity times price"),
        (Document, paper.pk, "sha256", "0" * 64, "another hash"),
        (Way, way.pk, "gross", way.gross + D("5"), "gross is kept as"),
        (NumberSeries, NumberSeries.objects.get(key="invoice").pk, "next_number", 999, "would go on with 999"),
        (Payment, Payment.objects.order_by("pk").first().pk, "sequence", 4711, "gaps"),
        (Lot, lot.pk, "quantity_left", lot.quantity_left + D(1), lot.material.name),
        (Movement, lot.movements.filter(kind="use").first().pk, "quantity", D(-1), lot.material.name),
    ]
    for model, pk, column, wrong, sentence in cases:
        field = model._meta.get_field(column)
        right = field.get_db_prep_value(getattr(model.objects.get(pk=pk), column), connection)
        spoil(model._meta.db_table, column, field.get_db_prep_value(wrong, connection), pk)
        found = [*books.problems(), *inventory.stock.books.problems()]
        assert any(sentence in one for one in found), (model, column, found)
        said = StringIO()
        with pytest.raises(SystemExit) as exit_:
            call_command("check_books", stdout=said)
        assert exit_.value.code == 1
        spoil(model._meta.db_table, column, right, pk)
    said = StringIO()
    call_command("check_books", stdout=said)
    assert "nothing found" in said.getvalue()


def test_the_sample_logins_are_one_of_each_role():
    assert sorted(role for _, role in demo_shop.LOGINS.values()) == ["bench", "counter", "keeper"]
