"""Minutes at the day's end: a total is spread over the steps as they were planned, and learned from as a total."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from quotes import bench as b
from quotes.models import BenchHours, StepTime
from shop.acts import Refused

D = Decimal


@pytest.fixture
def done(job, bench):
    """Three steps done today: two as planned, one with its own minutes."""
    now = timezone.now()
    steps = list(job.steps.order_by("position")[:3])
    for step, more in zip(steps, (0, 0, 7), strict=True):
        step.refresh_from_db()
        b.finish_step(step=step, minutes=b.planned_minutes(step) + more, by=bench, at=now)
    return steps


def minutes(step) -> Decimal:
    return step.times.get(replaced_at__isnull=True).minutes


def test_a_total_is_spread_by_plan_and_adds_up(done, bench):
    now = timezone.now()
    own = minutes(done[2])
    b.spread_day(person=bench, day=timezone.localdate(now), minutes=own + 60, by=bench, at=now)
    assert minutes(done[2]) == own
    assert minutes(done[0]) + minutes(done[1]) == 60
    ratio = done[0].planned_minutes / done[1].planned_minutes
    assert float(minutes(done[0]) / minutes(done[1])) == pytest.approx(ratio, rel=0.02)
    assert BenchHours.objects.get().minutes == own + 60
    assert StepTime.objects.filter(of_total=True, replaced_at__isnull=True).count() == 2


def test_a_total_below_what_is_written_down_is_refused(done, bench):
    now = timezone.now()
    with pytest.raises(Refused, match="written down already"):
        b.spread_day(person=bench, day=timezone.localdate(now), minutes=D(1), by=bench, at=now)
    assert not BenchHours.objects.exists()


def test_a_day_without_steps_has_nothing_to_spread_over(job, bench):
    now = timezone.now()
    with pytest.raises(Refused, match="No step of this day"):
        b.spread_day(person=bench, day=timezone.localdate(now), minutes=D(60), by=bench, at=now)


def test_the_page_lists_the_day_and_takes_a_total(done, bench_client, form_key):
    page = reverse("day")
    assert bench_client.get(page).context["waiting"]
    assert bench_client.post(page, {"submission_key": form_key(), "minutes": ""}).status_code == 422
    assert bench_client.post(page, {"submission_key": form_key(), "minutes": "3 h"}).url == page
    assert not bench_client.get(page).context["waiting"]
    assert sum(minutes(step) for step in done) == 180
