"""Tax that holds over chains of papers: by hand, by a double-entry auditor in any order, and with mistakes planted."""

from __future__ import annotations

import importlib
from contextlib import suppress
from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.apps import apps
from django.core.management import call_command
from django.db import connection, transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from quotes import bench as b
from quotes.billing import books
from quotes.models import Document, Invoice, Job, Payment, TaxPoint
from quotes.papers import invoice as invoice_paper
from quotes.papers import keeping
from quotes.papers import receipt as receipt_paper
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW
from tests.quotes import seed
from tests.quotes.billing.auditor import audited
from tests.quotes.billing.test_billing import LATER, deposit, finished, issue, pay, priced
from tests.quotes.billing.test_paying_back import ACTS, act, all_goes_back, back, credit
from tests.quotes.conftest import open_shop
from tests.reading import says

D = Decimal


def tax_of(**of) -> Decimal:
    return sum((point.tax for point in TaxPoint.objects.filter(**of)), D(0))


def taxes(paper: Invoice | Payment) -> list[tuple[str, Decimal]]:
    return [(point.cause, point.tax) for point in paper.tax_points.all()]


def with_a_deposit() -> dict:
    """A finished job of 467.00 of which 140.00 was taken, with 16.65 of tax in it."""
    made = open_shop()
    job = priced(made["counter"], made["versions"], "467.00")
    deposit(job, "140.00", made["counter"])
    return {**made, "deposited": finished(job, made["bench"])}


@pytest.fixture
def deposited(begun) -> Job:
    return begun("deposited")


BEGINS = {"deposited": with_a_deposit, "versions": open_shop}
pytestmark = pytest.mark.usefixtures("standing")


# By hand. 467.00 holds 467 × 13.5 / 113.5 = 55.55 (55.546); 140.00 holds 16.65 (16.652); 55.55 - 16.65 = 38.90.
# On receipt of a payment on account tax is due on it: Directive 2006/112/EC, article 65.


def test_a_credit_and_a_new_invoice_keep_the_tax_of_the_deposit(deposited, counter):
    assert taxes(Payment.objects.get()) == [("deposit", D("16.65"))]
    invoice = issue(deposited, by=counter)
    assert taxes(invoice) == [("sale", D("38.90"))]
    pay(invoice, "327.00", counter)
    note = credit(invoice, counter)
    assert (note.tax, taxes(note)) == (D("-55.55"), [("credit", D("-38.90"))])
    assert tax_of() == D("16.65"), "the deposit is held"
    anew = issue(deposited, by=counter)
    assert (taxes(anew), tax_of()) == ([("sale", D("38.90"))], D("55.55"))
    assert books.problems() == []
    said = invoice_paper.context(note.frozen)["advance"]
    assert said == {"taken": "16.65", "left": "38.90", "back": False}


def test_a_credit_note_says_what_stays_with_the_deposit(deposited, counter, run):
    note = credit(issue(deposited, by=counter), counter)
    text = " ".join(run(bytes(note.document.pdf), "pdftotext").split())
    assert "Of the VAT, €16.65 stays accounted for with the deposit; €38.90 is taken back with this note." in text


def test_a_deposit_that_is_paid_back_takes_its_tax_back(versions, counter, run):
    # 100.00 holds 11.89 (11.894); of 60.00 that stay held 7.14 (7.137), of 40.00 that go 4.76 (4.758): 11.89 - 4.76.
    job = priced(counter, versions, "300.00")
    deposit(job, "100.00", counter)
    b.stop_job(job=job, amount=D(0), how="by phone", signed=Signed(counter, LATER))
    first = back(counter, "40.00", job=job)
    assert (taxes(first), tax_of()) == ([("back", D("-4.76"))], D("7.13"))
    assert books.problems() == []
    last = back(counter, "60.00", job=job)
    assert (taxes(last), tax_of()) == ([("back", D("-7.13"))], 0)
    assert tax_of(category="S", percent=D("13.5")) == 0
    shown = receipt_paper.context(last.frozen)
    assert [(row["net"], row["tax"]) for row in shown["tax_rows"]] == [(D("52.87"), D("7.13"))]
    assert "VAT taken back with the deposit" in " ".join(run(bytes(last.document.pdf), "pdftotext").split())
    assert books.problems() == []


def test_a_stop_below_the_deposit_gives_its_tax_back_with_the_invoice_and_says_so(versions, counter, run):
    # 40.00 holds 4.76, the deposit 11.89: 7.13 goes back with the invoice, nothing with the money.
    job = priced(counter, versions, "300.00")
    deposit(job, "100.00", counter)
    b.stop_job(job=job, amount=D(40), how="by phone", signed=Signed(counter, LATER))
    invoice = issue(job, by=counter)
    assert taxes(invoice) == [("sale", D("-7.13"))]
    text = " ".join(run(bytes(invoice.document.pdf), "pdftotext").split())
    assert "VAT of €11.89 was accounted for with the deposit; €7.13 of it is given back with this invoice." in text
    assert taxes(back(counter, "60.00", invoice=invoice)) == []
    note = credit(invoice, counter)
    assert taxes(note) == [("credit", D("7.13")), ("back", D("-7.14"))], "60.00 is gone, with 7.14 (7.137)"
    assert (tax_of(), note.frozen["advance_tax"]) == (D("4.75"), "4.75")
    assert taxes(issue(job, by=counter)) == [("sale", D("0.01"))]
    assert books.problems() == []


def test_money_that_was_not_taxed_goes_back_first(deposited, counter):
    invoice = issue(deposited, by=counter)
    pay(invoice, "327.00", counter)
    credit(invoice, counter)
    b.charge_nothing(job=deposited, reason="it did not hold", signed=Signed(counter, LATER))
    assert taxes(back(counter, "327.00", job=deposited)) == []
    assert taxes(back(counter, "140.00", job=deposited)) == [("back", D("-16.65"))]


def test_a_part_credit_and_the_rest_over_two_rates(versions, counter, bench):
    # 300.00 at 13.5 % holds 35.68, 60.00 at 23 % 11.22. A deposit of 120.00: 100.00 and 20.00, holding 11.89 and 3.74.
    job = priced(counter, versions, "360.00", lines=(("Fin set", "60.00", "23"),))
    deposit(job, "120.00", counter)
    invoice = issue(finished(job, bench), by=counter)
    assert taxes(invoice) == [("sale", D("7.48")), ("sale", D("23.79"))]
    credit(invoice, counter, {2: D("60.00")})
    credit(invoice, counter)
    assert [tax_of(percent=D(rate)) for rate in ("23", "13.5")] == [D("3.74"), D("11.89")]
    assert books.problems() == []


def test_a_tax_point_is_never_changed(deposited):
    point = TaxPoint.objects.get()
    for change in (point.save, point.delete):
        with pytest.raises(TypeError):
            change()


# Planted mistakes


def as_before(paper: Invoice | Payment, points: list[tuple[str, str, str, str]] = (), **frozen) -> None:
    """The paper as it was made before it said what it accounts for, with these points: ground, net, tax, gross."""
    said = {key: value for key, value in paper.frozen.items() if key != "tax_points"} | frozen
    type(paper).objects.filter(pk=paper.pk).update(frozen=said)
    Document.objects.filter(pk=paper.document_id).update(content=said)
    first = TaxPoint.objects.order_by("pk").first()
    TaxPoint.objects.filter(**{f"{type(paper).__name__.lower()}": paper}).delete()
    of = {"payment": paper} if isinstance(paper, Payment) else {"invoice": paper}
    for cause, net, tax, gross in points:
        TaxPoint.objects.create(
            **of, cause=cause, day=paper.frozen["issued_on"], tax_word="VAT", category="S", percent=first.percent,
            net=D(net), tax=D(tax), gross=D(gross),
        )  # fmt: skip


def checked() -> tuple[int, str]:
    out = StringIO()
    try:
        call_command("check_books", stdout=out)
    except SystemExit as end:
        return int(end.code or 0), out.getvalue()
    return 0, out.getvalue()


def test_a_credit_note_that_loses_the_deposits_tax_is_found(deposited, counter):
    note = credit(issue(deposited, by=counter), counter)
    as_before(note, [("credit", "-411.45", "-55.55", "-467.00")])
    code, said = checked()
    assert code == 1
    assert f"{note.corrects}, with its deposits and credit notes, accounts for 16.65 too little VAT at 13.5 %." in said


def test_a_deposit_paid_back_with_its_tax_kept_is_found(versions, counter):
    job = priced(counter, versions, "300.00")
    deposit(job, "100.00", counter)
    b.stop_job(job=job, amount=D(0), how="by phone", signed=Signed(counter, LATER))
    as_before(back(counter, "100.00", job=job))
    code, said = checked()
    assert (code, f"{job}: tax stands for 100.00 of deposits, and 0.00 is held." in said) == (1, True)


def test_a_point_that_is_missing_or_another_is_found(deposited, counter):
    invoice = issue(deposited, by=counter)
    for wrong in ({"tax": D("38.89"), "net": D("288.11")}, {"cause": "credit"}, {"day": NOW - timedelta(days=400)}):
        point = TaxPoint.objects.get(invoice=invoice)
        TaxPoint.objects.filter(pk=point.pk).update(**wrong)
        assert any("its tax points are kept" in said for said in books.problems()), wrong
        TaxPoint.objects.filter(pk=point.pk).update(**{name: getattr(point, name) for name in wrong})
    assert books.problems() == []
    TaxPoint.objects.filter(invoice=invoice).delete()
    assert any("its tax points are kept" in said for said in books.problems())


# Papers of before


def again(*, said: bool) -> list[tuple]:
    """The points as the migration derives them, from papers that say them or from papers of before."""
    for paper in () if said else (*Invoice.objects.all(), *Payment.objects.all()):
        frozen = {key: value for key, value in paper.frozen.items() if key != "tax_points"}
        if frozen["document"] == "receipt":
            frozen["advance"] = {"tax_rows": frozen["tax_rows"]} if paper.kind == "deposit" else None
        type(paper).objects.filter(pk=paper.pk).update(frozen=frozen)
        Document.objects.filter(pk=paper.document_id).update(content=frozen)
    TaxPoint.objects.all().delete()
    importlib.import_module("quotes.migrations.0003_tax_points").derive(apps, connection.schema_editor())
    return points()


def points() -> list[tuple]:
    names = ("invoice", "payment", "job", "day", "cause", "tax_word", "category", "percent", "net", "tax", "gross")
    return sorted(TaxPoint.objects.values_list(*names), key=str)


def test_going_back_and_forth_gives_the_same_points(deposited, counter):
    invoice = issue(deposited, by=counter)
    back_and_on = [credit(invoice, counter), issue(deposited, by=counter)]
    assert len(back_and_on) == 2
    before = points()
    assert again(said=True) == before
    assert not TaxPoint.objects.filter(derived=True).exists()


def test_a_chain_of_before_that_was_wrong_is_said_and_not_changed(deposited, counter, keeper_client):
    credit(issue(deposited, by=counter), counter)
    again(said=False)
    assert tax_of(cause="credit") == D("-55.55")
    code, said = checked()
    assert (code, "too little VAT at 13.5 %" in said, books.problems()) == (0, True, [])
    assert "accounts for 16.65 too little VAT at 13.5 %" in says(keeper_client.get("/money/"))


# Any order of acts, over two rates


@pytest.fixture
def three_jobs(versions, counter, bench, monkeypatch) -> list[Job]:
    """Two finished boards of 467.00 and 227.00, one on the bench of 360.00, two rates on the first and the last."""
    monkeypatch.setattr(keeping, "made", lambda setter, content: b"%PDF-" + content["number"].encode())
    owner = seed.customer("Old Harbour Surf School")
    owner.save()
    fins = (("Fin set", "60.00", "23"),)
    done = [
        finished(priced(counter, versions, "467.00", customer=owner, lines=fins), bench),
        finished(priced(counter, versions, "227.00", customer=owner), bench),
    ]
    return [*done, priced(counter, versions, "360.00", customer=owner, lines=fins)]


def one(what: str, which: int, amount: str, jobs: list[Job], by) -> None:
    """An act as of the tests of paying back, or the third board is stopped."""
    if what == "go":  # boards that are gone take no part in what follows
        b.stop_job(job=Job.objects.get(pk=jobs[2].pk), amount=D(amount), how="by phone", signed=Signed(by, LATER))
    else:
        act(what, which, amount, jobs[:2] if which < 3 else [jobs[2], jobs[0]], by)


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(acts=st.lists(ACTS, min_size=5, max_size=14))
def test_in_any_order_the_auditor_and_the_tax_points_agree_and_all_comes_to_nothing(three_jobs, counter, acts):
    with transaction.atomic():
        for what, which, amount in acts:
            with suppress(Refused), transaction.atomic():
                one(what, which, amount, three_jobs, counter)
        found = audited().accounts
        assert D(-found["tax"]).scaleb(-2) == tax_of(), acts
        assert D(found["customer"]).scaleb(-2) == sum(each.left for each in Invoice.objects.standing()), acts
        assert found["clearing"] >= 0, acts
        assert books.problems() == [], acts
        with suppress(Refused):
            b.stop_job(job=three_jobs[2], amount=D(0), how="by phone", signed=Signed(counter, LATER))
        all_goes_back(three_jobs, counter)
        assert {name: left for name, left in audited().accounts.items() if left} == {}, acts
        assert [tax_of(percent=D(rate)) for rate in ("13.5", "23")] == [0, 0]
        assert books.problems() == [], acts
        transaction.set_rollback(True)
