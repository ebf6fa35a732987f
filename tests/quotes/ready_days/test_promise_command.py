"""`manage.py promise` alone: the days of the rack as it is now."""

from __future__ import annotations

import json
from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from shop.models import ClosedDay
from tests.conftest import TODAY


def asked(*words: str) -> str:
    out = StringIO()
    call_command("promise", *words, stdout=out)
    return out.getvalue()


def test_the_racks_days_are_told_by_tag_and_step(job):
    told = json.loads(asked("--draws", "20", "--json"))
    (one,) = told["jobs"]
    assert one["job"] == job.takein.tag
    assert one["q50"] <= one["q80"] <= one["q90"]
    first = told["today"][0]
    assert (first["person"], first["step"]) == ("the bench", job.steps.order_by("position").first().title)
    assert f"job {job.takein.tag}: even" in asked("--draws", "5")


def test_without_a_shop_and_without_hands_a_sentence_is_said(db, request):
    with pytest.raises(CommandError, match="There is no shop yet"):
        asked()
    request.getfixturevalue("profile")
    ClosedDay.objects.bulk_create(ClosedDay(day=TODAY + timedelta(days=n)) for n in range(400))
    with pytest.raises(CommandError, match="Nobody is at work within a year"):
        asked()
