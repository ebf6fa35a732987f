"""Money over the counter: what is shown, what is refused in a sentence, and that a double tap counts once."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.management import call_command
from django.utils import timezone

from inventory.models import Movement
from quotes import bench as b
from quotes import billing
from quotes.billing import books
from quotes.models import Document, Invoice, InvoiceLine, Job, Payment, StepUse
from shop.models import NumberSeries, Profile, TaxRate
from shop.platform.acts import Signed
from tests.conftest import TODAY
from tests.quotes import seed
from tests.quotes.bench.test_bench_pages import post, summary
from tests.quotes.benches import RAIL_DING
from tests.quotes.billing.test_billing import LATER, deposit, finished, issue, pay, priced
from tests.reading import says

D = Decimal


@pytest.fixture
def ready(versions, counter, bench):
    """A board that waits to be collected: 200.00, of which 50.00 were paid as a deposit."""
    job = priced(counter, versions, "200.00")
    deposit(job, "50.00", counter)
    return finished(job, bench)


def test_a_board_is_handed_over_invoice_first_then_money_then_home(ready, counter_client, form_key):
    address = f"/job/{ready.pk}/pick-up/"
    page = says(counter_client.get(address))
    assert "Issue the invoice" in page
    assert "€150.00" in page
    answer = post(counter_client, form_key, address)
    assert answer.status_code == 422
    assert summary(answer) == ["There is no invoice yet: issue it first, or say that nothing is charged."]
    answer = post(counter_client, form_key, f"/job/{ready.pk}/invoice/")
    assert answer["Location"] == address
    invoice = Invoice.objects.get()
    page = says(counter_client.get(address))
    assert 'value="150.00"' in page
    assert f'href="/invoice/{invoice.pk}/paper/"' in page
    answer = post(counter_client, form_key, address)
    assert answer.status_code == 422
    assert "150.00 is still to be paid" in summary(answer)[0]
    assert 'name="owing_ok"' in says(answer)
    answer = post(
        counter_client, form_key, f"/invoice/{invoice.pk}/payment/", amount="150", method="card", then=ready.pk
    )
    assert answer["Location"] == address
    assert "Paid in full" in says(counter_client.get(address))
    assert post(counter_client, form_key, address).status_code == 302
    ready.refresh_from_db()
    assert ready.state == Job.State.PICKED_UP
    assert counter_client.get(f"/invoice/{invoice.pk}/paper/").content.startswith(b"%PDF-")


def test_a_board_may_leave_owing_if_somebody_says_so(ready, counter, counter_client, form_key):
    issue(ready, by=counter)
    answer = post(counter_client, form_key, f"/job/{ready.pk}/pick-up/", owing_ok="on")
    assert answer.status_code == 302
    assert "€150.00 open" in says(counter_client.get("/money/"))


def test_a_double_tap_issues_and_pays_once(ready, counter_client, form_key):
    key = {"submission_key": form_key()}
    for _ in range(2):
        assert counter_client.post(f"/job/{ready.pk}/invoice/", key).status_code == 302
    invoice = Invoice.objects.get()
    key = {"submission_key": form_key(), "amount": "20", "method": "cash"}
    for _ in range(2):
        assert counter_client.post(f"/invoice/{invoice.pk}/payment/", key).status_code == 302
    assert Payment.objects.filter(kind="payment").count() == 1


def test_two_windows_issue_one_invoice(ready, counter_client, form_key):
    for _ in range(2):
        assert post(counter_client, form_key, f"/job/{ready.pk}/invoice/").status_code == 302
    assert Invoice.objects.count() == 1


WRONG_MONEY = [
    ("", "is empty"),
    ("0", "above zero"),
    ("-20", "must not be below zero"),
    ("twenty", "cannot be read"),
    ("20 g", "cannot be read"),
    ("1,500", "does 1,500 mean"),
    ("10.005", "does 10.005 mean"),
    ("150.01", "Only 150.00 is left"),
    ("9" * 10_000, "too long"),
]


@pytest.mark.parametrize(("typed", "says_so"), WRONG_MONEY)
def test_a_wrong_amount_is_a_sentence_and_no_receipt(ready, counter, counter_client, form_key, typed, says_so):
    invoice = issue(ready, by=counter)
    answer = post(counter_client, form_key, f"/invoice/{invoice.pk}/payment/", amount=typed, method="cash")
    assert answer.status_code == 422
    assert len(summary(answer)) == 1
    assert says_so in summary(answer)[0]
    page = says(answer)
    assert re.search(r'value="cash"[^>]*checked', page)
    assert "<title>Error: " in page
    assert Payment.objects.filter(kind="payment").count() == 0
    assert NumberSeries.objects.get(key="receipt").next_number == 2


def test_how_it_is_paid_must_be_said(ready, counter, counter_client, form_key):
    invoice = issue(ready, by=counter)
    for method in ("", "shells"):
        answer = post(counter_client, form_key, f"/invoice/{invoice.pk}/payment/", amount="20", method=method)
        assert answer.status_code == 422
        assert 'value="20"' in says(answer)


def test_a_deposit_is_taken_from_the_job_and_leads_to_its_receipt(versions, counter, counter_client, form_key):
    job = priced(counter, versions, "200.00")
    assert 'value="60.00"' in says(counter_client.get(f"/job/{job.pk}/deposit/"))
    answer = post(counter_client, form_key, f"/job/{job.pk}/deposit/", amount="60,00", method="card")
    taken = Payment.objects.get()
    assert answer["Location"] == f"/payment/{taken.pk}/"
    page = says(counter_client.get(answer["Location"]))
    assert "€60.00" in page
    assert counter_client.get(f"/payment/{taken.pk}/paper/").content == bytes(taken.document.pdf)
    answer = post(counter_client, form_key, f"/job/{job.pk}/deposit/", amount="141", method="card")
    assert "at most 140.00" in summary(answer)[0]


def test_the_list_shows_what_is_open_and_finds_by_number_name_and_tag(ready, versions, counter, bench, counter_client):
    first = issue(ready, by=counter)
    second = issue(finished(priced(counter, versions, "80.00", customer=seed.customer("Tomás")), bench), by=counter)
    pay(second, "80.00", counter)
    page = says(counter_client.get("/money/"))
    assert first.number in page
    assert second.number not in page
    assert second.number in says(counter_client.get("/money/?show=invoices"))
    assert f"R{TODAY.year}-0002" in says(counter_client.get("/money/?show=receipts"))
    for words in (second.number, "tomás", second.jobs.get().takein.tag):
        found = says(counter_client.get("/money/", {"q": words, "show": "invoices"}))
        assert second.number in found
        assert first.number not in found
    assert "Nothing found" in says(counter_client.get("/money/", {"q": "\0 nobody", "show": "receipts"}))


def test_the_list_asks_as_much_of_two_as_of_many(versions, counter, bench, counter_client):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    counts = []
    for more in (2, 6):
        for _ in range(more):
            issue(finished(priced(counter, versions, "80.00"), bench), by=counter)
        with CaptureQueriesContext(connection) as queries:
            counter_client.get("/money/")
        counts.append(len(queries))
    assert counts[0] == counts[1]


def test_a_wrong_invoice_is_credited_from_its_page(ready, counter, counter_client, form_key):
    invoice = issue(ready, by=counter)
    answer = post(counter_client, form_key, f"/invoice/{invoice.pk}/credit/", reason="", line_1="10")
    assert answer.status_code == 422
    assert 'value="10"' in says(answer)
    answer = post(counter_client, form_key, f"/invoice/{invoice.pk}/credit/", reason="scratch", line_1="200.01")
    assert "up to 200.00" in summary(answer)[0]
    answer = post(counter_client, form_key, f"/invoice/{invoice.pk}/credit/", reason="scratch of ours", line_1="10")
    note = Invoice.objects.get(kind="credit")
    assert answer["Location"] == f"/invoice/{note.pk}/"
    assert "scratch of ours" in says(counter_client.get(answer["Location"]))
    assert billing.balance(invoice) == 140
    post(counter_client, form_key, f"/invoice/{invoice.pk}/credit/", reason="all wrong")
    assert "Credited altogether" in says(counter_client.get(f"/invoice/{invoice.pk}/"))
    answer = post(counter_client, form_key, f"/invoice/{invoice.pk}/credit/", reason="again")
    assert answer.status_code == 422


def test_the_work_is_stopped_and_the_rest_paid_back(versions, counter, counter_client, form_key):
    job = priced(counter, versions, "200.00")
    deposit(job, "90.00", counter)
    answer = post(
        counter_client, form_key, f"/job/{job.pk}/stop/", words="wet through", amount="200.01", how="by phone"
    )
    assert "between 0 and the agreed price" in summary(answer)[0]
    answer = post(counter_client, form_key, f"/job/{job.pk}/stop/", words="wet through", amount="30", how="by phone")
    assert answer["Location"] == f"/job/{job.pk}/pick-up/"
    post(counter_client, form_key, f"/job/{job.pk}/invoice/")
    invoice = Invoice.objects.get()
    page = says(counter_client.get(f"/job/{job.pk}/pick-up/"))
    assert "€60.00 is to be paid back" in page
    answer = post(
        counter_client,
        form_key,
        f"/invoice/{invoice.pk}/pay-back/",
        amount="60",
        method="transfer",
        reason="",
        then=job.pk,
    )
    assert answer["Location"] == f"/job/{job.pk}/pick-up/"
    assert billing.balance(invoice) == 0


def test_a_stop_below_cost_says_so_on_its_page(versions, counter, bench, counter_client, form_key):
    job = priced(counter, versions, "200.00")
    b.finish_step(step=job.steps.first(), minutes=D(240), signed=Signed(bench, timezone.now()), rest_as_planned=False)
    page = says(counter_client.get(f"/job/{job.pk}/stop/"))
    assert "below the 124.00 it cost so far" in page
    entries = {"words": "wet through", "amount": "30", "how": "by phone"}
    answer = post(counter_client, form_key, f"/job/{job.pk}/stop/", **entries)
    assert "below the 124.00 it cost so far. Is that meant?" in summary(answer)[0]
    assert 'name="below_cost"' in says(answer)
    answer = post(counter_client, form_key, f"/job/{job.pk}/stop/", **entries, below_cost="on")
    assert answer["Location"] == f"/job/{job.pk}/pick-up/"


def test_another_day_is_promised_from_the_job(versions, counter, counter_client, form_key):
    job = priced(counter, versions, "200.00")
    day = job.promised_on + timedelta(days=2)
    answer = post(counter_client, form_key, f"/job/{job.pk}/promise/", day="soon", how="by phone")
    assert answer.status_code == 422
    assert 'value="soon"' in answer.content.decode()
    answer = post(counter_client, form_key, f"/job/{job.pk}/promise/", day=day.isoformat(), how="by phone")
    assert answer["Location"] == f"/job/{job.pk}/"
    job.refresh_from_db()
    assert job.promised_on == day


def test_stopped_for_nothing_pays_the_whole_deposit_back(versions, counter, counter_client, form_key):
    job = priced(counter, versions, "200.00")
    deposit(job, "90.00", counter)
    post(counter_client, form_key, f"/job/{job.pk}/stop/", words="sells it", amount="0", how="at the counter")
    page = says(counter_client.get(f"/job/{job.pk}/pick-up/"))
    assert "€90.00 is to be paid back" in page
    post(counter_client, form_key, f"/job/{job.pk}/pay-back/", amount="90", method="cash", reason="")
    assert billing.on_account(job) == 0


def test_several_boards_of_one_payer_go_on_one_invoice(versions, counter, bench, counter_client, form_key):
    school = seed.customer("Old Harbour Surf School")
    school.save()
    one, two = (
        finished(priced(counter, versions, price, customer=seed.customer(name), payer=school), bench)
        for name, price in (("Eoin", "80.00"), ("Aoife", "120.00"))
    )
    page = says(counter_client.get(f"/job/{one.pk}/pick-up/"))
    assert f"With tag {two.takein.tag}" in page
    post(counter_client, form_key, f"/job/{one.pk}/invoice/", **{f"also_{two.pk}": "on"})
    assert Invoice.objects.get().gross == 200


def test_a_finished_job_says_what_an_hour_earned(versions, stocked, counter, bench, counter_client, bench_client):
    job = priced(counter, versions, "227.00")
    b.finish_step(step=job.steps.first(), minutes=D(90), signed=Signed(bench, timezone.now()), rest_as_planned=False)
    assert "It cost so far" in says(counter_client.get(f"/job/{job.pk}/"))
    finished(job, bench)
    # The release check adds its six planned minutes: 96 min at 22 + 9 an hour. (200.00 - 14.40) / 1.6 h = 116.00, less
    # the sundries that were booked with it.
    moved = Movement.objects.filter(step_uses__step__job=job)
    sundries = -sum(movement.value for movement in moved)
    assert 1 < sundries < 10
    page = says(counter_client.get(f"/job/{job.pk}/"))
    assert "An hour earned" in page
    assert f"€{(D('185.60') - sundries) / D('1.6'):.2f}" in page
    assert "earned" not in says(bench_client.get(f"/job/{job.pk}/"))


# Two minutes


QUICK = {f"m_{name}": typed for name, typed in RAIL_DING.items()} | {
    "recipe": "ding-rail-small", "board_core": "pu", "board_resin": "polyester", "customer": "", "method": "cash",
    "price_by_hand": "", "price_reason": "",
}  # fmt: skip


def test_a_plug_in_two_minutes_two_taps_after_measuring(versions, stocked, counter_client, form_key):
    assert "Leash plug" in says(counter_client.get("/quick/"))
    answer = post(counter_client, form_key, "/quick/", **QUICK)
    assert answer.status_code == 200
    page = says(answer)
    shown = page.split('name="shown" value="')[1].split('"')[0]
    assert f"Paid: €{D(shown):.2f}" in page
    assert not Job.objects.exists()
    answer = post(counter_client, form_key, "/quick/", **QUICK, shown=shown, pay="1")
    taken = Payment.objects.get()
    assert answer["Location"] == f"/payment/{taken.pk}/"
    page = says(counter_client.get(answer["Location"]))
    assert "Open the receipt" in page
    assert "Open the invoice" in page
    assert taken.amount == D(shown)
    assert Job.objects.get().state == Job.State.PICKED_UP


def test_a_two_minute_job_keeps_what_was_typed_when_it_is_refused(versions, stocked, counter_client, form_key):
    for wrong, field, sentence in (
        ({"m_depth": "ten"}, "m_depth", "cannot be read"),
        ({"m_depth": "200 mm"}, "m_depth", "is unusual"),
        ({"m_depth": "3 m"}, "m_depth", "is a slip"),
        ({"m_depth": ""}, "m_depth", "is empty"),
        ({"price_by_hand": "20", "price_reason": ""}, "price_reason", "needs a reason"),
        ({"board_core": "eps"}, "", ""),
    ):
        answer = post(counter_client, form_key, "/quick/", **{**QUICK, **wrong}, shown="100.00", pay="1")
        assert answer.status_code == 422, wrong
        assert 'value="50 mm"' in says(answer)
        if field:
            assert any(sentence in said for said in summary(answer)), (wrong, summary(answer))
    assert not Payment.objects.exists()
    assert not Job.objects.exists()


@pytest.mark.parametrize("button", [{}, {"shown": "100.00", "pay": "1"}])
def test_too_few_minutes_are_said_at_once_with_all_else(versions, stocked, counter_client, form_key, button):
    """A tenth of a minute for each of up to sixteen steps of a small ding: 1.6."""
    said = summary(post(counter_client, form_key, "/quick/", **{**QUICK, "m_depth": "", "minutes": "0.2"}, **button))
    assert len(said) == 2, said
    assert "Minutes must be at least 1.6" in said[1]
    alone = post(counter_client, form_key, "/quick/", **{**QUICK, "minutes": "0.2"}, **button)
    assert alone.status_code == 422
    assert summary(alone) == ["Minutes must be at least 1.6, a tenth for each step, like 5."]
    assert 'value="0.2"' in says(alone)


@pytest.mark.parametrize("button", [{}, {"shown": "100.00", "pay": "1"}])
def test_a_two_minute_job_says_all_that_is_wrong_at_once(versions, stocked, counter_client, form_key, button):
    wrong = {
        "m_length": "ten", "m_depth": "", "price_by_hand": "20", "price_reason": "", "took": "20", "minutes": "15",
    }  # fmt: skip
    answer = post(counter_client, form_key, "/quick/", **{**QUICK, **wrong}, **button)
    assert answer.status_code == 422
    said = summary(answer)
    for sentence in ("cannot be read", "is empty", "needs a reason", "picked as 20 and typed too"):
        assert sum(sentence in one for one in said) == 1, said
    assert len(said) == 4, said


def test_the_minutes_of_a_two_minute_job_are_picked_or_typed(versions, stocked, counter_client, form_key):
    entries = {**QUICK, "price_by_hand": "75", "price_reason": "a regular", "shown": "75.00", "pay": "1"}
    answer = post(counter_client, form_key, "/quick/", **entries, took="20", minutes="15")
    assert "picked as 20 and typed too" in summary(answer)[0]
    assert 'value="15"' in says(answer)
    for said, minutes in (({"took": "10"}, 10), ({"minutes": "15"}, 15), ({"minutes": "0.5 h"}, 30), ({}, None)):
        answer = post(counter_client, form_key, "/quick/", **entries, **said)
        assert answer.status_code == 302, summary(answer)
        truth = billing.job_truth(Job.objects.latest("pk"))
        assert truth.hands_known == (minutes is not None)
        assert minutes is None or truth.real.minutes == minutes
    assert "not known" in says(counter_client.get(f"/job/{Job.objects.latest('pk').pk}/"))


def test_money_is_not_taken_at_a_price_nobody_saw(versions, stocked, counter_client, form_key):
    for shown in ("1.00", "", "x"):
        answer = post(counter_client, form_key, "/quick/", **QUICK, shown=shown, pay="1")
        assert answer.status_code == 422
    assert not Payment.objects.exists()


def test_below_cost_is_asked_about_once(versions, stocked, counter_client, form_key):
    entries = {**QUICK, "price_by_hand": "25", "price_reason": "a regular", "shown": "25.00", "pay": "1"}
    answer = post(counter_client, form_key, "/quick/", **entries)
    assert "below the expected cost" in summary(answer)[0]
    assert 'name="below_cost"' in says(answer)
    assert post(counter_client, form_key, "/quick/", **entries, below_cost="on").status_code == 302
    assert Payment.objects.get().amount == 25


# The books


def test_every_way_of_spoiling_what_a_job_or_a_credit_note_says_is_found(versions, stocked, counter, bench):
    job = priced(counter, versions, "100.00")
    b.finish_step(step=job.steps.get(operation="laminate"), minutes=D(9), signed=Signed(bench, LATER))
    invoice = issue(finished(job, bench), by=counter)
    for amounts in ({1: D("33.33")}, {1: D("33.33")}, None):
        billing.credit_invoice(invoice=invoice, reason="test", amounts=amounts, signed=Signed(counter, LATER))
    undone = b.record_use(
        step=job.steps.first(), material=StepUse.objects.first().material, quantity=D(2), signed=Signed(bench, LATER)
    )
    b.undo_use(use=undone, signed=Signed(bench, LATER))
    assert books.problems() == []
    use = StepUse.objects.filter(undone_at__isnull=True, cost__gt=0).first()
    spoilt = [
        (StepUse, use.pk, {"cost": use.cost + 1}, "its movements make"),
        (StepUse, use.pk, {"used": use.used + 1}, "its movements make something else"),
        (StepUse, use.pk, {"undone_at": LATER}, "its stock is still out"),
        (Invoice, Invoice.objects.filter(kind="credit").last().pk, {"gross": D("-1")}, "gross is kept as"),
        (
            InvoiceLine,
            InvoiceLine.objects.filter(invoice__kind="credit").first().pk,
            {"amount": D("-1")},
            "quantity times",
        ),
        (Invoice, invoice.pk, {"sequence": 7}, "would go on"),
        (Document, invoice.document_id, {"content": {}}, "is not what the paper was made from"),
        (Document, invoice.document_id, {"pdf": b"other"}, "another hash"),
    ]
    for model, pk, wrong, sentence in spoilt:
        right = {name: getattr(model.objects.get(pk=pk), name) for name in wrong}
        model.objects.filter(pk=pk).update(**wrong)
        found = books.problems()
        assert any(sentence in said for said in found), (wrong, found)
        with pytest.raises(SystemExit):
            call_command("check_books")
        model.objects.filter(pk=pk).update(**right)
    assert books.problems() == []


def test_a_receipt_that_says_another_amount_is_found(versions, counter):
    job = priced(counter, versions, "100.00")
    taken = deposit(job, "30.00", counter)
    Payment.objects.filter(pk=taken.pk).update(amount=D("31"))
    assert any("printed as 30" in said for said in books.problems())


def test_a_shop_that_changes_its_prices_keeps_its_books_right(profile, versions, counter, bench):
    issue(finished(priced(counter, versions, "100.00"), bench), by=counter)
    Profile.objects.update(prices_include_tax=False)
    issue(finished(priced(counter, versions, "100.00"), bench), by=counter)
    assert [i.gross for i in Invoice.objects.order_by("pk")] == [D("100.00"), D("113.50")]
    assert books.problems() == []


def test_a_shop_that_comes_to_other_rounding_keeps_its_books_right(profile, versions, counter, bench):
    # 2.30 × 15 % = 0.345: New Zealand drops the half cent, Australia would not. Goods and Services Tax Act 1985 (New
    # Zealand), section 19O; A New Tax System (Goods and Services Tax) Act 1999 (Australia), section 9-90.
    Profile.objects.update(tax_profile="nz-gst", prices_include_tax=False)
    TaxRate.objects.filter(for_repairs=True).update(percent=D(15))
    invoice = issue(finished(priced(counter, versions, "2.30"), bench), by=counter)
    assert invoice.tax == D("0.34")
    Profile.objects.update(tax_profile="au-gst")
    assert books.problems() == []
    assert billing.credit_invoice(invoice=invoice, reason="test", signed=Signed(counter, LATER)).tax == D("-0.34")
    for paper in Invoice.objects.all():  # as it was before the rule was kept
        sums = {key: value for key, value in paper.frozen["totals"].items() if key not in ("tie", "tax_per")}
        frozen = {**paper.frozen, "totals": sums}
        Invoice.objects.filter(pk=paper.pk).update(frozen=frozen)
        Document.objects.filter(pk=paper.document_id).update(content=frozen)
    assert books.problems() == []
