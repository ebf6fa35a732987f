"""Deposits, invoices, payments, credit notes: every amount worked out by hand here, every number given once."""

from __future__ import annotations

import threading
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connections

from quotes import bench as b
from quotes import billing, quoting
from quotes.billing import books
from quotes.experience.rows import done_steps
from quotes.models import BenchHours, Document, Extra, Invoice, Job, Payment, Step, StepTime
from quotes.papers import invoice as invoice_paper
from quotes.papers import receipt as receipt_paper
from shop.models import NumberSeries, Profile, TaxRate
from shop.papers.paper import PaperProblem, fingerprint
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.benches import RAIL_DING, all_ticked, step_of
from tests.quotes.conftest import refusal, take_in

D = Decimal
LATER = NOW + timedelta(days=9)
MONEY = {"method": "card"}


def priced(
    counter, versions, price: str, *, lines: tuple[tuple[str, str, str], ...] = (), customer=None, **more
) -> Job:
    """A small rail ding agreed at a price by hand, with lines by hand: words, price, per cent of tax."""
    takein = take_in(counter, brought_by=customer or seed.customer(), board=seed.fish(), damages=[], **more)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, NOW), title="Rail ding",
    )  # fmt: skip
    for words, amount, percent in lines:
        quoting.add_line(way=way, words=words, price=D(amount), tax_percent=D(percent), signed=Signed(counter, NOW))
    way.refresh_from_db()
    way = quoting.edit_way(
        way=way,
        signed=Signed(counter, NOW),
        title="Rail ding",
        price_by_hand=D(price),
        price_reason="test",
        below_cost=True,
    )
    return b.accept_way(way=way, signed=Signed(counter, NOW), how="at the counter", spoken=True)


def finished(job: Job, by, at=LATER) -> Job:
    """Ready to collect without going through the steps, whose cost does not matter here."""
    job.steps.exclude(operation=b.RELEASE).update(state=Step.State.DONE)
    return b.finish_job(job=job, checks=all_ticked(job), signed=Signed(by, at))


def issue(*jobs: Job, by, at=LATER) -> Invoice:
    return billing.issue_invoice(jobs=list(jobs), signed=Signed(by, at))


def pay(invoice, amount: str, by, at=LATER, **more) -> Payment:
    return billing.pay(invoice=invoice, amount=D(amount), signed=Signed(by, at), **{**MONEY, **more})


def deposit(job, amount: str, by, at=NOW) -> Payment:
    return billing.take_deposit(job=job, amount=D(amount), signed=Signed(by, at), **MONEY)


@pytest.fixture
def net_prices(profile):
    """A shop whose prices go without tax, repairs at 23 %."""
    Profile.objects.update(prices_include_tax=False)
    TaxRate.objects.filter(for_repairs=True).update(percent=D(23))


# Prices with tax in them: the gross is the master


def test_an_invoice_takes_its_tax_out_of_the_price_and_the_deposit_off_at_the_end(versions, counter, bench):
    # 485.00 with 13.5 % in it: 485 × 13.5 / 113.5 = 57.687 -> 57.69; 485.00 - 57.69 = 427.31; 485 - 150 = 335.
    # Order of EN 16931: tax on the whole, then what is prepaid comes off.
    job = priced(counter, versions, "485.00")
    deposit(job, "150.00", counter)
    invoice = issue(finished(job, bench), by=counter)
    assert (invoice.net, invoice.tax, invoice.gross) == (D("427.31"), D("57.69"), D("485.00"))
    assert (invoice.prepaid, invoice.payable, billing.balance(invoice)) == (150, 335, 335)
    line = invoice.lines.get()
    assert (line.words, line.amount, line.tax_percent) == ("Rail ding, 5′6″ fish", 485, D("13.5"))
    assert invoice.number == f"{LATER.year}-0001"
    assert invoice.issued_on == TODAY + timedelta(days=9)


def test_two_rates_are_taxed_each_on_their_sum(versions, counter, bench):
    # Work 300.00 at 13.5 %: 300 × 13.5 / 113.5 = 35.683 -> 35.68. Fins 2 lines, 40.00 + 20.00 at 23 % on the sum:
    # 60 × 23 / 123 = 11.2195 -> 11.22. Tax 46.90, net 313.10, gross 360.00.
    job = priced(counter, versions, "360.00", lines=(("Fin set", "40.00", "23"), ("Leash", "20.00", "23")))
    invoice = issue(finished(job, bench), by=counter)
    assert [line.amount for line in invoice.lines.all()] == [300, 40, 20]
    assert (invoice.net, invoice.tax, invoice.gross) == (D("313.10"), D("46.90"), D("360.00"))
    rows = invoice.frozen["totals"]["tax_rows"]
    assert [(row["percent"], row["tax"]) for row in rows] == [("23", "11.22"), ("13.5", "35.68")]


def test_agreed_extras_are_charged_and_those_at_our_cost_are_not(versions, counter, bench):
    job = priced(counter, versions, "100.00")
    for words in ("Second ding", "Our slip"):
        b.note_found(job=job, words=words, signed=Signed(bench, NOW))
    ding, slip = job.extras.order_by("pk")
    b.price_extra(extra=ding, price=D("45.00"), signed=Signed(counter, NOW))
    b.answer_extra(extra=ding, agreed=True, how="by phone, 10:15", signed=Signed(counter, NOW))
    b.absorb_extra(extra=slip, reason="the router slipped", signed=Signed(counter, NOW))
    invoice = issue(finished(job, bench), by=counter)
    assert [(line.words, line.amount) for line in invoice.lines.all()] == [
        ("Rail ding, 5′6″ fish", 100),
        ("Second ding", 45),
    ]
    assert invoice.gross == 145


# Prices without tax, worked through from outside


def test_a_taxed_deposit_leaves_the_rest_of_the_tax_by_difference(net_prices, versions, counter, bench):
    # Own shop-like case, validated against UBL 2.1 and the EN 16931 Schematron: S23 172.88 -> tax 39.76 (39.7624);
    # deposit 60.00 holds 11.22 (11.2194 on 48.78); left 39.76 - 11.22 = 28.54 = 152.64 × 23 / 123 (28.5424).
    job = priced(counter, versions, "172.88")
    taken = deposit(job, "60.00", counter)
    row = taken.frozen["tax_rows"][0]
    assert (row["net"], row["tax"], row["gross"]) == ("48.78", "11.22", "60.00")
    invoice = issue(finished(job, bench), by=counter)
    assert (invoice.net, invoice.tax, invoice.gross) == (D("172.88"), D("39.76"), D("212.64"))
    assert invoice.payable == D("152.64")
    assert invoice.frozen["advance_tax"] == "11.22"
    assert invoice.frozen["tax_left"][0]["tax"] == "28.54"


def test_two_rates_without_tax_in_the_prices(net_prices, versions, counter, bench):
    # The same case with its book: S23 172.88 -> 39.76, Z 12.00 -> 0; net 184.88, total 224.64, paid 60.00, left 164.64.
    job = priced(counter, versions, "184.88", lines=(("Book of tides", "12.00", "0"),))
    deposit(job, "60.00", counter)
    invoice = issue(finished(job, bench), by=counter)
    assert (invoice.net, invoice.tax, invoice.gross, invoice.payable) == (
        D("184.88"), D("39.76"), D("224.64"), D("164.64"),
    )  # fmt: skip
    assert [(line.amount, line.tax_category) for line in invoice.lines.all()] == [(D("172.88"), "S"), (12, "Z")]


def test_a_shop_that_is_not_registered_charges_no_tax_and_says_so(profile, versions, counter, bench):
    Profile.objects.update(tax_profile="none")
    job = priced(counter, versions, "90.00")
    taken = deposit(job, "30.00", counter)
    invoice = issue(finished(job, bench), by=counter)
    assert (invoice.net, invoice.tax, invoice.gross) == (90, 0, 90)
    assert invoice.frozen["tax"]["note"] == "Not registered for tax; no tax is charged."
    assert invoice.frozen["seller"]["tax_number"] == ""
    assert taken.frozen["tax_rows"] == []


# Deposits


def test_the_suggested_deposit_is_the_shops_share_of_what_was_agreed(versions, counter):
    job = priced(counter, versions, "485.00")
    assert billing.suggested_deposit(job) == 146  # 30 % of 485 = 145.50, in whole euro
    deposit(job, "100.00", counter)
    assert billing.suggested_deposit(job) == 46


def test_a_deposit_has_a_receipt_with_its_number_and_frozen_bytes(versions, counter):
    job = priced(counter, versions, "200.00")
    first, second = deposit(job, "50.00", counter), deposit(job, "30.00", counter)
    assert (first.number, second.number) == (f"R{TODAY.year}-0001", f"R{TODAY.year}-0002")
    assert bytes(first.document.pdf) == receipt_paper.pdf(first.frozen)
    assert first.document.sha256 == fingerprint(first.document.pdf)
    assert first.frozen["left"] == "150.00"
    assert billing.on_account(job) == 80


@pytest.mark.parametrize(
    ("amount", "method", "field", "says"),
    [
        ("0", "cash", "amount", "above zero"),
        ("-20", "cash", "amount", "above zero"),
        ("200.01", "cash", "amount", "at most 200.00"),
        ("10.005", "cash", "amount", "more decimals"),
        ("10", "shells", "method", "cash, card or bank transfer"),
    ],
)
def test_a_wrong_deposit_is_a_sentence_and_no_receipt(versions, counter, amount, method, field, says):
    job = priced(counter, versions, "200.00")
    said = refusal(lambda: billing.take_deposit(job=job, amount=D(amount), method=method, signed=Signed(counter, NOW)))
    assert says in said[field][0]
    assert not Payment.objects.exists()
    assert NumberSeries.objects.get(key="receipt").next_number == 1


# Issued once, in order


def test_issuing_twice_gives_the_one_invoice(versions, counter, bench):
    job = finished(priced(counter, versions, "90.00"), bench)
    first = issue(job, by=counter)
    assert issue(job, by=counter, at=LATER + timedelta(hours=1)) == first
    assert Invoice.objects.count() == 1
    assert NumberSeries.objects.get(key="invoice").next_number == 2


@pytest.mark.django_db(transaction=True)
def test_two_windows_that_issue_at_once_make_one_invoice(versions, counter, bench):
    job = finished(priced(counter, versions, "90.00"), bench)
    made, gate = [], threading.Barrier(4)

    def press():
        try:
            gate.wait(10)
            made.append(issue(job, by=counter).number)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=press) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert made == [f"{LATER.year}-0001"] * 4
    assert Invoice.objects.count() == 1


@pytest.mark.django_db(transaction=True)
def test_many_invoices_at_once_get_numbers_without_gaps(versions, counter, bench):
    jobs = [finished(priced(counter, versions, "90.00"), bench) for _ in range(5)]
    gate = threading.Barrier(5)

    def press(job):
        try:
            gate.wait(10)
            issue(job, by=counter)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=press, args=(job,)) for job in jobs]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(Invoice.objects.values_list("sequence", flat=True)) == [1, 2, 3, 4, 5]


def test_a_paper_that_cannot_be_set_takes_no_number(versions, counter, bench, monkeypatch):
    job = finished(priced(counter, versions, "90.00"), bench)

    def broken(content):
        raise PaperProblem("no paper", "The paper tore.")

    with monkeypatch.context() as patch:
        patch.setattr(invoice_paper, "pdf", broken)
        said = refusal(lambda: billing.issue_invoice(jobs=[job], signed=Signed(counter, LATER)))
    assert said["__all__"] == ["The paper tore."]
    assert not Invoice.objects.exists()
    assert not Document.objects.exists()
    assert issue(job, by=counter).number == f"{LATER.year}-0001"


def test_an_issued_invoice_stays_as_it_was(versions, counter, bench):
    job = finished(priced(counter, versions, "90.00"), bench)
    invoice = issue(job, by=counter)
    before = invoice.frozen, bytes(invoice.document.pdf)
    Profile.objects.update(name="Another Name", tax_number="IE9")
    TaxRate.objects.update(percent=D(20))
    job.takein.brought_by.name = "Somebody Else"
    job.takein.brought_by.save()
    invoice = Invoice.objects.get()
    assert (invoice.frozen, bytes(invoice.document.pdf)) == before
    assert invoice.frozen["seller"]["name"] == "Test Board Repairs"
    assert invoice.frozen["buyer"]["name"] == "Niamh Brennock"


def test_an_invoice_holds_several_jobs_of_one_payer(versions, counter, bench):
    school = seed.customer("Old Harbour Surf School")
    school.save()
    jobs = [
        finished(priced(counter, versions, price, customer=seed.customer(name), payer=school), bench)
        for name, price in (("Eoin", "80.00"), ("Aoife", "120.00"))
    ]
    invoice = issue(*jobs, by=counter)
    assert (invoice.gross, invoice.customer, invoice.frozen["brought_by"]) == (200, school, "Eoin, Aoife")
    assert "credit that one first" in refusal(lambda: issue(jobs[0], by=counter))["__all__"][0]
    stranger = finished(priced(counter, versions, "50.00", customer=seed.customer("Tomás")), bench)
    other = finished(priced(counter, versions, "50.00", customer=seed.customer("Saoirse")), bench)
    assert "different people" in refusal(lambda: issue(stranger, other, by=counter))["__all__"][0]


def test_no_invoice_before_the_work_is_finished_nor_for_nothing(versions, counter, bench):
    job = priced(counter, versions, "90.00")
    assert "not finished" in refusal(lambda: issue(job, by=counter))["__all__"][0]
    Job.objects.filter(pk=job.pk).update(billed=False)
    assert "needs no invoice" in refusal(lambda: issue(finished(Job.objects.get(), bench), by=counter))["__all__"][0]
    assert not Invoice.objects.exists()


def test_an_invoice_above_the_limit_names_who_buys(versions, counter, bench):
    # Directive 2006/112/EC, article 220a: a simplified invoice up to 100 euro need not name the customer.
    small = finished(priced(counter, versions, "100.00", customer=billing.walk_in()), bench)
    assert issue(small, by=counter).frozen["title"] == "Simplified invoice"
    large = finished(priced(counter, versions, "100.01", customer=billing.walk_in()), bench)
    assert "must name who buys" in refusal(lambda: issue(large, by=counter))["customer"][0]


# Payments


def test_an_invoice_is_paid_in_parts_and_never_too_much(versions, counter, bench):
    invoice = issue(finished(priced(counter, versions, "200.00"), bench), by=counter)
    part = pay(invoice, "80.00", counter, method="cash")
    assert (part.number, billing.balance(invoice)) == (f"R{LATER.year}-0001", 120)
    assert "Only 120.00 is left" in refusal(lambda: pay(invoice, "120.01", counter))["amount"][0]
    pay(invoice, "120.00", counter, method="transfer")
    assert billing.balance(invoice) == 0
    assert "Nothing is left" in refusal(lambda: pay(invoice, "0.01", counter))["amount"][0]
    assert [p.method for p in Payment.objects.all()] == ["cash", "transfer"]
    assert not Invoice.objects.unpaid().exists()


@pytest.fixture
def whole_coins(profile):
    """A shop where cash comes in steps of ten cents."""
    Profile.objects.update(tax_profile="nz-gst", country="NZ", currency="NZD")
    TaxRate.objects.filter(for_repairs=True).update(percent=D(15))


def test_cash_is_taken_in_whole_coins_and_settles_the_invoice(whole_coins, versions, counter, bench):
    job = priced(counter, versions, "227.04")
    finished(job, bench)
    invoice = issue(job, by=counter)
    refused = refusal(lambda: pay(invoice, "227.04", counter, method="cash"))["amount"][0]
    assert refused == "Only 227.00 is left to pay; take at most that."
    refused = refusal(lambda: pay(invoice, "100.05", counter, method="cash"))["amount"][0]
    assert refused == "Cash comes in steps of 0.10 here; the whole is 227.00 in cash."
    part = pay(invoice, "100.00", counter, method="cash")
    assert (part.rounding, D(part.frozen["left"])) == (0, D("127.04"))
    rest = pay(invoice, "127.00", counter, method="cash")
    assert (rest.rounding, rest.settled, D(rest.frozen["left"])) == (D("0.04"), D("127.04"), 0)
    assert billing.balance(invoice) == 0
    assert books.problems() == []


def test_cash_rounding_goes_up_too_and_back_when_the_money_goes_back(whole_coins, versions, counter, bench):
    job = priced(counter, versions, "227.07")
    finished(job, bench)
    invoice = issue(job, by=counter)
    assert billing.to_pay(invoice, "cash") == D("227.10")
    assert billing.to_pay(invoice, "card") == D("227.07")
    assert pay(invoice, "227.10", counter, method="cash").settled == D("227.07")
    billing.credit_invoice(invoice=invoice, signed=Signed(counter, LATER), reason="written twice")
    assert billing.on_account(job) == D("227.07")
    again = issue(job, by=counter)
    assert (again.prepaid, again.payable) == (D("227.07"), 0)
    assert books.problems() == []


@pytest.mark.django_db(transaction=True)
def test_two_windows_cannot_pay_the_same_money_twice(versions, counter, bench):
    invoice = issue(finished(priced(counter, versions, "200.00"), bench), by=counter)
    said, gate = [], threading.Barrier(2)

    def press():
        try:
            gate.wait(10)
            pay(invoice, "150.00", counter)
            said.append("paid")
        except Exception as problem:
            said.append(type(problem).__name__)
        finally:
            connections.close_all()

    threads = [threading.Thread(target=press) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(said) == ["Refused", "paid"]
    assert billing.balance(invoice) == 50


def test_the_bench_takes_no_money(versions, counter, bench):
    job = finished(priced(counter, versions, "200.00"), bench)
    for act in (lambda: deposit(job, "10.00", bench), lambda: issue(job, by=bench)):
        with pytest.raises(PermissionDenied):
            act()


# Credit notes


def test_a_wrong_invoice_is_credited_at_its_own_rates_and_issued_anew(versions, counter, bench):
    job = priced(counter, versions, "227.00")
    deposit(job, "50.00", counter)
    invoice = issue(finished(job, bench), by=counter)
    pay(invoice, "100.00", counter)
    TaxRate.objects.filter(for_repairs=True).update(percent=D(9))
    assert (
        "Reason is empty"
        in refusal(lambda: billing.credit_invoice(invoice=invoice, reason="", signed=Signed(counter, LATER)))["reason"][
            0
        ]
    )
    note = billing.credit_invoice(invoice=invoice, reason="wrong name on it", signed=Signed(counter, LATER))
    # 227.00 holds 227 × 13.5 / 113.5 = 27.00 exactly, so net 200.00
    assert (note.number, note.net, note.tax, note.gross) == (
        f"C{LATER.year}-0001",
        D("-200.00"),
        D("-27.00"),
        D("-227.00"),
    )
    assert note.lines.get().tax_percent == D("13.5")
    assert note.frozen["corrects"] == {"number": f"{LATER.year}-0001", "issued_on": LATER.date().isoformat()}
    assert note.frozen["reason"] == "wrong name on it"
    assert billing.balance(invoice) == 0
    assert billing.on_account(job) == 150
    anew = issue(job, by=counter)
    assert (anew.number, anew.prepaid, billing.balance(anew)) == (f"{LATER.year}-0002", 150, 77)
    assert (
        "credited already"
        in refusal(lambda: billing.credit_invoice(invoice=invoice, reason="again", signed=Signed(counter, LATER)))[
            "__all__"
        ][0]
    )


def test_part_of_a_line_is_credited_and_the_rest_takes_its_tax_by_difference(versions, counter, bench):
    # 100.00 holds 11.89 (11.894). Three credits of 33.33 hold 3.96 (3.9644) each, 11.88 together; the last one, 0.01,
    # takes the cent that is left.
    invoice = issue(finished(priced(counter, versions, "100.00"), bench), by=counter)
    assert invoice.tax == D("11.89")
    notes = [
        billing.credit_invoice(
            invoice=invoice, reason="goodwill", amounts={1: D("33.33")}, signed=Signed(counter, LATER)
        )
        for _ in range(3)
    ]
    assert [note.tax for note in notes] == [D("-3.96")] * 3
    assert billing.balance(invoice) == D("0.01")
    said = refusal(
        lambda: billing.credit_invoice(
            invoice=invoice, reason="too much", amounts={1: D("0.02")}, signed=Signed(counter, LATER)
        )
    )
    assert "up to 0.01" in said["amounts.1"][0]
    last = billing.credit_invoice(invoice=invoice, reason="rest", signed=Signed(counter, LATER))
    assert (last.tax, last.gross, last.net) == (D("-0.01"), D("-0.01"), 0)
    assert billing.balance(invoice) == 0


def test_money_paid_too_much_after_a_credit_is_paid_back_once(versions, counter, bench):
    invoice = issue(finished(priced(counter, versions, "200.00"), bench), by=counter)
    pay(invoice, "200.00", counter)
    billing.credit_invoice(
        invoice=invoice, reason="a scratch of ours", amounts={1: D("25.00")}, signed=Signed(counter, LATER)
    )
    assert billing.balance(invoice) == -25
    said = refusal(lambda: billing.refund(invoice=invoice, amount=D("25.01"), signed=Signed(counter, LATER), **MONEY))
    assert "at most 25.00" in said["amount"][0]
    back = billing.refund(invoice=invoice, amount=D("25.00"), signed=Signed(counter, LATER), **MONEY)
    assert (back.amount, back.kind, billing.balance(invoice)) == (-25, "refund", 0)
    assert (
        "nothing is to be paid back"
        in refusal(lambda: billing.refund(invoice=invoice, amount=D("1.00"), signed=Signed(counter, LATER), **MONEY))[
            "amount"
        ][0]
    )


# Changes after the yes


def test_opened_then_stopped_charges_the_work_done_and_gives_the_rest_back(versions, counter, bench):
    job = priced(counter, versions, "300.00")
    deposit(job, "100.00", counter)
    b.finish_step(step=step_of(job, "inspect"), minutes=D(8), signed=Signed(bench, NOW))
    assert 0 < b.suggested_stop(job) < 100
    assert (
        "between 0 and the agreed price"
        in refusal(lambda: b.stop_job(job=job, amount=D("300.01"), how="by phone", signed=Signed(counter, LATER)))[
            "amount"
        ][0]
    )
    b.stop_job(job=job, amount=D("40.00"), how="by phone", signed=Signed(counter, LATER), words="Water all through it")
    job.refresh_from_db()
    assert job.state == Job.State.STOPPED
    assert set(job.steps.values_list("state", flat=True)) == {"done", "dropped"}
    invoice = issue(job, by=counter)
    # 40.00 holds 40 × 13.5 / 113.5 = 4.76 (4.7577)
    assert (invoice.gross, invoice.tax, invoice.payable) == (40, D("4.76"), -60)
    assert "work done until it was stopped" in invoice.lines.get().words
    assert (
        "60.00 is still to be paid back"
        in refusal(lambda: b.pick_up(job=job, signed=Signed(counter, LATER)))["owing_ok"][0]
    )
    billing.refund(invoice=invoice, amount=D("60.00"), signed=Signed(counter, LATER), **MONEY)
    b.pick_up(job=job, signed=Signed(counter, LATER))
    job.refresh_from_db()
    assert (job.state, job.takein.gone_at) == (Job.State.PICKED_UP, LATER)


def test_stopped_for_nothing_needs_no_invoice_and_gives_the_deposit_back(versions, counter, bench):
    job = priced(counter, versions, "300.00")
    deposit(job, "100.00", counter)
    assert (
        "nothing is to be paid back"
        in refusal(lambda: billing.refund(job=job, amount=D("1.00"), signed=Signed(counter, NOW), **MONEY))["amount"][0]
    )
    b.stop_job(job=job, amount=D(0), how="at the counter", signed=Signed(counter, LATER))
    billing.refund(job=job, amount=D("100.00"), signed=Signed(counter, LATER), **MONEY)
    b.pick_up(job=job, signed=Signed(counter, LATER))
    assert billing.on_account(job) == 0
    assert not Invoice.objects.exists()


def test_another_way_instead_charges_the_new_one_and_keeps_the_work_done(versions, counter, bench):
    job = priced(counter, versions, "120.00")
    b.finish_step(step=step_of(job, "inspect"), minutes=D(8), signed=Signed(bench, NOW))
    ahead = job.steps.filter(state="todo").count()
    quote = quoting.start_quote(takeins=[job.takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, NOW), title="Painted as well",
    )  # fmt: skip
    extra = b.propose_another_way(job=job, way=way, words="", signed=Signed(counter, NOW))
    assert extra.words == "Painted as well instead of Rail ding"
    b.answer_extra(extra=extra, agreed=True, how="by message", signed=Signed(counter, NOW))
    job.refresh_from_db()
    assert job.way == way
    assert job.steps.filter(state="done").count() == 1
    assert job.steps.filter(state="dropped").count() == ahead
    assert job.steps.filter(part__way=way, state="todo").count() == len(way.parts.get().snapshot["steps"])
    invoice = issue(finished(job, bench), by=counter)
    assert invoice.gross == way.gross
    assert invoice.lines.get().words == "Painted as well, 5′6″ fish"


def test_a_stop_after_another_way_counts_what_was_done_and_is_ahead_not_what_was_left_out(versions, counter, bench):
    # 120.00 for the first way, of which only the inspection was done. Then the same as another way, at 120.00 too:
    # with half of its steps done, the share is (looked + half) of (looked + all), whatever the first way left out.
    job = priced(counter, versions, "120.00")
    b.finish_step(step=step_of(job, "inspect"), minutes=D(8), signed=Signed(bench, NOW))
    quote = quoting.start_quote(takeins=[job.takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, NOW)
    )
    way = quoting.edit_way(
        way=way,
        signed=Signed(counter, NOW),
        title="Painted",
        price_by_hand=D(120),
        price_reason="test",
        below_cost=True,
    )
    extra = b.propose_another_way(job=job, way=way, words="", signed=Signed(counter, NOW))
    b.answer_extra(extra=extra, agreed=True, how="by message", signed=Signed(counter, NOW))
    new = job.steps.filter(part__way=way)
    for step in new.order_by("position")[: new.count() // 2]:
        b.finish_step(step=step, minutes=D(1), signed=Signed(bench, NOW), rest_as_planned=False)
    job = Job.objects.get(pk=job.pk)
    done = sum(D(str(step.planned_minutes)) for step in job.steps.filter(state="done"))
    ahead = sum(D(str(step.planned_minutes)) for step in job.steps.filter(state="todo"))
    left_out = sum(D(str(step.planned_minutes)) for step in job.steps.filter(state="dropped"))
    assert left_out > ahead
    assert b.suggested_stop(job) == round(120 * done / (done + ahead))
    assert b.suggested_stop(job) > D("1.4") * 120 * done / (done + ahead + left_out)


def test_a_stop_counts_extras_and_not_what_was_done_at_our_cost(versions, counter, bench):
    job = priced(counter, versions, "120.00")
    for step in job.steps.order_by("position")[:4]:
        b.finish_step(step=step, minutes=D(5), signed=Signed(bench, NOW), rest_as_planned=False)
    before = b.suggested_stop(job)
    again = b.redo_step(step=step, cause="ours", billed=False, reason="pinholes", signed=Signed(bench, NOW))
    b.finish_step(step=again, minutes=D(30), signed=Signed(bench, NOW), rest_as_planned=False)
    assert b.suggested_stop(job) == before > 0
    extra = b.note_found(job=job, words="Second ding", signed=Signed(bench, NOW))
    b.price_extra(extra=extra, price=D(60), signed=Signed(counter, NOW))
    b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW))
    assert abs(b.suggested_stop(job) - before * 180 / 120) <= 1
    b.stop_job(job=job, amount=D(150), how="by phone", signed=Signed(counter, NOW))  # more than the way alone
    assert b.agreed_total(job) == 150


def test_a_stop_below_cost_is_asked_about_once(versions, counter, bench):
    # 90 min at 22 + 9 an hour are 46.50; 40.00 with 13.5 % in it is 35.24 without, 52.80 is 46.52
    job = priced(counter, versions, "300.00")
    b.finish_step(step=step_of(job, "inspect"), minutes=D(90), signed=Signed(bench, NOW), rest_as_planned=False)
    stop = {"job": job, "how": "by phone", "signed": Signed(counter, LATER)}
    said = refusal(lambda: b.stop_job(amount=D("40.00"), **stop))["below_cost"][0]
    assert said == "Without tax that is 35.24, below the 46.50 it cost so far. Is that meant?"
    assert Job.objects.get().state == Job.State.OPEN
    assert b.short_of_cost(job, D("52.80"), NOW) == ""
    b.stop_job(amount=D("40.00"), below_cost=True, **stop)
    assert b.agreed_total(job) == 40


def test_an_extra_priced_by_a_recipe_brings_its_steps_before_what_is_ahead(versions, counter, bench):
    job = priced(counter, versions, "120.00")
    extra = b.note_found(job=job, words="A second ding under the tape", signed=Signed(bench, NOW))
    quote = quoting.start_quote(takeins=[job.takein], signed=Signed(counter, NOW))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, NOW)
    )
    b.price_extra(extra=extra, way=way, signed=Signed(counter, NOW))
    first = job.steps.first()
    b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW))
    first.refresh_from_db()
    before = job.steps.filter(position__lt=first.position)
    assert {step.part.way for step in before} == {way}
    assert before.count() == len(way.parts.get().snapshot["steps"])
    assert [line.words for line in b.charges(job).lines] == ["Rail ding, 5′6″ fish", "A second ding under the tape"]
    assert b.agreed_total(job) == 120 + way.gross


def test_a_no_changes_nothing_and_is_kept(versions, counter, bench):
    job = priced(counter, versions, "120.00")
    extra = b.note_found(job=job, words="A second ding", signed=Signed(bench, NOW))
    assert (
        "no price yet"
        in refusal(lambda: b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW)))[
            "agreed"
        ][0]
    )
    b.price_extra(extra=extra, price=D("45.00"), signed=Signed(counter, NOW))
    b.answer_extra(extra=extra, agreed=False, how="by phone, too dear", signed=Signed(counter, NOW))
    extra.refresh_from_db()
    assert (extra.state, extra.answered_how) == (Extra.State.DECLINED, "by phone, too dear")
    assert b.agreed_total(job) == 120
    assert (
        "already answered"
        in refusal(lambda: b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW)))[
            "__all__"
        ][0]
    )


def test_an_extra_by_hand_is_taxed_as_repairs_are(versions, counter, bench):
    # 45.00 with 13.5 % in it holds 45 × 13.5 / 113.5 = 5.352 -> 5.35
    job = priced(counter, versions, "120.00")
    extra = b.note_found(job=job, words="A second ding", signed=Signed(bench, NOW))
    extra = b.price_extra(extra=extra, price=D("45.00"), signed=Signed(counter, NOW))
    assert (extra.net, extra.tax, extra.gross) == (D("39.65"), D("5.35"), D("45.00"))
    assert refusal(lambda: b.price_extra(extra=extra, signed=Signed(counter, NOW)))["price"]
    assert (
        "below zero"
        in refusal(lambda: b.price_extra(extra=extra, price=D("-1"), signed=Signed(counter, NOW)))["price"][0]
    )


# Picked up


def test_a_board_leaves_with_an_invoice_and_an_open_balance_is_said_yes_to(versions, counter, bench):
    job = priced(counter, versions, "200.00")
    assert "not finished" in refusal(lambda: b.pick_up(job=job, signed=Signed(counter, LATER)))["__all__"][0]
    finished(job, bench)
    assert "issue it first" in refusal(lambda: b.pick_up(job=job, signed=Signed(counter, LATER)))["__all__"][0]
    invoice = issue(job, by=counter)
    pay(invoice, "150.00", counter)
    said = refusal(lambda: b.pick_up(job=job, signed=Signed(counter, LATER)))
    assert "50.00 is still to be paid" in said["owing_ok"][0]
    job.takein.refresh_from_db()
    assert job.takein.gone_at is None
    b.pick_up(job=job, signed=Signed(counter, LATER), owing_ok=True)
    again = b.pick_up(job=job, signed=Signed(counter, LATER + timedelta(days=1)))
    assert again.picked_up_at == LATER
    assert billing.balance(invoice) == 50


# Its own truth


def test_a_job_shows_its_own_truth(versions, stocked, counter, bench):
    # Price 227.00 with 13.5 %: net 200.00. Hands 90 min at 22 = 33.00, overhead 90 min at 1080 / 120 h = 9 -> 13.50.
    # Resin 500 g at 0.0068 = 3.40. Real cost 33.00 + 13.50 + 3.40 = 49.90.
    # Earned per hour: (200.00 - 3.40 - 13.50) / 1.5 h = 122.07 (122.0667).
    from inventory.models import Material

    job = priced(counter, versions, "227.00")
    laminate = step_of(job, "laminate")
    b.record_use(
        step=laminate, material=Material.objects.get(key="resin-lam"), quantity=D(500), signed=Signed(bench, NOW)
    )
    b.finish_step(step=laminate, minutes=D(90), signed=Signed(bench, NOW), rest_as_planned=False)
    truth = billing.job_truth(job)
    assert (truth.real.materials, truth.real.labour, truth.real.overhead) == (D("3.4"), 33, D("13.5"))
    assert (truth.net, truth.real_cost, truth.earned_per_hour) == (D("200.00"), D("49.90"), D("122.07"))
    assert truth.quoted_cost == job.way.cost
    assert truth.difference == D("49.90") - job.way.cost


def test_a_comeback_counts_against_the_job_it_comes_from(versions, stocked, counter, bench):
    job = priced(counter, versions, "227.00")
    b.finish_step(step=step_of(job, "inspect"), minutes=D(60), signed=Signed(bench, NOW), rest_as_planned=False)
    finished(job, bench)
    issue(job, by=counter)
    b.pick_up(job=job, signed=Signed(counter, LATER), owing_ok=True)
    takein = quoting.take_in(
        brought_by=job.takein.brought_by, board=job.takein.board, checks=seed.checked(), signed=Signed(counter, LATER)
    )
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, LATER))
    way = quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=RAIL_DING, signed=Signed(counter, LATER)
    )
    before = billing.job_truth(job)
    comeback = b.accept_way(
        way=way, signed=Signed(counter, LATER), how="ours", spoken=True, comeback_of=job, cause="ours", billed=False
    )
    b.finish_step(step=step_of(comeback, "inspect"), minutes=D(30), signed=Signed(bench, LATER), rest_as_planned=False)
    # Half an hour at 22 + 9 an hour: 15.50 more.
    after = billing.job_truth(job)
    assert after.real_cost - before.real_cost == D("15.50")
    assert b.agreed_total(comeback) == 0
    finished(comeback, bench)
    b.pick_up(job=comeback, signed=Signed(counter, LATER))
    assert Invoice.objects.count() == 1


# Two minutes


def quick(version, counter, **more):
    own = {
        "version": version, "measures": RAIL_DING, "board": seed.fish(), "method": "cash", "signed": Signed(counter, NOW),
    }  # fmt: skip
    return billing.two_minute_job(**{**own, **more})


def test_a_two_minute_job_is_paid_and_gone_without_a_name(versions, stocked, counter):
    payment = quick(versions["ding-rail-small"], counter, price_by_hand=D("75.00"), price_reason="regular")
    job = Job.objects.get()
    assert (payment.amount, payment.method, payment.number) == (75, "cash", f"R{TODAY.year}-0001")
    assert (job.state, job.takein.gone_at, job.takein.brought_by.walk_in) == (Job.State.PICKED_UP, NOW, True)
    assert payment.invoice.frozen["title"] == "Simplified invoice"
    assert billing.balance(payment.invoice) == 0
    truth = billing.job_truth(job)
    assert truth.real.materials > 0
    assert abs(truth.real.minutes - truth.quoted_minutes) < 2
    assert abs(truth.real_cost - truth.quoted_cost) < D("0.10") * truth.quoted_cost


def test_a_two_minute_job_without_minutes_says_nothing_about_an_hour(versions, stocked, counter):
    quick(versions["ding-rail-small"], counter, price_by_hand=D("75.00"), price_reason="regular")
    truth = billing.job_truth(Job.objects.get())
    assert (truth.hands_known, truth.earned_per_hour) == (False, None)
    assert truth.real_cost > 0


def test_the_minutes_of_a_two_minute_job_are_what_was_said(versions, stocked, counter):
    # 75.00 with 13.5 % is 66.08 without. 20 min at 22 + 9 an hour are 7.33 and 3.00; the hour earned is what is left of
    # 66.08 over materials and overhead, times three.
    quick(versions["ding-rail-small"], counter, price_by_hand=D("75.00"), price_reason="regular", minutes=D(20))
    job = Job.objects.get()
    truth = billing.job_truth(job)
    assert (truth.real.minutes, round(truth.real.labour, 2), round(truth.real.overhead, 2)) == (
        20,
        D("7.33"),
        D("3.00"),
    )
    assert truth.earned_per_hour == round((D("66.08") - truth.real.materials - truth.real.overhead) * 3, 2)
    times = StepTime.objects.filter(step__job=job)
    assert times.count() == job.steps.count()
    assert all(time.of_total and b.own_minutes(time) for time in times)


def test_shares_of_a_two_minute_job_teach_no_step_and_stay_under_a_total_of_the_day(versions, stocked, counter, bench):
    quick(versions["ding-rail-small"], counter, price_by_hand=D("75.00"), price_reason="regular", minutes=D(20))
    assert not [step for step in done_steps() if step.timed]
    other = priced(counter, versions, "90.00")
    b.finish_step(
        step=other.steps.first(),
        minutes=b.planned_minutes(other.steps.first()),
        signed=Signed(counter, NOW),
        typed=False,
    )
    said = refusal(
        lambda: b.spread_total(person=counter, first=TODAY, last=TODAY, minutes=D(19), signed=Signed(counter, NOW))
    )
    assert "written down already" in said["minutes"][0]
    b.spread_total(person=counter, first=TODAY, last=TODAY, minutes=D(50), signed=Signed(counter, NOW))
    quick_job = Job.objects.get(hands="whole")
    assert billing.job_truth(quick_job).real.minutes == 20
    assert billing.job_truth(other).real.minutes == 30
    b.take_total_back(hours=BenchHours.objects.get(), signed=Signed(counter, NOW))
    assert billing.job_truth(quick_job).real.minutes == 20


def test_too_few_minutes_for_the_steps_are_refused(versions, stocked, counter):
    said = refusal(lambda: quick(versions["ding-rail-small"], counter, minutes=D("0.2")))
    assert "Minutes must be at least" in said["minutes"][0]
    assert not Job.objects.exists()


def test_a_two_minute_job_is_refused_whole(versions, stocked, counter):
    before = NumberSeries.objects.in_bulk(field_name="key")
    version = versions["ding-rail-small"]
    assert (
        "Round the edge"
        in refusal(lambda: quick(version, counter, measures={"length": "50 mm", "depth": "9 mm"}))["around"][0]
    )
    assert "Look at it again" in refusal(lambda: quick(version, counter, shown=D("1.00")))["__all__"][0]
    assert (
        "must name who buys"
        in refusal(lambda: quick(version, counter, price_by_hand=D("180.00"), price_reason="test"))["customer"][0]
    )
    assert not Job.objects.exists()
    assert not Payment.objects.exists()
    for key, series in before.items():
        assert NumberSeries.objects.get(key=key).next_number == series.next_number
