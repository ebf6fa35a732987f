"""A shop's history written out and read back, its own jobs foretold one by one, and finished jobs looked back on."""

from __future__ import annotations

import csv
import json
from datetime import date, timedelta
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from inventory.models import PackPrice
from quotes import billing, experience
from quotes.costing.learning.fit import fit
from quotes.costing.learning.neutral import read_history
from quotes.models import Experience, Job, WayLine
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.past import agreed_job, finished_jobs
from tests.quotes.test_experience import DECK, count_all


@pytest.fixture
def deck(versions, keeper):
    PackPrice.objects.update(from_day=date(NOW.year, 1, 1))
    seed.receive_stock(by=keeper, at=NOW - timedelta(days=90))
    return versions[DECK]


@pytest.fixture
def past(deck, keeper):
    """Seven jobs, all but the last written down, the shelf counted before and after."""
    count_all("microspheres", "1990", keeper, NOW - timedelta(days=80))
    jobs = finished_jobs(deck, keeper, 6, minutes=1.35, resin=1.2, spread=0.06)
    jobs += finished_jobs(deck, keeper, 1, logged=False)
    count_all("microspheres", "1800", keeper, NOW)
    return jobs


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
    own, read = experience.gather(day=TODAY).history, read_history(texts)
    assert read.trade == own.trade
    assert list(read.terms) == list(own.terms)
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
    assert found["material_cost"]["jobs"] == 0  # of most materials nothing was weighed
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


def test_a_finished_job_is_looked_back_on_as_it_was_expected_then(past):
    looked = experience.finished_jobs_looked_back()
    assert [one.job for one in looked] == past[::-1]
    last, first = looked[1], looked[-1]  # the newest of all was not written down
    truth = billing.job_truth(last.job)
    assert last.real_cost == pytest.approx(float(truth.real.cost))
    assert last.real_minutes == pytest.approx(float(truth.real.minutes))
    assert last.earned_per_hour == pytest.approx(float(truth.earned_per_hour), abs=0.01)
    assert last.price == pytest.approx(float(truth.net))
    assert (first.learnt_from, last.learnt_from) == (0, 5)
    assert (looked[0].judged, looked[0].inside) == (False, None)
    assert last.judged
    assert abs(last.off_percent) < abs(first.off_percent)


def test_what_was_bought_in_and_a_comeback_at_our_cost_count_against_the_gain(past):
    """The last written job has a line by hand, and came back: the one that was not written down stands for that."""
    job, back = past[5], past[6]
    WayLine.objects.create(way=job.way, words="a fin", price=Decimal(52), cost=Decimal(30))
    Job.objects.filter(pk=back.pk).update(comeback_of=job, cause="ours", billed=False)
    looked = experience.finished_jobs_looked_back()
    assert [one.job for one in looked] == past[5::-1]
    truth = billing.job_truth(Job.objects.get(pk=job.pk))
    assert looked[0].bought == 30.0
    assert looked[0].whole_cost == pytest.approx(float(truth.all_real.cost))
    assert looked[0].comebacks.cost == pytest.approx(float(truth.comebacks.cost))
    assert looked[0].earned_per_hour == pytest.approx(float(truth.earned_per_hour), abs=0.01)
    assert looked[0].real_cost == pytest.approx(float(truth.real.cost) - 30)
    [kind] = experience.over_all(looked).kinds
    assert kind.real_cost == pytest.approx(sum(one.whole_cost for one in looked))


def test_variances_of_price_and_quantity_add_up_to_the_difference(past):
    one = experience.finished_jobs_looked_back()[1]
    planned = sum(line.planned_qty * line.planned_price for line in one.lines)
    snapshot = one.job.way.parts.get().snapshot
    assert planned == pytest.approx(snapshot["cost_unrounded"])
    assert sum(line.variance.total for line in one.lines) == pytest.approx(one.real_cost - planned, abs=1e-6)
    hands = next(line for line in one.lines if line.labour and line.name == "laminate")
    time = next(x for s in one.job.steps.filter(operation="laminate") for x in s.times.all())
    assert hands.real_qty == pytest.approx(float(time.minutes) / 60)
    assert hands.variance.price == pytest.approx(0.0, abs=1e-6)  # wage and overhead did not move
    assert hands.variance.quantity == pytest.approx((hands.real_qty - hands.planned_qty) * hands.planned_price)


def test_over_all_says_how_often_the_range_held_and_what_kinds_earn(past):
    looked = experience.finished_jobs_looked_back()
    found = experience.over_all(looked)
    assert (found.jobs, found.judged) == (7, 6)
    assert found.inside == sum(bool(one.inside) for one in looked)
    [kind] = found.kinds
    assert (kind.name, kind.jobs) == ("Open ding on the deck, medium", 7)
    assert kind.gain == pytest.approx(sum(one.gain for one in looked))
    assert kind.loses == (kind.gain < 0)


def test_looking_back_takes_the_same_queries_however_many_jobs(past, deck, keeper, django_assert_num_queries):
    with django_assert_num_queries(7):
        experience.finished_jobs_looked_back(last=2)
    with django_assert_num_queries(7):
        experience.finished_jobs_looked_back()


def test_hours_and_brands_are_part_of_the_history(past, deck, keeper):
    from inventory.models import Lot

    Lot.objects.filter(material__key="resin-lam").update(brand="Gannet")
    experience.note_hours(
        person=keeper, from_day=TODAY - timedelta(days=7), to_day=TODAY - timedelta(days=1), minutes=Decimal(300),
        by=keeper, at=NOW,
    )  # fmt: skip
    history = experience.gather(day=TODAY).history
    assert {term.brand for term in history.terms if term.material == "resin-lam"} == {"Gannet"}
    [hours] = history.hours
    assert (hours.worker, hours.minutes) == (str(keeper.pk), 300.0)
    assert int(hours.to_day) - int(hours.from_day) == 6
    assert Experience.objects.get().notes == []
