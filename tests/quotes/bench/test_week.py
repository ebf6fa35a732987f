"""The week: hours of the days, boards with their chance, what comes and is short, closed days and days away."""

from __future__ import annotations

import re
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.buying.orders import place_order
from inventory.models import Lot, Order, Pack
from quotes import bench as b
from quotes import quoting
from quotes.bench.job.week import begins, week_ahead
from quotes.models import Job, Outlook
from shop.business import hands, shop_settings
from shop.models import Absence, ClosedDay
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, logged_in, the_day
from tests.quotes import seed
from tests.quotes.ahead import in_days, seen
from tests.quotes.conftest import take_in, with_keels_agreed
from tests.reading import says

BEGINS = {"job": with_keels_agreed}
EVERY_DAY = range(7)
WEEK = "/week/"


def read(first=TODAY):
    return week_ahead(first, today=TODAY, working_days=EVERY_DAY)


def promised(job: Job, number: int) -> Job:
    Job.objects.filter(pk=job.pk).update(promised_on=in_days(number))
    return job


# --- what is read -----------------------------------------------------------------------------------------------------


def test_a_board_stands_with_its_ready_day_and_its_chance(job, bench_client):
    seen(promised(job, 5))
    (board,) = read().boards
    assert (board.ready, board.by, board.kept.words, board.mark) == (in_days(3), in_days(5), "9 in 10", "done")
    page = says(bench_client.get(WEEK))
    assert f"{the_day(in_days(3))}, promised {the_day(in_days(5))}" in page
    assert '<span class="state done">9 in 10</span>' in page


@pytest.mark.parametrize(
    ("chance", "mark"), [(0.9, "done"), (0.75, "done"), (0.6, "wait"), (0.49, "late"), (0.01, "late")]
)
def test_the_mark_of_a_chance(job, chance, mark):
    seen(promised(job, 5), chance=chance)
    assert read().boards[0].mark == mark


def test_a_promise_at_risk_says_so_with_what_would_help_and_a_day_told_since_has_no_chance(job, bench_client):
    helps = [{"job": job.pk, "words": "Ring Niamh: a day later is 8 in 10."}]
    seen(promised(job, 5), chance=0.31, helps=helps)
    page = says(bench_client.get(WEEK))
    assert '<span class="state late">promise at risk: 3 in 10</span>' in page
    assert "What would help: Ring Niamh: a day later is 8 in 10." in page
    promised(job, 6)
    assert read().boards[0].kept is None
    assert "promise at risk" not in says(bench_client.get(WEEK))


def test_a_board_stands_in_the_week_it_is_promised_for_and_one_that_is_past_in_this_one(job, bench_client):
    seen(promised(job, 9))
    assert (read().boards, [one.job for one in read().later]) == ([], [job])
    assert [one.job for one in read(in_days(7)).boards] == [job]
    promised(job, -3)
    assert [one.job for one in read().boards] == [job]
    assert '<span class="state late">is past</span>' in says(bench_client.get(WEEK))
    assert read(in_days(7)).boards == read(in_days(7)).later == []


def test_a_board_that_nobody_knows_a_day_of_stands_later(job, bench_client):
    Outlook.objects.all().delete()
    Job.objects.filter(pk=job.pk).update(promised_on=None)
    assert [one.job for one in read().later] == [job]
    assert "no day promised" in says(bench_client.get(WEEK))


def test_a_small_job_fits_on_the_first_day_after_today_with_an_hour_free(job, keeper, bench_client):
    seen(job)
    assert read().small_job_on == in_days(3)
    shop_settings.close_days(first=in_days(3), signed=Signed(keeper, NOW))
    assert read().small_job_on == in_days(4)
    assert f"A small job fits on {the_day(in_days(4))}" in says(bench_client.get(WEEK))
    full = [{"day": in_days(n).isoformat(), "open_h": 8.0, "bench_h": 6.0, "planned_h": 6.0} for n in range(28)]
    seen(job, days=full)
    assert "No day takes a small job" in says(bench_client.get(WEEK))


def test_deliveries_stand_on_the_day_they_are_expected_and_overdue_ones_on_today(job, keeper):
    pack = Pack.objects.select_related("supplier").first()
    lead = timedelta(days=pack.supplier.lead_days)
    for number, count in ((4, 2), (5, 1)):
        place_order(packs={pack: count}, ordered_on=in_days(number) - lead, signed=Signed(keeper, NOW))
    Order.objects.filter(packs=1).update(expected_on=in_days(-3))
    Order.objects.update(ordered_on=in_days(1))  # after what stands on the shelf came
    days = read().days
    assert [len(day.deliveries) for day in days] == [1, 0, 0, 0, 1, 0, 0]
    assert days[4].deliveries[0].words == f"2 × {pack.words} of {pack.material} from {pack.supplier}"
    client = logged_in(keeper)
    assert f"was due {the_day(in_days(-3))}" in says(client.get(WEEK))


def test_what_is_short_stands_on_the_day_it_is_needed(job, keeper):
    assert not any(day.short for day in read().days)
    Lot.objects.update(quantity_left=Decimal(0))
    found = [(day.day, one) for day in read().days for one in day.short]
    assert found
    assert all(one.takein == job.takein and max(one.lacking.first, TODAY) == day for day, one in found)
    page = says(logged_in(keeper).get(WEEK))
    assert f"tag {job.takein.tag}, {found[0][1].lacking.steps[0].title}" in page
    assert "will be missing" in page


def test_closed_days_and_days_away_stand_on_their_days(job, keeper, bench):
    shop_settings.close_days(first=in_days(2), reason="Stocktaking", signed=Signed(keeper, NOW))
    hands.add_absence(person=bench, first=in_days(-1), last=in_days(1), signed=Signed(keeper, NOW))
    days = read().days
    assert [day.note for day in days] == ["", "", "closed", "", "", "", ""]
    assert [len(day.away) for day in days] == [1, 1, 0, 0, 0, 0, 0]
    assert week_ahead(TODAY, today=TODAY, working_days=[]).days[0].note == "closed"
    nobody = [{"day": TODAY.isoformat(), "open_h": 0.0, "bench_h": 0.0, "planned_h": 0.0}]
    seen(job, days=nobody)
    assert [day.note for day in read().days] == ["nobody", "", "closed", "", "", "", ""]
    seen(job)  # hands that are there on a day the shop does not work are there
    assert week_ahead(TODAY, today=TODAY, working_days=[]).days[0].note == ""


@pytest.mark.parametrize(
    ("asked", "day"),
    [("", 0), ("rubbish", 0), ("9999-99-99", 0), ("0001-01-01", 0), ("9999-12-31", 21), ("2026-W01", 0)],
)
def test_a_week_begins_today_or_up_to_three_weeks_later(asked, day):
    assert begins(asked, TODAY) == in_days(day)
    assert begins(in_days(9).isoformat(), TODAY) == in_days(9)


# --- the page ---------------------------------------------------------------------------------------------------------


def test_without_an_outlook_the_page_says_so_and_shows_the_rest(job, bench_client, form_key):
    Outlook.objects.all().delete()
    promised(job, 2)
    page = says(bench_client.get(WEEK))
    assert "Nobody has looked at the bench ahead yet" in page
    assert '<svg class="chart"' not in page
    assert job.takein.tag in page
    looked = says(bench_client.post(reverse("look-again"), {"submission_key": form_key()}, follow=True))
    assert "The bench ahead is worked out as it stands now." in looked
    assert "Nobody has looked" not in looked
    assert '<svg class="chart"' in looked


def test_what_keeps_the_bench_from_being_played_is_a_sentence_and_the_page_opens(job, bench_client):
    sentence = "Job 001: the step “Hot coat” has no minutes; give it some, like 20 min."
    seen(job, trouble=sentence, jobs={}, days=[])
    page = says(bench_client.get(WEEK))
    assert sentence in page
    assert "Ready days are not known now." in page
    assert "No day takes a small job" not in page
    seen(job, trouble=f"{sentence}\nJob 001: its cure is not known.")  # played all the same, with figures of ours
    page = says(bench_client.get(WEEK))
    assert f"<p>{sentence}</p><p>Job 001: its cure is not known.</p>" in page
    assert "not known now" not in page


def test_the_drawing_has_its_figures_as_a_table_and_words_for_who_does_not_see_it(job, bench_client):
    seen(job)
    page = says(bench_client.get(WEEK))
    assert re.search(r'<svg class="chart"[^>]* role="img" aria-labelledby="days-title days-words"', page)
    assert '<title id="days-title">' in page
    assert '<desc id="days-words">' in page
    row = f'<th scope="row">{TODAY:%a} {TODAY.day}</th><td class="num">8.0</td><td class="num">6.0</td><td class="num">5.5</td>'
    assert row + '<td class="num">0.5</td>' in page


def test_the_next_weeks_are_a_link_away_and_end_after_three(bench_client):
    page = says(bench_client.get(WEEK))
    assert f'href="?from={in_days(7)}"' in page
    assert "Seven days earlier" not in page
    later = says(bench_client.get(f"{WEEK}?from={in_days(14)}"))
    assert f'href="?from={in_days(7)}"' in later
    assert f'href="?from={in_days(21)}"' in later
    last = says(bench_client.get(f"{WEEK}?from={in_days(40)}"))
    assert f"{the_day(in_days(21))} to {the_day(in_days(27))}" in last
    assert "Seven days later" not in last


def test_the_week_is_one_tap_from_the_rack(bench_client):
    assert f'href="{WEEK}"' in says(bench_client.get("/"))


def test_the_page_asks_as_often_for_many_boards(job, counter, keeper, versions):
    seen(job)
    hands.add_absence(first=TODAY, signed=Signed(keeper, NOW))
    client = logged_in(keeper)

    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert client.get(WEEK).status_code == 200
        return len(queries)

    client.get(WEEK)
    before = asked()
    for _ in range(3):
        takein = take_in(counter)
        quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
        quoting.add_way(
            board=quote.boards.get(), damage=takein.damages.get(), version=versions["glass-on-twin"],
            measures=seed.KEELS, signed=Signed(counter, NOW),
        )  # fmt: skip
        sent = quoting.send_quote(quote=quote, signed=Signed(counter, NOW))
        b.accept_way(way=sent.boards.get().ways.get(), signed=Signed(counter, NOW), how="at the counter")
    for number in range(5):
        shop_settings.close_days(first=in_days(number), signed=Signed(keeper, NOW))
        hands.add_absence(person=counter, first=in_days(number), signed=Signed(keeper, NOW))
    place_order(packs=dict.fromkeys(Pack.objects.all()[:4], 1), ordered_on=TODAY, signed=Signed(keeper, NOW))
    seen(*Job.objects.all())
    assert asked() <= before + 1  # deliveries since are asked for where anything is on order
    assert before <= 22


# --- entered on it ----------------------------------------------------------------------------------------------------


def test_days_away_are_entered_on_the_week_and_taken_back_there(bench, form_key):
    client = logged_in(bench)
    page = client.get(WEEK)
    assert "person" not in page.context["away_form"].fields
    typed = {"first": in_days(8), "last": in_days(9), "reason": "dentist", "submission_key": form_key()}
    answer = client.post(reverse("absence-new"), typed)
    assert (answer.status_code, answer["Location"]) == (302, f"{WEEK}?from={in_days(7)}")
    row = Absence.objects.get()
    assert (row.person, row.first, row.last) == (bench, in_days(8), in_days(9))
    page = says(client.get(f"{WEEK}?from={in_days(7)}"))
    assert f"is away until {the_day(in_days(9))}" in page
    assert "dentist" in page
    back = f"{reverse('absence-back', args=[row.pk])}?from={WEEK}%3Ffrom%3D{in_days(7)}"
    assert back in page
    key = form_key()
    for _ in range(2):  # a second tap of the same form
        assert client.post(back, {"submission_key": key})["Location"] == f"{WEEK}?from={in_days(7)}"
    assert not Absence.objects.exists()


def test_why_somebody_is_away_is_theirs_and_the_keepers_to_read(bench, counter, keeper):
    hands.add_absence(person=bench, first=TODAY, reason="dentist", signed=Signed(keeper, NOW))
    assert ["dentist" in says(logged_in(one).get(WEEK)) for one in (bench, counter, keeper)] == [True, False, True]
    assert ["is there after all" in says(logged_in(one).get(WEEK)) for one in (bench, counter)] == [True, False]


def test_refused_days_away_keep_what_was_typed(keeper_client, keeper, form_key):
    typed = {"person": keeper.pk, "first": in_days(3), "last": in_days(1), "submission_key": form_key()}
    answer = keeper_client.post(reverse("absence-new"), typed)
    assert answer.status_code == 422
    assert "The last day away must not lie before the first." in says(answer)
    assert f'value="{in_days(1)}"' in answer.content.decode()
    assert not Absence.objects.exists()


def test_the_shop_is_closed_and_opened_on_the_week_by_the_keeper(keeper_client, bench_client, form_key):
    answer = keeper_client.post(reverse("week-close"), {"first": in_days(1), "submission_key": form_key()}, follow=True)
    assert f"Open on {the_day(in_days(1))} after all" in says(answer)
    assert "after all" not in says(bench_client.get(WEEK))
    assert "The shop is closed" not in says(bench_client.get(WEEK))
    where = reverse("week-open", args=[ClosedDay.objects.get().pk])
    assert keeper_client.post(where, {"submission_key": form_key()})["Location"] == WEEK
    assert not ClosedDay.objects.exists()
    assert keeper_client.post(where, {"submission_key": form_key()})["Location"] == WEEK
