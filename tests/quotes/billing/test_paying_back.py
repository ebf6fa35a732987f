"""Money that goes back: never more than was taken, always to whom it came from, and a board can always leave."""

from __future__ import annotations

from contextlib import suppress
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import transaction
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from quotes import bench as b
from quotes import billing
from quotes.billing import books
from quotes.models import Extra, Invoice, Job, Payment
from quotes.papers import invoice as invoice_paper
from shop.models import JournalEntry
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW
from tests.quotes import seed
from tests.quotes.bench.test_bench_pages import post, summary
from tests.quotes.billing.test_billing import LATER, MONEY, deposit, finished, issue, pay, priced
from tests.quotes.conftest import refusal
from tests.reading import says

D = Decimal


def credit(invoice, by, amounts=None) -> Invoice:
    return billing.credit_invoice(invoice=invoice, reason="test", amounts=amounts, signed=Signed(by, LATER))


def back(by, amount: str, **on) -> Payment:
    return billing.refund(amount=D(amount), signed=Signed(by, LATER), **MONEY, **on)


def held() -> Decimal:
    return Payment.objects.all().total()


@pytest.fixture
def deposited(versions, counter, bench) -> Job:
    """A finished job of 467.00 of which 140.00 was taken."""
    job = priced(counter, versions, "467.00")
    deposit(job, "140.00", counter)
    return finished(job, bench)


# A credit note is not paid back


def test_a_credit_note_is_never_paid_back(deposited, counter, counter_client, form_key):
    note = credit(issue(deposited, by=counter), counter)
    assert "not on a credit note" in refusal(lambda: back(counter, "467.00", invoice=note))["__all__"][0]
    assert "not on a credit note" in refusal(lambda: back(counter, "0.01", invoice=note))["__all__"][0]
    first = f"/invoice/{note.corrects_id}/"
    assert counter_client.get(f"/invoice/{note.pk}/pay-back/")["Location"] == first
    assert post(counter_client, form_key, f"/invoice/{note.pk}/pay-back/", amount="467", method="cash")["Location"]
    assert counter_client.get(f"/invoice/{note.pk}/payment/")["Location"] == first
    assert held() == 140
    assert books.problems() == []


def test_money_goes_back_to_who_paid_it_and_never_more_than_they_paid(versions, counter, bench):
    job = priced(counter, versions, "300.00")
    deposit(job, "100.00", counter)
    school = seed.customer("Old Harbour Surf School")
    school.save()
    quote = job.way.board.quote
    quote.payer = school
    quote.save()
    invoice = issue(finished(job, bench), by=counter)
    pay(invoice, "200.00", counter)
    credit(invoice, counter)
    b.charge_nothing(job=job, reason="it did not hold", signed=Signed(counter, LATER))
    job = Job.objects.get(pk=job.pk)
    assert "at most 200.00" in refusal(lambda: back(counter, "300.00", job=job))["amount"][0]
    assert back(counter, "200.00", job=job).customer == school
    assert back(counter, "100.00", job=job).customer.name == "Niamh Brennock"
    assert (held(), books.problems()) == (0, [])


def test_on_a_joint_invoice_the_money_goes_out_of_the_account_that_holds_it(versions, counter, bench):
    owner = seed.customer("Old Harbour Surf School")
    owner.save()
    first, second = (priced(counter, versions, "200.00", customer=owner) for _ in range(2))
    deposit(second, "180.00", counter)
    for job, amount in ((first, "10"), (second, "50")):
        b.stop_job(job=job, amount=D(amount), how="by phone", signed=Signed(counter, LATER))
    invoice = issue(first, second, by=counter)
    assert billing.balance(invoice) == -120
    assert back(counter, "120.00", invoice=invoice).job == second
    credit(invoice, counter)
    assert (billing.on_account(first), billing.on_account(second)) == (0, 60)
    assert books.problems() == []


# Nothing is charged


def test_after_a_whole_credit_all_of_the_money_goes_back_and_the_board_home(deposited, counter):
    invoice = issue(deposited, by=counter)
    pay(invoice, "327.00", counter)
    credit(invoice, counter)
    assert "nothing is to be paid back" in refusal(lambda: back(counter, "1.00", job=deposited))["amount"][0]
    b.charge_nothing(job=deposited, reason="the repair did not hold", signed=Signed(counter, LATER))
    assert "467.00 is still to be paid back" in refusal(
        lambda: b.pick_up(job=deposited, signed=Signed(counter, LATER))
    )["owing_ok"][0]  # fmt: skip
    back(counter, "467.00", job=deposited)
    b.pick_up(job=deposited, signed=Signed(counter, LATER))
    assert (held(), books.problems()) == (0, [])
    assert JournalEntry.objects.filter(verb="job.charge_nothing").latest("pk").words.endswith("the repair did not hold")


def test_a_finished_job_that_is_not_charged_can_leave(versions, counter, bench):
    job = finished(priced(counter, versions, "90.00"), bench)
    assert (
        "say that nothing is charged"
        in refusal(lambda: b.pick_up(job=job, signed=Signed(counter, LATER)))["__all__"][0]
    )
    assert (
        "Why is empty"
        in refusal(lambda: b.charge_nothing(job=job, reason=" ", signed=Signed(counter, LATER)))["reason"][0]
    )
    free = b.charge_nothing(job=job, reason="goodwill", signed=Signed(counter, LATER))
    assert (free.kind, free.words, b.agreed_total(job)) == (Extra.Kind.UNCHARGED, "goodwill", 0)
    b.pick_up(job=job, signed=Signed(counter, LATER))
    job.refresh_from_db()
    assert (job.state, Invoice.objects.exists()) == (Job.State.PICKED_UP, False)
    assert billing.job_truth(job).net == 0


def test_nothing_is_charged_only_for_an_ended_job_without_an_invoice(versions, counter, bench):
    job = priced(counter, versions, "90.00")

    def refused() -> str:
        return refusal(lambda: b.charge_nothing(job=job, reason="goodwill", signed=Signed(counter, LATER)))["__all__"][
            0
        ]

    assert "not finished" in refused()
    invoice = issue(finished(job, bench), by=counter)
    assert f"on invoice {invoice.number}: credit that one" in refused()
    credit(invoice, counter)
    with pytest.raises(PermissionDenied):
        b.charge_nothing(job=job, reason="goodwill", signed=Signed(bench, LATER))
    b.charge_nothing(job=job, reason="goodwill", signed=Signed(counter, LATER))
    assert "already" in refused()
    assert "needs no invoice" in refusal(lambda: issue(job, by=counter))["__all__"][0]
    assert "no deposit to take" in refusal(lambda: deposit(job, "10.00", counter))["amount"][0]
    b.charge_after_all(job=job, signed=Signed(counter, LATER))
    assert b.agreed_total(job) == 90
    assert "already" in refusal(lambda: b.charge_after_all(job=job, signed=Signed(counter, LATER)))["__all__"][0]
    assert issue(job, by=counter).gross == 90


def test_a_stop_for_money_may_still_be_charged_nothing(versions, counter):
    job = priced(counter, versions, "90.00")
    b.stop_job(job=job, amount=D(30), how="by phone", signed=Signed(counter, NOW))
    b.charge_nothing(job=job, reason="a friend", signed=Signed(counter, NOW))
    b.pick_up(job=job, signed=Signed(counter, NOW))
    assert Job.objects.get().state == Job.State.PICKED_UP


def test_a_deposit_taken_again_after_it_went_back_is_taxed_again(versions, counter, bench):
    # 300.00 at 13.5 % hold 35.68 (35.683); what went back took it along.
    job = priced(counter, versions, "467.00")
    first = deposit(job, "300.00", counter)
    finished(job, bench)
    b.charge_nothing(job=job, reason="goodwill", signed=Signed(counter, LATER))
    back(counter, "300.00", job=job)
    b.charge_after_all(job=job, signed=Signed(counter, LATER))
    again = deposit(job, "300.00", counter)
    assert [each.frozen["tax_rows"][0]["tax"] for each in (first, again)] == ["35.68", "35.68"]
    assert billing.on_account(job) == 300


# The books


def spoilt(**more) -> list[str]:
    """What the books say after a payment that no verb would make."""
    one = Payment.objects.order_by("pk").last()
    own = {field.name: getattr(one, field.name) for field in Payment._meta.concrete_fields if field.name != "id"}
    frozen = {**one.frozen, "amount": str(abs(more["amount"]))}
    Payment.objects.create(**{**own, "kind": "refund", "frozen": frozen, "sequence": one.sequence + 1, **more})
    return books.problems()


def test_the_books_say_where_more_was_paid_back_than_taken(deposited, versions, counter, bench):
    rich = finished(priced(counter, versions, "900.00", customer=deposited.takein.brought_by), bench)
    deposit(rich, "900.00", counter)
    found = " ".join(spoilt(amount=D(-141), job=deposited))
    assert f"{deposited}: 1.00 more was paid back for it than was taken." in found
    assert "was ever taken" not in found  # by the customer, who paid for another job too
    found = " ".join(spoilt(amount=D(-900), job=rich))
    assert "Niamh Brennock: 1.00 more was paid back than was ever taken." in found


def test_the_books_say_where_more_was_paid_back_on_an_invoice(deposited, counter):
    invoice = issue(deposited, by=counter)
    note = credit(invoice, counter)
    found = " ".join(spoilt(amount=D(-1), invoice=note, job=deposited))
    assert f"{note}: 1.00 more was paid back on it than was taken." in found


# Any order of acts

AMOUNTS = st.sampled_from(["0.01", "33.33", "60.00", "100.00", "140.00", "227.00", "467.00"])
ACTS = st.tuples(
    st.sampled_from(
        [
            "deposit",
            "issue",
            "issue both",
            "pay",
            "credit",
            "credit part",
            "back on",
            "back for",
            "free",
            "charge",
            "go",
        ]
    ),
    st.integers(0, 5),
    AMOUNTS,
)


def act(what: str, which: int, amount: str, jobs: list[Job], by) -> None:
    """One act of somebody at the counter on some job or paper; a refusal changes nothing."""
    job = Job.objects.get(pk=jobs[which % 2].pk)
    papers = list(Invoice.objects.order_by("pk"))
    paper_ = papers[which % len(papers)] if papers else None
    if what == "deposit":
        deposit(job, amount, by, at=LATER)
    elif what.startswith("issue"):
        issue(*(jobs if what == "issue both" else [job]), by=by)
    elif what == "back for":
        back(by, amount, job=job)
    elif what == "free":
        b.charge_nothing(job=job, reason="test", signed=Signed(by, LATER))
    elif what == "charge":
        b.charge_after_all(job=job, signed=Signed(by, LATER))
    elif what == "go":
        b.pick_up(job=job, signed=Signed(by, LATER), owing_ok=True)
    elif paper_ is None:
        return
    elif what == "pay":
        pay(paper_, amount, by)
    elif what == "back on":
        back(by, amount, invoice=paper_)
    else:
        credit(paper_, by, None if what == "credit" else {1: D(amount)})


def all_goes_back(jobs: list[Job], by) -> None:
    """Whatever was done: all is credited, nothing is charged, all the money goes back, the boards go home."""
    for invoice in Invoice.objects.standing():
        credit(invoice, by)
    for job in jobs:
        job = Job.objects.get(pk=job.pk)
        if b.agreed_total(job):
            b.charge_nothing(job=job, reason="test", signed=Signed(by, LATER))
    for job in [Job.objects.get(pk=job.pk) for job in jobs]:
        while (due := billing.to_pay_back(job=job)).amount:
            back(by, str(due.amount), job=job)
    for job in jobs:
        b.pick_up(job=job, signed=Signed(by, LATER))


@settings(
    max_examples=40,
    deadline=timedelta(seconds=20),
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(acts=st.lists(ACTS, min_size=4, max_size=14))
def test_in_any_order_no_more_goes_back_than_came_and_all_of_it_can(two_jobs, counter, acts):
    with transaction.atomic():
        for what, which, amount in acts:
            with suppress(Refused), transaction.atomic():
                act(what, which, amount, two_jobs, counter)
            of_jobs = [Payment.objects.filter(job=job).total() for job in two_jobs]
            assert held() == sum(of_jobs) >= 0, (what, which, amount)
            assert books.problems() == [], (what, which, amount)
        all_goes_back(two_jobs, counter)
        assert (held(), books.problems()) == (0, [])
        transaction.set_rollback(True)


@pytest.fixture
def two_jobs(versions, counter, bench) -> list[Job]:
    """Two finished boards of one payer, of 467.00 and of 227.00."""
    owner = seed.customer("Old Harbour Surf School")
    owner.save()
    return [finished(priced(counter, versions, price, customer=owner), bench) for price in ("467.00", "227.00")]


# The pages


def test_from_a_credited_invoice_the_money_goes_back_in_three_taps(deposited, counter, counter_client, form_key):
    invoice = issue(deposited, by=counter)
    pay(invoice, "327.00", counter)
    post(counter_client, form_key, f"/invoice/{invoice.pk}/credit/", reason="it did not hold")
    page = says(counter_client.get(f"/invoice/{invoice.pk}/"))
    assert "€467.00 held" in page
    over = f"/job/{deposited.pk}/pick-up/"
    assert f'href="{over}"' in page
    page = says(counter_client.get(over))
    assert "Taken already</dt><dd>467.00" in page
    assert f'href="/job/{deposited.pk}/nothing-charged/"' in page
    answer = post(counter_client, form_key, f"/job/{deposited.pk}/nothing-charged/", reason="")
    assert summary(answer) == ["Why nothing is charged is empty."] or "empty" in summary(answer)[0]
    answer = post(counter_client, form_key, f"/job/{deposited.pk}/nothing-charged/", reason="it did not hold")
    assert answer["Location"] == over
    page = says(counter_client.get(over))
    assert "Why: it did not hold" in page
    assert "€467.00 is to be paid back" in page
    assert "467.00 to be paid back" in says(counter_client.get("/money/"))
    assert "to be paid back to <bdi>Niamh Brennock</bdi>" in says(counter_client.get(f"/job/{deposited.pk}/pay-back/"))
    entries = {"amount": "467", "method": "card", "reason": "it did not hold"}
    assert post(counter_client, form_key, f"/job/{deposited.pk}/pay-back/", **entries)["Location"] == over
    page = says(counter_client.get(over))
    assert "no money is held" in page
    assert "-€" not in page
    assert post(counter_client, form_key, over).status_code == 302
    assert "held without" not in says(counter_client.get("/money/"))
    assert held() == 0


def test_a_slip_of_the_finger_is_charged_after_all(deposited, counter, counter_client, form_key):
    b.charge_nothing(job=deposited, reason="wrong board", signed=Signed(counter, LATER))
    answer = post(counter_client, form_key, f"/job/{deposited.pk}/charged/")
    assert answer["Location"] == f"/job/{deposited.pk}/pick-up/"
    assert "Issue the invoice" in says(counter_client.get(answer["Location"]))
    answer = post(counter_client, form_key, f"/job/{deposited.pk}/charged/")
    assert "charged as agreed already" in says(counter_client.get(answer["Location"]))


def test_money_of_a_board_that_is_gone_is_not_forgotten(deposited, counter, counter_client):
    invoice = issue(deposited, by=counter)
    pay(invoice, "327.00", counter)
    b.pick_up(job=deposited, signed=Signed(counter, LATER))
    assert "held without" not in says(counter_client.get("/money/"))
    credit(invoice, counter)
    page = says(counter_client.get("/money/"))
    assert "Money held without an invoice" in page
    assert "to be invoiced" in page
    assert f'href="/job/{deposited.pk}/pick-up/"' in page


def test_what_an_invoice_took_off_is_called_what_it_was(deposited, counter):
    invoice = issue(deposited, by=counter)
    pay(invoice, "100.00", counter)
    credit(invoice, counter)
    rows = invoice_paper.context(issue(deposited, by=counter).frozen)["rows"]
    assert [row["words"].split()[0] for row in rows if row["words"].split()[0] in ("Deposit", "Payment")] == [
        "Deposit", "Payment",
    ]  # fmt: skip
