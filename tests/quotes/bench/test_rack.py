"""The rack: every board in the shop once, under what it waits for, and no price where none belongs."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from quotes import bench as b
from quotes import billing, quoting
from quotes.bench.job.rack import on_the_rack
from quotes.bench.plan.reserving import late_finish
from quotes.estimating import shop_calendar
from quotes.models import Job, Outlook, Step, TakeIn
from shop.models import Board, Customer, JournalEntry, Profile
from shop.platform.acts import Refused, Signed
from tests import sample_shop
from tests.conftest import NOW, TODAY, the_day
from tests.quotes import seed
from tests.quotes.benches import step_of
from tests.quotes.billing.test_billing import LATER, finished, priced
from tests.quotes.conftest import take_in
from tests.reading import says

D = Decimal


def where(at=NOW, money=True) -> dict[str, list[str]]:
    """Tags under each group."""
    return {group.key: [bar.takein.tag for bar in group.bars] for group in on_the_rack(at, money=money) if group.bars}


def bar(key: str, at=NOW, money=True):
    group = next(group for group in on_the_rack(at, money=money) if group.key == key)
    return group.bars[0]


def test_a_board_just_come_in_is_to_be_priced(takein):
    assert where() == {"price": ["001"]}
    assert bar("price").words == "Just come in, no quote yet"


def test_a_draft_is_to_be_priced_and_a_sent_quote_waits_for_an_answer(quote, counter):
    assert bar("price").words == "Quote being written"
    quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    assert where() == {"answer": ["001"]}
    waiting = bar("answer")
    prices = sorted(way.gross for way in quote.boards.get().ways.all())
    assert (waiting.least, waiting.most, waiting.ways) == (prices[0], prices[1], 2)
    assert (bar("answer", money=False).least, bar("answer", money=False).most) == (None, None)
    assert "was held until" in bar("answer", at=NOW + timedelta(days=20)).words


def test_a_declined_board_goes_home_as_it_is(sent, counter):
    quoting.decline_quote(quote=sent, reason="too dear", signed=Signed(counter, NOW))
    assert bar("ready").words == "Declined, goes home as it is"


def test_an_agreed_job_wants_hands_and_cures_by_itself(job, bench):
    assert where() == {"hands": ["001"]}
    for operation in ("inspect", "rout", "pour-foam"):
        b.finish_step(step=step_of(job, operation), minutes=D(10), signed=Signed(bench, NOW))
    curing = bar("curing", at=NOW + timedelta(minutes=5))
    assert curing.words == f"Level the fill flush from {timezone.localtime(NOW + timedelta(days=1)):%a %H:%M}"
    assert (curing.done, curing.total) == (3, job.steps.count())
    assert where(at=NOW + timedelta(hours=24)) == {"hands": ["001"]}


def test_a_running_window_says_until_when_and_a_missed_one_says_sand_first(job, bench):
    for step in job.steps.order_by("position"):
        if step.operation == "hot-coat":
            break
        b.finish_step(step=step, minutes=D(10), signed=Signed(bench, NOW))
    coat = step_of(job, "hot-coat")
    assert f"Hot coat, by {timezone.localtime(coat.latest_at):%a} " in bar("hands", at=coat.earliest_at).words
    assert bar("hands", at=coat.latest_at + timedelta(minutes=1)).words == "Window over, sand first: Hot coat"


def test_what_turned_up_waits_for_its_price_then_for_the_customer(job, bench, counter):
    extra = b.note_found(job=job, words="Wet foam further in", signed=Signed(bench, NOW))
    assert bar("price").words == "Turned up: Wet foam further in"
    b.price_extra(extra=extra, price=D("60.00"), signed=Signed(counter, NOW))
    assert bar("answer").words == "Extra: Wet foam further in"
    b.answer_extra(extra=extra, agreed=True, how="by phone", signed=Signed(counter, NOW))
    assert where() == {"hands": ["001"]}


def test_a_window_goes_on_running_while_an_extra_waits(job, bench):
    for step in job.steps.order_by("position"):
        if step.operation == "hot-coat":
            break
        b.finish_step(step=step, minutes=D(10), signed=Signed(bench, NOW))
    b.note_found(job=job, words="Leash plug loose", signed=Signed(bench, NOW))
    hands = bar("hands", at=step_of(job, "hot-coat").earliest_at)
    assert hands.also == "Something turned up, to be priced"


def test_a_finished_board_says_what_is_still_to_pay(versions, counter, bench):
    job = priced(counter, versions, "200.00")
    billing.take_deposit(job=job, amount=D("50.00"), method="cash", signed=Signed(counter, NOW))
    finished(job, bench)
    assert bar("ready", at=LATER).due.amount == 150
    assert bar("ready", at=LATER, money=False).due is None
    invoice = billing.issue_invoice(jobs=[job], signed=Signed(counter, LATER))
    billing.pay(invoice=invoice, amount=D("100.00"), method="cash", signed=Signed(counter, LATER))
    assert bar("ready", at=LATER).due.amount == 50
    b.pick_up(job=job, signed=Signed(counter, LATER), owing_ok=True)
    assert where(at=LATER) == {}


def test_a_stopped_board_owes_the_work_done(versions, counter):
    job = priced(counter, versions, "200.00")
    b.stop_job(job=job, amount=D("40.00"), how="by phone", signed=Signed(counter, NOW))
    assert (bar("ready").due.amount, bar("ready").words) == (40, "Stopped after opening")


def test_money_owed_to_the_customer_is_not_called_to_pay(versions, counter, counter_client):
    job = priced(counter, versions, "200.00")
    billing.take_deposit(job=job, amount=D("64.00"), method="cash", signed=Signed(counter, NOW))
    b.stop_job(job=job, amount=D("40.00"), how="by phone", signed=Signed(counter, NOW))
    for invoiced in (False, True):
        if invoiced:
            billing.issue_invoice(jobs=[job], signed=Signed(counter, LATER))
        html = says(counter_client.get("/"))
        assert '<b>€24.00</b><span class="hint">to give back</span>' in html
        assert "-€24.00" not in html
        assert "-€24.00" not in says(counter_client.get(f"/job/{job.pk}/"))
        assert "-€24.00" not in says(counter_client.get(f"/job/{job.pk}/pick-up/"))
    assert "€24.00 to be paid back" in says(counter_client.get("/money/"))
    assert "-€24.00" not in says(counter_client.get("/money/"))


def test_the_sum_of_a_joint_invoice_is_said_once_with_its_number(versions, counter, bench, counter_client):
    school = seed.customer("Old Harbour Surf School")
    school.save()
    jobs = [finished(priced(counter, versions, price, customer=school), bench) for price in ("80.00", "120.00")]
    billing.issue_invoice(jobs=jobs, signed=Signed(counter, LATER))
    first, second = jobs[0].takein.tag, jobs[1].takein.tag
    html = says(counter_client.get("/"))
    assert html.count('<b>€200.00</b><span class="hint">to pay</span>') == html.count("€200.00") == 1
    assert html.count("on the same invoice") == 1
    assert f"Invoice {LATER.year}-0001, with tag {second}" in html
    assert f"Invoice {LATER.year}-0001, with tag {first}" in html
    b.pick_up(job=jobs[0], signed=Signed(counter, LATER), owing_ok=True)
    html = says(counter_client.get("/"))
    assert "<b>€200.00</b>" in html
    assert "on the same invoice" not in html


def test_a_board_that_costs_nothing_is_not_called_paid(versions, counter, bench, counter_client):
    job = finished(priced(counter, versions, "80.00"), bench)
    b.charge_nothing(job=job, reason="goodwill", signed=Signed(counter, LATER))
    assert "Nothing to pay" in says(counter_client.get("/"))


def test_steps_are_counted_in_one_way(job, bench, bench_client):
    for done in (0, 1):
        answer = bench_client.get(f"/job/{job.pk}/")
        total, later = job.steps.count(), answer.context["later"]
        assert f"{done} of {total} steps done" in says(answer)
        assert f"{len(later)} more after that" in says(answer)
        assert len(answer.context["ahead"]) + len(later) == total - done
        assert f"{total - done} steps are still ahead" in says(bench_client.get(f"/job/{job.pk}/release/"))
        b.finish_step(step=job.steps.exclude(state="done").first(), minutes=D(5), signed=Signed(bench, NOW))


def test_a_stopped_job_is_not_counted_as_done(job, bench, counter, counter_client):
    for step in list(job.steps.order_by("position")[:3]):
        b.finish_step(step=step, minutes=D(5), signed=Signed(bench, NOW), rest_as_planned=False)
    b.stop_job(job=job, amount=D(40), how="by phone", signed=Signed(counter, NOW))
    for page in ("/", f"/job/{job.pk}/"):
        html = says(counter_client.get(page))
        assert "3 steps done, the others left out" in html
        assert "3 of 3" not in html


def test_what_was_promised_first_comes_first(versions, counter):
    late, soon = priced(counter, versions, "90.00"), priced(counter, versions, "90.00")
    Job.objects.filter(pk=late.pk).update(promised_on=NOW.date() + timedelta(days=9))
    Job.objects.filter(pk=soon.pk).update(promised_on=NOW.date() + timedelta(days=2))
    assert where()["hands"] == [soon.takein.tag, late.takein.tag]
    assert not bar("hands").late
    Job.objects.filter(pk=soon.pk).update(promised_on=NOW.date() - timedelta(days=1))
    assert bar("hands").late


def earliest(job):
    """The earliest day that the cures allow, where it is after the day promised."""
    job = Job.objects.get(pk=job.pk)
    return late_finish(job, today=TODAY, calendar=shop_calendar())


@pytest.mark.calendar
def test_a_promise_that_the_cures_cannot_keep_is_said_before_it_is_broken(job):
    # Wed 25 Nov; 20 steps with a day of cure after foam, laminate and hot coat
    assert earliest(job) is None
    Job.objects.filter(pk=job.pk).update(promised_on=NOW.date() + timedelta(days=1))
    first = earliest(job)
    assert first is not None
    assert first > NOW.date() + timedelta(days=1)
    Job.objects.filter(pk=job.pk).update(promised_on=first)
    assert earliest(job) is None


def test_the_job_says_that_its_cures_will_break_a_promise(job, counter_client, bench_client):
    Job.objects.filter(pk=job.pk).update(promised_on=timezone.localdate())
    page = says(counter_client.get(f"/job/{job.pk}/"))
    assert "makes it ready on" in page
    assert "and promise another day" in page
    bench_sees = says(bench_client.get(f"/job/{job.pk}/"))
    assert "makes it ready on" in bench_sees
    assert "and promise another day" not in bench_sees


def test_no_promise_is_in_danger_when_it_is_kept_or_over_or_was_never_given(job, bench):
    far = NOW.date() + timedelta(days=60)
    for promised in (None, far, NOW.date() - timedelta(days=1)):
        Job.objects.filter(pk=job.pk).update(promised_on=promised)
        assert earliest(job) is None
    Job.objects.filter(pk=job.pk).update(promised_on=NOW.date())
    Profile.objects.update(working_days=list(range(7)))  # whatever day today is
    steps = list(job.steps.all())
    Step.objects.filter(pk__in=[step.pk for step in steps[1:]]).update(state=Step.State.DONE, done_at=NOW)
    assert earliest(job) is None  # one step of a few minutes, done today


def looked(**seen):
    """The outlook as it was last kept."""
    Outlook.objects.update_or_create(pk=1, defaults={"worked_at": NOW, **seen})


def kept(job, chance, day=TODAY):
    """What the outlook keeps of a job."""
    return {str(job.pk): {"chance": chance, "day": day.isoformat()}}


@pytest.mark.parametrize(
    ("chance", "risk", "words"),
    [(0.86, False, "9 in 10"), (0.5, False, "even"), (0.31, True, "promise at risk: 3 in 10"),
     (0.0, True, "promise at risk: less than 1 in 10")],
)  # fmt: skip
def test_the_rack_and_the_job_say_how_sure_a_promise_is_as_it_was_kept(job, bench_client, chance, risk, words):
    Job.objects.filter(pk=job.pk).update(promised_on=TODAY)
    helps = [{"job": job.pk, "words": "Ring the customer."}] if risk else []
    looked(jobs=kept(job, chance), helps=helps)
    for page in ("/", f"/job/{job.pk}/"):
        html = says(bench_client.get(page))
        assert words in html
        assert (f'state late">{words}' in html) == risk, "below even it has a shape and a word"
        assert the_day(TODAY) in html
        assert ("Ring the customer." in html) == risk, "below even says what would help"


def test_a_promise_that_was_not_looked_at_or_is_past_has_no_chance(job, bench_client):
    tomorrow = TODAY + timedelta(days=1)
    for told, promised in (({}, TODAY), (kept(job, None), None), (None, TODAY), (kept(job, 0.9), tomorrow)):
        Outlook.objects.all().delete()
        if told is not None:
            looked(jobs=told)
        Job.objects.filter(pk=job.pk).update(promised_on=promised)
        for page in ("/", f"/job/{job.pk}/"):
            assert "in 10" not in says(bench_client.get(page))
    looked(jobs=kept(job, 0.2, TODAY - timedelta(days=1)))
    Job.objects.filter(pk=job.pk).update(promised_on=TODAY - timedelta(days=1))
    assert "is past" in says(bench_client.get("/"))
    for page in ("/", f"/job/{job.pk}/"):
        assert "in 10" not in says(bench_client.get(page))


def test_another_day_is_promised_once_the_customer_knows(job, counter, bench):
    day = job.promised_on + timedelta(days=3)
    for wrong, told, sentence in (
        (NOW.date() - timedelta(days=1), "by phone", "lies in the past"),
        (job.promised_on, "by phone", "already promised for"),
        (day, " ", "say how the customer was told"),
    ):
        with pytest.raises(Refused, match=sentence):
            b.promise_another_day(job=job, day=wrong, how=told, signed=Signed(counter, NOW))
    with pytest.raises(PermissionDenied):
        b.promise_another_day(job=job, day=day, how="by phone", signed=Signed(bench, NOW))
    b.promise_another_day(job=job, day=day, how="by phone", signed=Signed(counter, NOW))
    job.refresh_from_db()
    assert job.promised_on == day
    assert JournalEntry.objects.latest("pk").words.endswith("the customer was told by phone")


# The page


def test_the_bench_sees_no_price_anywhere_on_its_pages(versions, stocked, counter, bench, keeper, bench_client):
    job = priced(counter, versions, "237.00", lines=(("Fin set", "43.21", "23"),))
    extra = b.note_found(job=job, words="Second ding", signed=Signed(bench, NOW))
    b.price_extra(extra=extra, price=D("61.50"), signed=Signed(counter, NOW))
    b.finish_step(step=job.steps.first(), minutes=D(7), signed=Signed(bench, NOW))
    done = finished(priced(counter, versions, "117.00"), bench)
    waiting = take_in(counter, brought_by=seed.customer("Eoin"), board=seed.fish())
    quote = quoting.start_quote(takeins=[waiting], signed=Signed(counter, NOW))
    quoting.add_way(
        board=quote.boards.get(), version=versions["ding-rail-small"], measures=job.way.parts.get().measures, signed=Signed(counter, NOW),
    )  # fmt: skip
    quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
    pages = ["/", f"/job/{job.pk}/", f"/job/{done.pk}/", f"/job/extra/{extra.pk}/", f"/job/{job.pk}/release/"]
    pages += ["/today/", *(f"/step/{step.pk}/" for step in job.steps.all()[:4])]
    pages += [f"/step/{job.steps.first().pk}/{page}/" for page in ("use", "again", "not-needed")]
    secrets = ["€", "237", "43.21", "61.50", "117", str(job.way.cost), str(job.way.net), "earned", "cost"]
    for page in pages:
        answer = bench_client.get(page)
        assert answer.status_code == 200, page
        html = re.sub(r'name="(submission_key|csrfmiddlewaretoken)" value="[^"]*"', "", answer.content.decode())
        html = re.sub(r'(href|action)="[^"]*"|value="\d+"', "", html)  # the key of a row may look like a price
        html = re.sub(r"<svg.*?</svg>", "", html, flags=re.DOTALL)  # and so may a line of a drawing
        for secret in secrets:
            assert secret not in html, (page, secret)
    assert f'href="/take-in/{waiting.pk}/"' in bench_client.get("/").content.decode()


@pytest.mark.parametrize("name", ["pick-up", "deposit", "invoice", "stop", "another-way", "pay-back"])
def test_the_bench_opens_no_page_of_money(job, bench_client, name):
    assert bench_client.get(f"/job/{job.pk}/{name}/").status_code == 403
    assert bench_client.get("/money/").status_code == 403
    assert bench_client.get("/quick/").status_code == 403


def test_the_rack_is_read_from_top_to_bottom(job, counter_client):
    html = counter_client.get("/").content.decode()
    assert "On the rack" in html
    assert "Niamh Brennock, 5′6″ fish" in html
    assert f'href="/step/{job.steps.first().pk}/"' in html
    assert "0 of 19 steps done" in html


def many_boards(by, agreed: Job, count: int, letter: str) -> None:
    """So many boards on the rack: some come in, most with a job of twenty steps."""
    owner = Customer.objects.create(name="Old Harbour Surf School")
    boards = Board.objects.bulk_create(
        Board(owner=owner, name=f"Board {n}", length_mm=D(1800), width_mm=D(500)) for n in range(count)
    )
    takeins = TakeIn.objects.bulk_create(
        TakeIn(tag=f"{letter}{n}", board=board, brought_by=owner, received_at=NOW, by=by)
        for n, board in enumerate(boards)
    )
    jobs = Job.objects.bulk_create(
        Job(takein=takein, way=agreed.way, agreed_at=NOW, by=by, state="open" if n % 3 else "finished",
            finished_at=None if n % 3 else NOW)
        for n, takein in enumerate(takeins) if n % 4
    )  # fmt: skip
    Step.objects.bulk_create(
        Step(job=job, part=None, position=n, operation="sand", title=f"Step {n}", state="done" if n < 3 else "todo")
        for job in jobs for n in range(20)
    )  # fmt: skip


def test_the_rack_asks_as_much_of_five_boards_as_of_five_hundred(job, counter, counter_client):
    asked = []
    for more, letter in ((5, "F"), (495, "M")):
        many_boards(counter, job, more, letter)
        with CaptureQueriesContext(connection) as queries:
            assert counter_client.get("/").status_code == 200
        asked.append(len(queries))
    assert asked[0] == asked[1]
    assert asked[0] <= 28  # session, login and the shop's own row among them


def test_a_long_group_is_cut_and_shown_whole_on_its_own(job, counter, counter_client):
    many_boards(counter, job, 120, "M")
    html = counter_client.get("/").content.decode()
    assert "more: hands wanted now" in html
    whole = counter_client.get("/?only=hands").content.decode()
    assert whole.count('class="bar"') == 61  # 120 boards: 90 with a job, of which 30 are finished, and the keels
    assert "Ready to collect" not in whole


def test_a_shop_without_any_price_is_told_where_to_begin(profile, counter_client, bench_client):
    assert "Before the first quote" in counter_client.get("/").content.decode()
    assert "Before the first quote" not in bench_client.get("/").content.decode()
    sample_shop.stock_the_store()
    assert "Before the first quote" not in counter_client.get("/").content.decode()


def test_what_is_promised_this_week_comes_first_the_first_day_at_the_top(job, counter_client):
    today = timezone.localdate()
    sunday = today + timedelta(days=6 - today.weekday())
    for promised, shown in ((today, True), (sunday, True), (today - timedelta(days=3), True),
                            (sunday + timedelta(days=1), False), (None, False)):  # fmt: skip
        Job.objects.update(promised_on=promised)
        page = counter_client.get("/")
        assert [bar.job.pk for bar in page.context["week"]] == ([job.pk] if shown else [])
        assert ("Promised this week" in says(page)) == shown
    Job.objects.update(promised_on=today, state=Job.State.FINISHED, finished_at=timezone.now())
    assert counter_client.get("/").context["week"] == []


def test_who_was_rung_and_when_is_one_tap_on_the_job_and_shown_on_it_and_on_the_rack(job, counter_client, form_key):
    Customer.objects.filter(pk=job.takein.brought_by_id).update(phone="+353 1 555 0101")
    address = f"/take-in/{job.takein_id}/rang/"
    assert 'value="left a word"' in says(counter_client.get(f"/job/{job.pk}/"))
    for what in ("left a word", "spoke"):
        answer = counter_client.post(address, {"submission_key": form_key(), "what": what})
        assert answer["Location"] == f"/job/{job.pk}/"
        for page in ("/", f"/job/{job.pk}/"):
            assert re.search(rf"Rang \w+ \d+ \w+, [\d:]+, {what}", says(counter_client.get(page)))
    entries = JournalEntry.objects.filter(verb__startswith="ring.")
    said = f"{job.takein.tag}: rang the customer"
    assert [entry.words for entry in entries] == [f"{said}, spoke", f"{said}, left a word"]


def test_nobody_is_rung_with_other_words_or_about_a_board_that_went_home(job, bench, counter, counter_client, form_key):
    address = f"/take-in/{job.takein_id}/rang/"
    counter_client.post(address, {"submission_key": form_key(), "what": "hung up"})
    with pytest.raises(PermissionDenied):
        b.rang(takein=job.takein, what=b.SPOKE, signed=Signed(bench, NOW))
    TakeIn.objects.filter(pk=job.takein_id).update(gone_at=NOW)
    with pytest.raises(Refused, match="has gone home"):
        b.rang(takein=job.takein, what=b.SPOKE, signed=Signed(counter, NOW))
    assert not JournalEntry.objects.filter(verb__startswith="ring.").exists()
    assert b.last_rung([job.takein]) == {}


def test_a_quote_that_waits_for_an_answer_is_where_a_tap_leads_back_to(sent, counter_client, form_key):
    takein = sent.boards.get().takein
    Customer.objects.update(phone="+353 1 555 0101")
    page = f"/quote/{sent.pk}/"
    assert 'value="spoke"' in says(counter_client.get(page))
    answer = counter_client.post(f"/take-in/{takein.pk}/rang/", {"submission_key": form_key(), "what": "spoke"})
    assert answer["Location"] == page
    assert re.search(r"Rang [^<]+, spoke", says(counter_client.get(page)))
