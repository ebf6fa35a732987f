"""The sheet that goes home with a board: the aftercare of its recipes and what was looked at, and no money."""

from __future__ import annotations

import subprocess

import pytest

from quotes.papers import aftercare
from shop.models import Profile
from tests.quotes.test_billing import finished

pytestmark = pytest.mark.papers


def words(pdf: bytes) -> str:
    told = subprocess.run(["pdftotext", "-layout", "-", "-"], input=pdf, capture_output=True, check=True)
    return " ".join(told.stdout.decode().split())


def test_it_says_the_aftercare_of_the_recipe_and_what_was_ticked(job, counter):
    finished(job, counter)
    job.refresh_from_db()
    page = words(aftercare.pdf(job, profile=Profile.objects.get()))
    said = job.way.parts.get().snapshot
    assert said["aftercare"], "the starting recipe has its own"
    for line in (*said["aftercare"], *(check["line"] for check in job.release_check)):
        assert " ".join(line.split()) in page
    assert "€" not in page
    assert "page 1 of 1" in page


def test_a_line_that_was_not_ticked_is_not_said_to_be_good(job, counter):
    finished(job, counter)
    job.refresh_from_db()
    job.release_check = [{**job.release_check[0], "ok": False, "reason": "old yellow stays"}, *job.release_check[1:]]
    page = words(aftercare.pdf(job, profile=Profile.objects.get()))
    assert " ".join(job.release_check[0]["line"].split()) not in page
    assert "old yellow stays" not in page


def test_every_starting_recipe_has_a_release_check_and_aftercare():
    from quotes.costing import STARTING_RECIPES

    for key, recipe in STARTING_RECIPES.items():
        assert recipe.release_check, key
        assert recipe.aftercare, key


def test_without_words_of_a_recipe_the_usual_ones_stand(job, counter):
    job.way.parts.update(snapshot={})
    assert aftercare.aftercare_of(job) == list(aftercare.USUAL)
