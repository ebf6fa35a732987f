"""The page of an operation: the trade's range, the logged jobs and what was learned, drawn and as a table."""

from __future__ import annotations

from datetime import timedelta

import numpy as np
import pytest
from django.urls import reverse

from quotes import experience
from tests.conftest import NOW
from tests.quotes.past import finished_job, finished_jobs


@pytest.fixture
def taught(versions, stocked, keeper):
    finished_jobs(versions["ding-deck-medium"], keeper, 3, minutes=1.4, resin=1.2)
    return experience.own_figure("laminate", "minutes")


def test_a_page_draws_every_log_and_says_how_sure(taught, keeper_client):
    answer = keeper_client.get(reverse("operation", args=["laminate", "minutes"]))
    html = answer.content.decode()
    assert len(answer.context["chart"].dots) == taught.logs == 3
    assert f"{taught.used:.2f}" in html
    assert "Learned from 3 logs and 0 counts" in html
    assert f"{round(taught.sure * 100)} % narrower" in html
    assert "In doubt" not in html


def test_a_doubtful_log_is_named_and_marked(taught, versions, keeper, keeper_client):
    dice = np.random.default_rng(5)
    finished_job(
        versions["ding-deck-medium"],
        keeper,
        start=NOW + timedelta(days=40),
        dice=dice,
        slip=0.001,
        minutes=1.4,
        resin=1.2,
    )
    [doubtful] = experience.experience().doubtful
    answer = keeper_client.get(reverse("operation", args=[doubtful["operation"], doubtful["material"]]))
    assert "In doubt" in answer.content.decode()
    assert sum(dot.doubtful for dot in answer.context["chart"].dots) == 1


def test_the_list_names_every_figure_once(taught, keeper_client):
    rows = keeper_client.get(reverse("operations")).context["rows"]
    assert len(rows) == len(experience.own_figures())
    assert {row["sure"] for row in rows if row["figure"].logs == 0 and row["figure"].counts == 0} <= set(range(100))


def test_nothing_learned_says_so_and_an_unknown_operation_is_not_there(profile, keeper_client):
    assert "Nothing learned yet" in keeper_client.get(reverse("operations")).content.decode()
    assert keeper_client.get(reverse("operation", args=["laminate", "moonlight"])).status_code == 404
