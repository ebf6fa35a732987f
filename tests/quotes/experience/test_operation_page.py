"""The page of an operation: the trade's range, the logged jobs and what was learned, drawn and as a table."""

from __future__ import annotations

from datetime import timedelta
from html import unescape

import numpy as np
import pytest
from django.urls import reverse

from quotes import experience
from quotes.bench import said_right
from quotes.models import Job, Step
from shop.forms.fields import ODD
from shop.models import Profile
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes.conftest import with_stock
from tests.quotes.past import agreed_job, finished_job, finished_jobs


def taught_shop() -> dict:
    made = with_stock()
    finished_jobs(made["versions"]["ding-deck-small"], made["keeper"], 3, minutes=1.4, resin=1.2)
    return made


BEGINS = {"taught": taught_shop}
pytestmark = pytest.mark.usefixtures("standing")


@pytest.fixture
def taught(versions, stocked, keeper):
    return experience.own_figure("laminate", "minutes")


def test_a_page_draws_every_log_and_says_how_sure(taught, keeper_client):
    answer = keeper_client.get(reverse("operation", args=["laminate", "minutes"]))
    html = answer.content.decode()
    assert len(answer.context["chart"].dots) == taught.logs == 3
    assert f"{taught.used:.2f}" in html
    assert "your 3 logs" in html
    assert "0 counts" not in html
    assert f"{round(taught.sure * 100)} % narrower" in html
    assert "In doubt" not in html


def test_a_doubtful_log_is_named_and_marked(taught, versions, keeper, keeper_client):
    dice = np.random.default_rng(5)
    finished_job(
        versions["ding-deck-small"],
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
    [(words, where)] = answer.context["doubtful"]
    assert words == doubtful["explanation"]
    step = Step.objects.get(pk=where)
    assert (str(step.job_id), step.operation) == (doubtful["job"], doubtful["operation"])
    assert f'href="{reverse("step", args=[where])}"' in answer.content.decode()
    assert keeper_client.get(reverse("step", args=[where])).context["doubts"]
    assert sum(dot.doubtful for dot in answer.context["chart"].dots) == 1
    listed = keeper_client.get(reverse("operations"))
    assert listed.context["doubtful"] == [doubtful]
    assert doubtful["explanation"] in unescape(listed.content.decode())
    assert "In doubt" not in keeper_client.get(reverse("operations"), {"q": "laminate"}).content.decode()


def test_what_somebody_said_is_right_is_in_doubt_no_more(taught, versions, keeper, bench, keeper_client):
    dice = np.random.default_rng(5)
    job = finished_job(versions["ding-deck-small"], keeper, start=NOW + timedelta(days=40), dice=dice, slip=0.001)
    [asked] = [one for one in experience.experience().doubtful if one["material"] != "minutes"]
    step = job.steps.get(operation=asked["operation"])
    use = step.uses.get(material__key=asked["material"], undone_at__isnull=True)
    said_right(log=use, signed=Signed(bench, NOW + timedelta(days=41)))
    assert experience.doubts_on(step) == []
    experience.learn(at=NOW + timedelta(days=42))
    page = reverse("operation", args=[asked["operation"], asked["material"]])
    answer = keeper_client.get(page)
    assert "In doubt" not in answer.content.decode()
    assert "said to be right" in answer.content.decode()
    assert "Nothing was written down" not in answer.content.decode()
    assert not any(dot.doubtful for dot in answer.context["chart"].dots)
    assert experience.doubts_on(step) == []
    assert keeper_client.get(reverse("step", args=[step.pk])).context["doubts"] == []


def test_a_factor_of_a_price_leads_to_its_own_page(taught, versions, keeper, keeper_client, counter_client):
    way = agreed_job(versions["ding-deck-small"], keeper, NOW).way
    why = reverse("way-why", args=[way.pk])
    html = keeper_client.get(why).content.decode()
    for cell in (("laminate", "minutes"), ("laminate", "resin-lam"), ("whole job", "gloves")):
        assert f'href="{reverse("operation", args=cell)}"' in html
        assert keeper_client.get(reverse("operation", args=cell)).status_code == 200
    assert reverse("operation", args=["laminate", "minutes"]) not in counter_client.get(why).content.decode()


def test_the_list_names_every_figure_once(taught, keeper_client):
    book = keeper_client.get(reverse("operations")).context["page"].paginator
    rows = [row for number in book.page_range for row in book.page(number)]
    assert len(rows) == len(experience.own_figures())
    shown = [(row["figure"].used / row["figure"].trade.mid, row["figure"].logs) for row in rows]
    apart = [round(max(times, 1 / times), 2) for times, _ in shown]
    assert apart == sorted(apart, reverse=True)
    assert apart[0] > 1.1
    alike = [logs for (_, logs), far in zip(shown, apart, strict=True) if far == 1]
    assert alike == sorted(alike, reverse=True)


def test_logs_are_shown_by_pages_the_last_first_with_the_tag_of_their_job(taught, keeper_client, monkeypatch):
    monkeypatch.setattr("quotes.views.learning.learned.LOGS_SHOWN", 2)
    page = reverse("operation", args=["laminate", "minutes"])
    points = experience.logged_points("laminate", "minutes")[::-1]
    shown = []
    for number in (1, 2):
        answer = keeper_client.get(page, {"page": number})
        assert len(answer.context["chart"].dots) == 3  # the picture has them all
        shown += answer.context["shown"]
    assert [point for point, _ in shown] == points
    assert [tag for _, tag in shown] == [Job.objects.get(pk=point.job).takein.tag for point in points]


def test_the_list_is_short_and_is_searched_by_operation_and_material(taught, keeper_client, monkeypatch):
    monkeypatch.setattr("quotes.views.learning.learned.FIGURES_SHOWN", 3)
    page = reverse("operations")
    assert len(keeper_client.get(page).context["page"]) == 3
    answer = keeper_client.get(page, {"q": "LAMIN minutes"})
    assert [row["figure"].material for row in answer.context["page"]] == ["minutes"]
    assert "1 found for" in answer.content.decode()
    assert "Nothing found" in keeper_client.get(page, {"q": "moonlight"}).content.decode()


def test_nothing_learned_says_so_and_an_unknown_operation_is_not_there(profile, keeper_client):
    assert "Nothing learned yet" in keeper_client.get(reverse("operations")).content.decode()
    assert keeper_client.get(reverse("operation", args=["laminate", "moonlight"])).status_code == 404


def test_the_keeper_has_prices_carry_what_is_done_again_and_takes_it_back(profile, keeper_client, form_key):
    page = reverse("shop-edit")
    shown = keeper_client.get(page).context["form"]
    entries = {name: shown[name].value() for name in shown.fields}
    entries = {name: value for name, value in entries.items() if value not in (None, False)}
    entries[f"{ODD}tax_number"] = "on"  # the sample number has no true check digit
    assert "carries_again" not in entries
    for typed in ({"carries_again": "on"}, {}):
        answer = keeper_client.post(page, {**entries, **typed, "submission_key": form_key()})
        assert answer.status_code == 302, answer.context["form"].errors
        assert Profile.objects.get().carries_again is bool(typed)
