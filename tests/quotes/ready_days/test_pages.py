"""What pages say of ready days and chances: read as they were kept."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest

from quotes import quoting
from quotes.models import Job, Way
from quotes.ready_days.outlook import look_again
from shop.models import ClosedDay
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY, the_day
from tests.reading import says
from tests.walker import new_key


@pytest.fixture
def way(quote):
    return quote.boards.get().ways.get(position=1)


def page(client, address):
    """The words of a page without its tags."""
    return " ".join(re.sub(r"<[^>]*>", " ", says(client.get(address))).split())


def test_the_shop_sees_chance_and_days_of_each_way_and_the_customer_the_day_alone(quote, way, counter_client):
    way.ready = {
        **way.ready,
        "chance": 0.81,
        "even": TODAY.isoformat(),
        "nine": (way.ready_on + timedelta(1)).isoformat(),
    }
    way.save()
    said = page(counter_client, f"/quote/{quote.pk}/")
    assert f"Ready {the_day(way.ready_on)}" in said
    assert f"holds 8 in 10, even chance {the_day(TODAY)}" in said
    assert f"9 in 10 by {the_day(way.ready_on + timedelta(1))}" in said
    assert "in 10" not in page(counter_client, f"/quote/{quote.pk}/customer/")


def test_a_yes_that_touches_a_promise_names_it_with_both_chances(job, quote, counter_client, counter, versions):
    other = Way.objects.exclude(board__quote=job.way.board.quote).first() or job.way
    other.ready = {**other.ready, "touched": [{"job": job.pk, "tag": job.takein.tag, "before": 0.9, "after": 0.6}]}
    other.agreed_at = None
    other.save()
    said = page(counter_client, f"/quote/{other.board.quote_id}/")
    name = f"{job.takein.brought_by.name}, {job.takein.board.name} (tag {job.takein.tag})"
    assert f"{name}: 9 in 10 becomes 6 in 10" in said


def test_a_quote_opens_and_says_why_no_day_is_known(quote, counter, counter_client):
    ClosedDay.objects.bulk_create(ClosedDay(day=TODAY + timedelta(days=n)) for n in range(400))
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    said = page(counter_client, f"/quote/{quote.pk}/")
    assert "Ready day not known" in said
    assert "Nobody is at work within a year" in said


def test_the_page_of_another_day_offers_the_one_that_holds_eight_in_ten(job, counter_client):
    seen = look_again(at=NOW).jobs[str(job.pk)]
    address = f"/job/{job.pk}/promise/"
    said = page(counter_client, address)
    assert "holds eight in ten" in said
    day = job.promised_on + timedelta(days=30)
    typed = {"submission_key": new_key(), "day": day.isoformat(), "how": "by phone"}
    answer = counter_client.post(address, typed, follow=True)
    assert f"Promised for {the_day(day)}: more than 9 in 10." in says(answer)
    assert Job.objects.get(pk=job.pk).promised_on == job.promised_on + timedelta(days=30)
    assert seen["likely"]
