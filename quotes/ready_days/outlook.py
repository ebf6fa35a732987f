"""The bench ahead, looked at again after whatever touches it: chance of each promise, who does what next, full days.

Draws are made here, once what was done is stored, and kept in the one row of `Outlook`; pages read that.
"""

from __future__ import annotations

import logging
import threading
from datetime import date, datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction

from quotes.models import Outlook
from quotes.planner import ReadyDays, WrongState, forecast
from quotes.planner.promise import A_TENTH, EVEN
from quotes.planner.today import BenchPlanStep, plan_ahead
from quotes.ready_days.boards import NO_ROW
from quotes.ready_days.helping import what_helps
from quotes.ready_days.rack_state import RackState, bench_now
from shop.models import Profile
from shop.platform.acts import EVERY_ROLE, Signed, action, internal

_looks = threading.local()  # looks asked for and done in this thread, by number

PLANNED_DAYS = 14
SHOWN_DAYS = 28


def outlook() -> Outlook:
    """The bench ahead as it was last seen; an empty one before the first look. One query."""
    return Outlook.objects.filter(pk=1).first() or Outlook(pk=1)


def look_again_soon(*, at: datetime) -> None:
    """Look again once what is being done is stored, once for all acts of a transaction.

    Nothing that was done is undone if that fails. What was done at an earlier moment than the last look, and stored
    after it, is looked at as of that look.
    """

    count = _looks.__dict__
    count["asked"] = number = count.get("asked", 0) + 1

    def look() -> None:
        if number > count.get("done", 0):  # the first of a transaction looks for all that were asked for in it
            count["done"] = count["asked"]
            look_again(at=max(at, outlook().worked_at or at))

    transaction.on_commit(look, robust=True)


def look_at_login(*, at: datetime) -> None:
    """The first look of a day; nobody is kept out because it failed."""
    seen, shop = outlook(), Profile.objects.first()
    if shop and (seen.worked_at is None or shop.day_of(seen.worked_at) != shop.day_of(at)):
        try:
            look_again(at=at)
        except Exception:
            logging.getLogger(__name__).exception("the bench ahead could not be worked out")


@action("bench.look_again", *EVERY_ROLE)
def look_now(*, signed: Signed) -> Outlook:
    """The bench ahead worked out again because somebody asked."""
    return look_again(at=signed.at)


def look_again(*, at: datetime) -> Outlook:
    """The bench ahead as it is at a moment, worked out and kept."""
    try:
        bench = bench_now(at)
    except WrongState as wrong:
        return _keep(at, {"trouble": str(wrong), "plan": [], "days": [], "helps": [], "digest": "", "jobs": {}})
    before, draws = outlook(), settings.READY_DAY_DRAWS
    found = forecast(bench.state, draws)
    plan = plan_ahead(bench.state, PLANNED_DAYS)
    jobs = _jobs(bench, found, before.jobs)
    return _keep(at, {
        "digest": found.digest,
        "draws": draws,
        "jobs": jobs,
        "plan": [_planned(bench, one) for one in plan],
        "days": _days(bench, plan),
        "helps": _helps(bench, found, jobs, before),
        "trouble": "\n".join(bench.odd),
    })  # fmt: skip


@internal
def _keep(at: datetime, seen: dict[str, Any]) -> Outlook:
    """The one row, unless a later look was kept meanwhile."""
    Outlook.objects.get_or_create(pk=1)
    row = Outlook.objects.select_for_update().get(pk=1)
    if row.worked_at is None or row.worked_at <= at:
        row.worked_at = at
        for name, value in seen.items():
            setattr(row, name, value)
        row.save()
    return row


def _jobs(bench: RackState, found: ReadyDays, before: dict[str, Any]) -> dict[str, Any]:
    """By key of each job its days, its chance, and the chance that the look before gave the same day."""
    told = {}
    for name, job in bench.jobs.items():
        ready, was = found.ready(name), before.get(str(job.pk), {})
        same = was.get("day") == (job.promised_on and job.promised_on.isoformat())
        told[str(job.pk)] = {
            "day": job.promised_on and job.promised_on.isoformat(),
            "chance": ready.chance,
            "before": was.get("chance") if same else None,
            "even": ready.q50.isoformat(),
            "likely": ready.q80.isoformat(),
            "nine": ready.q90.isoformat(),
        }
    return told


def _helps(bench: RackState, found: ReadyDays, jobs: dict[str, Any], before: Outlook) -> list[dict[str, Any]]:
    """What would lift each promise below even: as last said while its chance and what it waits for are the same."""
    kept: list[dict[str, Any]] = []
    fallen = []
    for name in bench.jobs:
        if not _fell(jobs, bench, name):
            continue
        job = bench.jobs[name]
        told, waits = jobs[str(job.pk)], sorted(extra.pk for extra in job.extras.all() if extra.open)
        said = [one for one in before.helps if one["job"] == job.pk and one.get("waits") == waits]
        if said and told["before"] is not None and abs(told["chance"] - told["before"]) < A_TENTH:
            kept += said
        else:
            fallen.append(job)
    fresh = what_helps(bench, found, fallen)
    return kept + fresh


def _fell(jobs: dict[str, Any], bench: RackState, name: str) -> bool:
    """Whether the promise of a job is below even."""
    chance = jobs[str(bench.jobs[name].pk)]["chance"]
    return chance is not None and chance < EVEN


def _planned(bench: RackState, one: BenchPlanStep) -> dict[str, Any]:
    """A step of the plan by its rows' keys; what turned up and has no step yet has none."""
    return {
        "person": int(one.person),
        "from": bench.moment(one.begins).isoformat(timespec="minutes"),
        "minutes": round(one.minutes),
        "job": bench.jobs[one.job].pk,
        "step": None if one.step.startswith(NO_ROW) else int(one.step),
    }


def _days(bench: RackState, plan: list[BenchPlanStep]) -> list[dict[str, Any]]:
    """Hours of each of the coming days, all people together: open, at the bench, planned; of today those to come."""
    state, today = bench.state, bench.now.date()
    planned: dict[date, float] = {}
    for one in plan:
        planned[one.begins.date()] = planned.get(one.begins.date(), 0.0) + one.minutes / 60
    told = []
    for day in (today + timedelta(days=number) for number in range(SHOWN_DAYS)):
        there = [one for one in state.people if day not in one.away and day not in state.closed]
        since = 60 * bench.now.hour + bench.now.minute if day == today else 0
        spans = [span for one in there for span in one.hours[day.weekday()]]
        open_h = sum(max(0, end - max(begin, since)) for begin, end in spans) / 60
        bench_h = open_h * (1 - state.known.lost_share)
        told.append({
            "day": day.isoformat(),
            "open_h": round(open_h, 2),
            "bench_h": round(bench_h, 2),
            "planned_h": round(planned.get(day, 0.0), 2),
        })  # fmt: skip
    return told
