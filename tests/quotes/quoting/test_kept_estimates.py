"""Rows that hold estimates of earlier versions: pages, papers and bench show them as they were, no word twice.

The files are those of `tests/costing/snapshots`, each made by the code of the commit in its name.
"""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from django.urls import reverse

from quotes import bench as b
from quotes.bench.papers import job_sheet
from quotes.bench.plan.warmth import windows_of
from quotes.costing.snapshot import NO_SNAPSHOT, PlannedStep
from quotes.models import Step, WayPart
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes.conftest import with_keels_agreed

BEGINS = {"job": with_keels_agreed}
pytestmark = pytest.mark.usefixtures("standing")

FILES = sorted((Path(__file__).parents[2] / "costing" / "snapshots").glob("*.json"))
DOSES = (" g resin +", " g catalyst (", " g hardener by weight", " g A +")


@pytest.fixture(params=FILES, ids=lambda path: path.stem)
def kept(request) -> dict:
    return json.loads(request.param.read_text(encoding="utf-8"))


@pytest.fixture
def old_job(kept, job):
    """A job of one repair whose way and steps are those of before."""
    part = job.way.parts.get()
    WayPart.objects.filter(pk=part.pk).update(snapshot=kept)
    job.steps.update(state=Step.State.DROPPED)
    for position, plan in enumerate(kept["steps"], start=1000):
        Step.objects.create(
            job=job, part=part, position=position, operation=plan["operation"], title=plan["title"],
            instruction=plan["instruction"], plan=plan,
        )  # fmt: skip
    return job


def test_the_job_sheet_prints_it_with_each_dose_once(old_job, kept):
    said = job_sheet.context(old_job, at=NOW)
    assert [step["title"] for step in said["steps"]] == [step["title"] for step in kept["steps"]]
    for step, plan in zip(said["steps"], kept["steps"], strict=True):
        assert not [words for words in DOSES if words in step["words"]]
        assert len(step["doses"]) == len(plan["mixes"])
    assert said["cautions"]
    assert not [text for text in said["cautions"] if "data sheet" in text]
    assert job_sheet.pdf(old_job, at=NOW).startswith(b"%PDF")


def test_the_shops_pages_of_its_way_open_and_add_up(old_job, counter_client, kept):
    way = old_job.way
    why = counter_client.get(reverse("way-why", args=[way.pk])).content.decode()
    assert kept["lines"][0]["name"] in why
    for name, pk in (("way-sure", way.pk), ("quote", way.board.quote_id), ("job", old_job.pk)):
        assert counter_client.get(reverse(name, args=[pk])).status_code == 200, name


def test_a_step_of_it_is_worked_on(old_job, bench):
    for step in Step.objects.filter(job=old_job).ahead().order_by("position"):
        b.planned_and_used(step)
        assert windows_of(step, 20.0)[step.part_id].earliest >= 0
        assert len(b.doses(step, 24.0)) == len(step.plan["mixes"])
    mixing = next(step for step in Step.objects.filter(job=old_job).ahead().order_by("position") if step.planned.mixes)
    assert b.record_mix(step=mixing, signed=Signed(bench, NOW)).uses.exists()


def test_what_is_set_anew_is_read_anew(job):
    part, step = job.way.parts.get(), job.steps.order_by("position").first()
    estimate, planned = part.estimate, step.planned
    assert part.estimate is estimate
    part.snapshot, step.plan = {}, {}
    assert (part.estimate, step.planned) == (NO_SNAPSHOT, PlannedStep(keeps_waits=False))
    part.estimate, step.planned = estimate, planned
    part.save()
    step.save()
    assert WayPart.objects.get(pk=part.pk).estimate == estimate
    assert Step.objects.get(pk=step.pk).planned == planned
