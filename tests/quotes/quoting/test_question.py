"""The question of the day: one a day, on the rack, where a log teaches most; waved away it is gone until tomorrow."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from quotes import experience
from tests.conftest import PASSWORD
from tests.quotes.past import agreed_job, finished_jobs

RACK = "/"


@pytest.fixture
def open_job(versions, stocked, keeper):
    finished_jobs(versions["ding-deck-small"], keeper, 2, minutes=1.3)
    return agreed_job(versions["ding-deck-small"], keeper, timezone.now())


def asked(client):
    return client.get(RACK).context["question"]


def test_the_first_login_of_a_day_puts_the_question_and_the_rack_shows_it(open_job, bench, client):
    assert experience.question_of_the_day(timezone.localdate()) is None
    client.post(reverse("login"), {"username": "bench", "password": PASSWORD})
    question = asked(client)
    assert question["step"].job == open_job
    html = client.get(RACK).content.decode()
    assert "Worth writing down today" in html
    assert reverse("step", args=[question["step"].pk]) in html


def test_looking_at_the_rack_puts_no_question(open_job, bench_client):
    row = experience.experience()
    row.asked = {}
    row.save()
    assert asked(bench_client) is None
    assert experience.experience().asked == {}


def test_waved_away_it_is_gone_for_the_day_and_another_may_come_tomorrow(open_job, bench_client, form_key):
    today = timezone.localdate()
    experience.ask(on=today)
    assert asked(bench_client)
    assert bench_client.post(reverse("question-away"), {"submission_key": form_key()}).url == RACK
    assert asked(bench_client) is None
    assert experience.ask(on=today) is None  # never a second one on the same day
    assert experience.ask(on=today + timedelta(days=1)) is not None


def test_the_timer_puts_it_too(open_job):
    call_command("tick")
    assert experience.question_of_the_day(timezone.localdate()) is not None


def test_before_any_job_is_finished_nothing_is_asked(profile, bench_client):
    call_command("tick")
    assert asked(bench_client) is None
