"""What learning was worth: the page says what the command says, and is never made while somebody waits too long."""

from __future__ import annotations

import json
import uuid
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from quotes import experience
from quotes.experience import backtesting
from quotes.models import Backtest, Job, Way
from shop.models import Board
from tests.conftest import NOW, TODAY
from tests.quotes.past import finished_jobs, shop_of_a_year
from tests.reading import says

PAGE = "/learned/backtest/"
DECK = "ding-deck-small"


def shop_with_a_past() -> dict:
    """Five jobs that took a third more than the trade says, and one of which nothing is written down."""
    made = shop_of_a_year()
    told = made["versions"][DECK], made["keeper"]
    jobs = finished_jobs(*told, 5, minutes=1.35, resin=1.2, spread=0.05) + finished_jobs(*told, 1, logged=False)
    return {**made, "past": jobs}


BEGINS = {"past": shop_with_a_past, "deck": shop_of_a_year}
pytestmark = pytest.mark.usefixtures("standing")


@pytest.fixture
def deck(versions):
    return versions[DECK]


@pytest.fixture
def past(begun):
    return begun("past")


def run(*args: object, **options: object) -> str:
    said = StringIO()
    call_command(*args, stdout=said, stderr=StringIO(), **options)
    return said.getvalue()


def push(client, key: str = ""):
    return client.post(PAGE, {"submission_key": key or str(uuid.uuid4())})


def html_of(client) -> str:
    return says(client.get(PAGE))


def test_the_page_says_what_the_command_says(past, keeper_client):
    answer = json.loads(run("backtest", json=True))
    assert Backtest.objects.get().answer == answer
    shown = keeper_client.get(PAGE).context
    assert [one.tag for one in reversed(shown["jobs"])] == [one["tag"] for one in answer["jobs"]]
    for one, job in zip(reversed(shown["jobs"]), answer["jobs"], strict=True):
        assert (one.low, one.middle, one.high) == tuple(job["learned"]["total"][q] for q in ("q10", "q50", "q90"))
        assert one.trade == job["trade"]["total"]["q50"]
        assert one.learnt_from == job["learnt_from"]
    total, summary = shown["total"], answer["summary"]
    assert total.off == pytest.approx(summary["total"]["error"] * 100)
    assert total.off == pytest.approx(sum(one.off for one in shown["jobs"]) / len(shown["jobs"]))
    assert total.trade_off == pytest.approx(sum(one.trade_off for one in shown["jobs"]) / len(shown["jobs"]))
    assert (shown["drawn_off"], shown["drawn_trade_off"]) == pytest.approx((total.off, total.trade_off))
    assert total.eight == sum(one.low <= one.real <= one.high for one in shown["jobs"]) == shown["ranges"].held
    closer = sum(abs(one.trade - one.real) - abs(one.middle - one.real) for one in shown["jobs"])
    assert shown["worth"] == pytest.approx(closer)
    assert shown["worth"] > 0
    assert shown["closer_each"] == pytest.approx(closer / 5)


def test_pictures_have_their_figures_in_a_table(past, keeper_client):
    run("backtest")
    answer = keeper_client.get(PAGE)
    html, shown = says(answer), answer.context
    assert html.count('<svg class="chart"') == 2
    assert html.count("<circle") + html.count('class="out"') == 2 * len(shown["jobs"])  # a dot in either picture
    for one in shown["jobs"]:
        assert f'href="{reverse("learned-job", args=[one.pk])}"' in html
        for figure in (f"{one.low:.2f} to {one.high:.2f}", f"{one.real:.2f}", f"{one.off:.1f} %"):
            assert figure in html
    worth = f"€{shown['worth']:.2f} closer"
    assert f"<strong>{worth}</strong>" in html
    assert f"€{shown['closer_each']:.2f} a job" in html
    assert "5 of 5" in html or "4 of 5" in html
    assert "coverage" not in html.lower()


def test_the_answer_stands_first_and_the_jobs_behind_a_tap(past, keeper_client):
    run("backtest")
    html = html_of(keeper_client).partition("<main")[2]
    assert html.index("closer</strong>") < html.index('<svg class="chart"') < html.index("<details>")
    assert html.index("<details>") < html.index('aria-label="Job by job"') < html.index("</details>")
    assert "<details open>" in says(keeper_client.get(PAGE, {"page": 1}))


def test_the_table_of_jobs_is_paged_and_the_pictures_are_not(past, keeper_client, monkeypatch):
    monkeypatch.setattr("quotes.views.learning.backtest.JOBS_SHOWN", 2)
    run("backtest")
    told, pages = keeper_client.get(PAGE).context, []
    for number in (1, 2, 3):
        answer = keeper_client.get(PAGE, {"page": number})
        pages += [one.tag for one, _ in answer.context["shown"]]
        assert len(answer.context["pairs"].pairs) == 5
        assert answer.context["worth"] == told["worth"]
    assert pages == [one.tag for one in told["jobs"]]
    assert 'href="?page=2#jobs"' in says(keeper_client.get(PAGE))


def test_one_job_is_found_by_its_tag_board_owner_or_repair(past, keeper_client):
    run("backtest")
    job = past[1]
    Board.objects.filter(pk=job.takein.board_id).update(name="7′10″ egg, lilac")
    owner = job.takein.brought_by
    Way.objects.filter(pk=job.way_id).update(title="Deck dent by the leash plug")
    for words in (job.takein.tag, "egg LILAC", f"lilac {owner.name.split()[0]}", "leash dent"):
        answer = keeper_client.get(PAGE, {"q": words})
        assert [one.pk for one, _ in answer.context["shown"]] == [job.pk], words
        assert "1 found for" in says(answer)
        assert "<details open>" in says(answer)
    answer = keeper_client.get(PAGE, {"q": "moonlight"})
    assert "Nothing found" in says(answer)
    assert "closer</strong>" in says(answer)


def test_the_button_works_it_out_once_a_tap(past, keeper_client):
    assert "6 jobs are finished; this has not been worked out yet" in html_of(keeper_client)
    key = str(uuid.uuid4())
    assert push(keeper_client, key).url == PAGE
    made = Backtest.objects.get()
    assert push(keeper_client, key).url == PAGE
    assert Backtest.objects.get().made_at == made.made_at
    assert made.answer == json.loads(run("backtest", json=True))
    assert "Worked out on" in html_of(keeper_client)
    assert "ended since" not in html_of(keeper_client)


def test_a_result_that_jobs_have_ended_since_says_so(past, keeper_client):
    run("backtest")
    Job.objects.filter(pk__in=[job.pk for job in past[:2]]).update(
        finished_at=Backtest.objects.get().made_at + timedelta(minutes=1)
    )
    assert "from 6 finished jobs; <strong>2 ended since</strong>" in html_of(keeper_client)


def test_another_cost_of_an_hour_is_not_kept(past):
    run("backtest", hourly=99.0)
    assert not Backtest.objects.exists()


def test_more_jobs_than_can_be_waited_for_are_left_to_the_night(past, keeper_client, monkeypatch):
    monkeypatch.setattr(experience, "WALKED_AT_ONCE", 5)
    assert "Work it out" not in html_of(keeper_client)
    assert "the nightly run does it once enough have ended, and looks at the last 100 jobs only" in html_of(
        keeper_client
    )
    answer = push(keeper_client)
    assert answer.status_code == 422
    assert "too many to work out while you wait" in says(answer)
    assert not Backtest.objects.exists()
    assert "from 6 finished jobs" in run("tick")
    assert Backtest.objects.get().answer["summary"]["total"]["jobs"] == 5
    assert "Job by job" in html_of(keeper_client)


def test_the_night_waits_until_enough_jobs_have_ended(past, monkeypatch):
    assert "worked out again" in run("tick")
    assert "worked out again" not in run("tick")  # nothing ended since
    row = Backtest.objects.get()
    Job.objects.filter(pk=past[0].pk).update(finished_at=row.made_at + timedelta(minutes=1))
    Backtest.objects.update(jobs=100)
    assert "worked out again" not in run("tick")  # one of a hundred
    Backtest.objects.update(jobs=20)
    assert "worked out again" in run("tick")


def test_the_last_jobs_alone_are_foretold_as_among_all(past):
    whole, last = experience.backtest(day=TODAY), experience.backtest(day=TODAY, last=2)
    assert last.looked == whole.looked[-2:]
    assert experience.backtest(day=TODAY, last=99).looked == whole.looked


def test_only_so_many_jobs_are_kept_one_by_one(past, monkeypatch):
    monkeypatch.setattr(backtesting, "KEPT", 2)
    walked = experience.backtest(day=TODAY)
    row = experience.keep_backtest(walked=walked, at=NOW)
    assert [one["job"] for one in row.answer["jobs"]] == [one.job for one in walked.looked[-2:]]
    assert row.answer["summary"]["total"]["jobs"] == 5


def test_no_job_yet(profile, keeper_client):
    html = html_of(keeper_client)
    assert "No job has ended yet" in html
    assert "<form" not in html.split("<main")[1].split("</main")[0]


def test_nothing_written_down(deck, keeper, keeper_client):
    finished_jobs(deck, keeper, 1, logged=False)
    push(keeper_client)
    assert "Of no job was enough written down to look back on" in html_of(keeper_client)


def test_one_job_is_foretold_by_the_trade_alone(deck, keeper, keeper_client):
    finished_jobs(deck, keeper, 1, minutes=1.35)
    push(keeper_client)
    html = html_of(keeper_client)
    assert "as close to what jobs really cost as the trade’s" in html
    assert "from the second on they part" in html


def test_the_number_of_queries_does_not_grow_with_jobs(deck, keeper, keeper_client):
    counts = []
    for many in (1, 3):
        finished_jobs(deck, keeper, many, seed_of_dice=many)
        run("backtest")
        for query in ({}, {"q": "deck"}):
            with CaptureQueriesContext(connection) as asked:
                keeper_client.get(PAGE, query)
            counts.append(len(asked))
    assert len(set(counts)) == 1


def test_looking_back_leads_there(profile, keeper_client):
    assert PAGE in says(keeper_client.get(reverse("learned")))
