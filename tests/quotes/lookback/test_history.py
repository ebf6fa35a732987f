"""A shop's history written out and read back, and its own jobs foretold one by one."""

from __future__ import annotations

import csv
import json
from collections import Counter
from datetime import timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from quotes import experience
from quotes.costing.learning.model.fit import fit
from quotes.models import Experience
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.learning.test_interchange import read_history
from tests.quotes.experience.test_experience import DECK, count_all
from tests.quotes.past import agreed_job, finished_jobs, shop_of_a_year


def shop_with_a_past() -> dict:
    """Seven jobs, all but the last written down, the shelf counted before and after."""
    made = shop_of_a_year()
    deck, keeper = made["versions"][DECK], made["keeper"]
    count_all("cloth-4oz", "1990", keeper, NOW - timedelta(days=80))
    jobs = finished_jobs(deck, keeper, 6, minutes=1.35, resin=1.2, spread=0.06)
    jobs += finished_jobs(deck, keeper, 1, logged=False)
    count_all("cloth-4oz", "1800", keeper, NOW)
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


def test_a_history_is_written_out_and_read_back_to_the_same_figures(past, deck, keeper, tmp_path):
    agreed_job(deck, keeper, NOW)
    folder = tmp_path / "history"
    assert "7 finished jobs" in run("export_history", folder)
    texts = {path.name: path.read_text(encoding="utf-8") for path in folder.iterdir()}
    ask = texts.pop("ask.csv")
    with timezone.override("Europe/Dublin"):  # as the command does
        own, read = experience.gather(day=TODAY).history, read_history(texts)
    assert read.trade == own.trade
    assert Counter(read.terms) == Counter(term._replace(step="") for term in own.terms)  # the form has no single steps
    assert list(read.logs) == list(own.logs)
    assert (len(read.counts), sorted(read.counts)) == (2, sorted(own.counts))
    assert sorted(read.receipts) == sorted(own.receipts)
    assert fit(read).state.x == pytest.approx(fit(own).state.x, abs=1e-9)
    units = {row["material"]: row["unit"] for row in csv.DictReader(StringIO(texts["materials.csv"]))}
    assert (units["gloves"], units["resin-lam"]) == ("each", "g")
    answer = json.loads(run("backtest", history=folder, json=True))
    [job] = answer["jobs"]
    assert job["job"] == {row["job"] for row in csv.DictReader(StringIO(ask))}.pop()
    assert 0 < job["minutes"]["q10"] < job["minutes"]["q50"] < job["minutes"]["q90"]
    assert answer["doubtful"] == []


def test_a_folder_that_holds_something_is_never_written_over(past, tmp_path):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(CommandError, match="not an empty folder"):
        run("export_history", tmp_path)
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_shop_with_no_history_writes_files_with_headers_only(deck, tmp_path):
    run("export_history", tmp_path / "empty")
    for path in (tmp_path / "empty").iterdir():
        assert len(path.read_text(encoding="utf-8").splitlines()) == 1
    answer = json.loads(run("backtest", history=tmp_path / "empty", json=True))
    assert answer == {"jobs": [], "doubtful": []}


def test_the_shops_own_jobs_are_foretold_from_what_was_known_before_each(past):
    answer = json.loads(run("backtest", json=True))
    assert [job["learnt_from"] for job in answer["jobs"]] == list(range(6))  # the seventh was not written down
    assert [job["tag"] for job in answer["jobs"]] == [job.takein.tag for job in past[:6]]
    first, last = answer["jobs"][0], answer["jobs"][-1]
    assert first["learned"] == first["trade"]
    for job in answer["jobs"]:
        assert job["real"]["minutes"] == pytest.approx(
            float(sum(t.minutes for j in past for s in j.steps.all() for t in s.times.all() if str(j.pk) == job["job"]))
        )

    def off(job: dict, what: str) -> float:
        return abs(job[what]["minutes"]["q50"] / job["real"]["minutes"] - 1)

    assert off(last, "learned") < 0.5 * off(last, "trade")
    found = answer["summary"]
    assert found["minutes"]["jobs"] == 6
    assert found["minutes"]["error"] < found["minutes"]["trade_error"]
    assert found["material_cost"]["jobs"] == 6, "of what was weighed"
    assert all(0 < job["real"]["material_cost"] < job["real"]["stock"] for job in answer["jobs"])
    assert (found["total"]["jobs"], found["worth"] > 0) == (6, True)


def test_the_walk_tells_error_coverage_and_money(past):
    said = run("backtest")
    assert f"job {past[5].takein.tag}, learnt from 5: " in said
    assert "minutes: off by " in said
    assert "80 % ranges held" in said
    assert "learning was worth" in said
    assert "an hour at 31.00" in said  # 22 wage and 1080 ÷ 120 overhead


def test_with_nothing_to_look_back_on_the_walk_says_so(deck, keeper):
    finished_jobs(deck, keeper, 1, logged=False)
    assert "1 jobs are finished, and of none was enough written down" in run("backtest")
    with pytest.raises(CommandError, match="--ask goes with --history"):
        run("backtest", ask="ask.csv")


def test_hours_and_brands_are_part_of_the_history(past, deck, keeper):
    from inventory.models import Lot

    Lot.objects.filter(material__key="resin-lam").update(brand="Gannet")
    experience.note_hours(
        person=keeper, from_day=TODAY - timedelta(days=7), to_day=TODAY - timedelta(days=1), minutes=Decimal(300),
        signed=Signed(keeper, NOW),
    )  # fmt: skip
    history = experience.gather(day=TODAY).history
    assert {term.brand for term in history.terms if term.material == "resin-lam"} == {"Gannet"}
    [hours] = history.hours
    assert (hours.worker, hours.minutes) == (str(keeper.pk), 300.0)
    assert int(hours.to_day) - int(hours.from_day) == 6
    assert Experience.objects.get().notes == []
