"""The sheet that goes home with a board: the aftercare of its recipes and what was looked at, and no money."""

from __future__ import annotations

import subprocess
from datetime import timedelta
from decimal import Decimal as D

import pytest

from quotes import bench as b
from quotes.bench.job.release import RELEASE_CHECK
from quotes.bench.papers import aftercare
from quotes.costing import STARTING_RECIPES
from quotes.models import Job, Step
from shop.models import Profile
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes.billing.test_billing import finished
from tests.quotes.conftest import with_keels_agreed
from tests.reading import says

BEGINS = {"job": with_keels_agreed}
pytestmark = [pytest.mark.papers, pytest.mark.usefixtures("standing")]


def words(pdf: bytes) -> str:
    told = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(told.stdout.decode().split())


def test_it_says_the_aftercare_of_the_recipe_and_what_was_ticked(job, counter):
    finished(job, counter)
    job.refresh_from_db()
    page = words(aftercare.pdf(job, profile=Profile.objects.get()))
    said = job.way.parts.get().snapshot
    assert said["aftercare"], "the starting recipe has its own"
    for line in (*said["aftercare"], *(aftercare.FOR_A_SURFER[check["line"]] for check in job.release_check)):
        assert " ".join(line.split()) in page
    assert "€" not in page
    assert "page 1 of 1" in page


def test_a_line_that_was_not_ticked_is_not_said_to_be_good(job, counter):
    finished(job, counter)
    job.refresh_from_db()
    job.release_check = [{**job.release_check[0], "ok": False, "reason": "old yellow stays"}, *job.release_check[1:]]
    page = words(aftercare.pdf(job, profile=Profile.objects.get()))
    assert aftercare.FOR_A_SURFER[job.release_check[0]["line"]] not in page
    assert aftercare.FOR_A_SURFER[job.release_check[1]["line"]] in page
    assert "old yellow stays" not in page


def stop(job, counter, bench, at=NOW):
    """The first three steps done, then stopped."""
    for step in list(job.steps.order_by("position")[:3]):
        b.finish_step(step=step, minutes=D(5), signed=Signed(bench, at), rest_as_planned=False)
    b.stop_job(
        job=job, amount=D(40), how="by phone", words="water all through it", below_cost=True, signed=Signed(counter, at)
    )
    return Job.objects.select_related("takein__board", "way").get(pk=job.pk)


def test_a_stopped_board_is_not_called_mended(job, counter, bench):
    job = stop(job, counter, bench)
    first, then = job.steps.order_by("position")[0], job.steps.order_by("position")[3]
    page = words(aftercare.pdf(job, profile=Profile.objects.get()))
    assert "mended" not in page
    assert "not finished" in page
    assert "Do not surf it. Keep it dry." in page
    assert "water all through it" in page
    assert "left box crushed" in page
    below = page.split("What was done")[1]
    assert " ".join(first.title.split()) in below
    assert " ".join(then.title.split()) in below
    assert "€" not in page
    job.state = Job.State.PICKED_UP
    assert "mended" not in words(aftercare.pdf(job, profile=Profile.objects.get()))


def test_what_is_still_to_be_done_is_what_the_stop_left_out(job, counter, bench):
    dropped = job.steps.order_by("position")[3]
    b.drop_step(step=dropped, reason="came out flush", signed=Signed(bench, NOW))
    job = stop(job, counter, bench)
    context = aftercare.stopped_context(job, b.stopped(job), Profile.objects.get())
    assert context["done"] == [step.title for step in job.steps.order_by("position")[:3]]
    left = [step.title for step in job.steps.order_by("position")[4:] if step.operation != b.RELEASE]
    assert context["undone"] == list(dict.fromkeys(left))
    Step.objects.filter(state="dropped").update(plan={})  # as steps were kept before
    assert aftercare.stopped_context(job, b.stopped(job), Profile.objects.get())["undone"] == context["undone"]


def test_a_wet_board_is_not_taped_shut_and_what_cures_is_left_alone(job, counter, bench):
    job.takein.wet = True
    job.takein.save()
    following = job.steps.order_by("position")[3]
    job = stop(job, counter, bench)
    job.steps.filter(pk=following.pk).update(earliest_at=NOW + timedelta(hours=20))
    page = words(aftercare.pdf(job, profile=Profile.objects.get()))
    assert "do not tape it shut" in page
    assert "cures until" in page
    job.takein.wet = False
    assert aftercare.stopped_context(job, b.stopped(job), Profile.objects.get())["keep"][-1] == aftercare.DRY


def test_no_sheet_goes_home_with_a_board_on_the_bench(job, counter, bench, counter_client):
    answer = counter_client.get(f"/job/{job.pk}/aftercare/", follow=True)
    assert "The work is not finished" in says(answer)
    stop(job, counter, bench)
    assert "Sheet for the unfinished board" in says(counter_client.get(f"/job/{job.pk}/pick-up/"))
    assert counter_client.get(f"/job/{job.pk}/aftercare/").content.startswith(b"%PDF-")


def test_every_starting_recipe_has_a_release_check_and_aftercare():
    for key, recipe in STARTING_RECIPES.items():
        assert recipe.release_check, key
        assert recipe.aftercare, key


def test_without_words_of_a_recipe_the_usual_ones_stand(job, counter):
    job.way.parts.update(snapshot={})
    assert aftercare.aftercare_of(job) == list(aftercare.USUAL)


def test_every_check_of_the_house_is_said_as_a_surfer_understands_it():
    lines = {line for recipe in STARTING_RECIPES.values() for line in recipe.release_check} | set(RELEASE_CHECK)
    assert lines == set(aftercare.FOR_A_SURFER)
    bench_words = ("winding", "rocker", "cant", "toe ", "fillet", "sheen", "pinhole", "alignment", "tab ")
    for said in aftercare.FOR_A_SURFER.values():
        assert not [word for word in bench_words if word in said.lower()], said


def test_a_check_of_the_shops_own_stays_as_it_was_written(job, counter):
    finished(job, counter)
    job.refresh_from_db()
    job.release_check = [{"line": "Stickers put back", "ok": True, "reason": ""}]
    assert "Stickers put back" in words(aftercare.pdf(job, profile=Profile.objects.get()))
