"""What the shop knows of itself for a promise, worked out from its rows: each figure with where it started.

Hours come from the last 26 weeks, arrivals from the last 90 days, all else from the last year. What is read here is
read anew each time and kept nowhere but behind a promise.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from math import fsum

from quotes.costing import PlannedStep
from quotes.models import Step
from quotes.planner.state import Arrivals, KindOfJob, KnownOfShop, StepAhead, TurnUp
from quotes.ready_days import promise_figure as figure
from quotes.ready_days.jobs_seen import last_jobs
from quotes.ready_days.promise_figure import PromiseFigure
from quotes.ready_days.seen import LOST_LEAST, LOST_MOST, YEAR, Seen

ANSWER_SD_LOG = 1.1  # 0.8 to 1.4: some answer at once, some after days
BUSY = 0.75  # of the hours at the bench, 0.6 to 0.95: what comes in where nothing is known of it
DIGITS = 4  # of what goes into a state, so that days too small to matter do not make it another

TURNED_UP = (
    StepAhead("1", minutes=12.0, cure_h=0.0, cuts=True),
    StepAhead("2", minutes=20.0, cure_h=3.0),
    StepAhead("3", minutes=8.0, cure_h=0.0, cuts=True, may_stop=True),
)
"""What turning up adds, in the middle: opened further, filled and laminated, sanded. Common practice, no source."""

USUAL_JOB = (
    StepAhead("1", minutes=20.0, cure_h=0.0, cuts=True, may_stop=True),
    StepAhead("2", minutes=30.0, cure_h=4.0),
    StepAhead("3", minutes=12.0, cure_h=4.0, bonds_h=12.0, sand_first_min=10.0, coats=True),
    StepAhead("4", minutes=25.0, cure_h=0.0, cuts=True, may_stop=True),
    StepAhead("5", minutes=15.0, cure_h=0.0, may_stop=True),
)
"""A job where none was agreed yet: opened, laminated, coated, sanded, polished. Common practice, no source."""


def figures_of_promise(at: datetime) -> list[PromiseFigure]:
    """Every figure a promise rests on, as it stands at a moment. Ten queries."""
    return figures_by(Seen.of(at))


def figures_by(seen: Seen) -> list[PromiseFigure]:
    """Every figure a promise rests on, by what rows say."""
    jobs, steps = seen.jobs, seen.steps
    lost = lost_share(seen)
    return [
        lost,
        lost_share_sd(seen),
        away_chance(seen),
        figure.not_learned("odd_choice", 0.1, 0.03, 0.2),
        minutes_spread(seen),
        figure.not_learned("job_sd_log", 0.12, 0.06, 0.2),
        figure.not_learned("cure_sd_log", 0.18, 0.1, 0.3),
        figure.share("again_chance", 0.02, 50, steps.again, steps.done),
        figure.share("turn_up", 0.15, 20, jobs.turned_up, jobs.ended),
        figure.middle_of_hours("answer_h", 8.0, ANSWER_SD_LOG, 5, seen.answers_h),
        arrivals(seen, lost.used.value),
        figure.share("rush_share", 0.1, 20, jobs.rushes, jobs.agreed),
    ]


def known_of_shop(at: datetime, *, kinds: Sequence[tuple[StepAhead, ...]]) -> KnownOfShop:
    """What the shop knows of itself at a moment, for the planner. Ten queries.

    `kinds` are the steps of the last jobs agreed (see `last_plans`); one usual job where there are none.
    """
    used = {one.name: round(one.used.value, DIGITS) for one in figures_of_promise(at)}
    shares = [steps for steps in kinds if steps] or [USUAL_JOB]
    plain = ("lost_share", "lost_share_sd", "away_chance", "odd_choice", "minutes_sd_log", "job_sd_log", "cure_sd_log")
    return KnownOfShop(
        **{name: used[name] for name in plain},
        again_chance=used["again_chance"],
        turn_up=TurnUp(used["turn_up"], used["answer_h"], ANSWER_SD_LOG, TURNED_UP),
        arrivals=Arrivals(
            used["jobs_a_day"], used["rush_share"], tuple(KindOfJob(1.0 / len(shares), steps) for steps in shares)
        ),
    )


def last_plans(at: datetime) -> list[list[PlannedStep]]:
    """ToLay steps of the last jobs agreed, job by job, the earliest first; nothing left out, put in or done again.
    One query."""
    rows = Step.objects.filter(job__in=last_jobs(at - YEAR, at), redo_of=None).exclude(state=Step.State.DROPPED)
    found: dict[int, list[PlannedStep]] = {}
    for step in rows.order_by("job_id", "position").only("job", "plan"):
        if not step.planned.put_in:
            found.setdefault(step.job_id, []).append(step.planned)
    return list(found.values())


def lost_share(seen: Seen) -> PromiseFigure:
    """Share of open hours that goes to other things: the counter, the phone, small jobs.

    The start may lie 0.1 off (sd). Of what is written down 0.07 (sd) is in doubt however many days there are: not every
    minute is, so that a day looks shorter than it was; and work that was left may have waited for a customer. So the
    days never count for more than two thirds.
    """
    return figure.mean_share(
        "lost_share", seen.lost_start, 0.1, [(one.lost, one.open_h) for one in seen.days.days],
        of_days=0.25, doubt=0.07, least=LOST_LEAST, most=LOST_MOST,
    )  # fmt: skip


def lost_share_sd(seen: Seen) -> PromiseFigure:
    """How far a day's share lies from the usual one. A step counts on the day it was ended, so that days look more
    unlike than they are: at most 0.25 is believed."""
    days = seen.days.days
    if len(days) < 2:
        return figure.spread("lost_share_sd", 0.12, 8, 0.0, 0, least=0.05, most=0.25)
    mean = 1.0 - fsum(one.bench_h for one in days) / fsum(one.open_h for one in days)
    squares = fsum((one.lost - mean) ** 2 for one in days)
    found = figure.spread("lost_share_sd", 0.12, 8, squares, len(days) - 1, least=0.05, most=0.25)
    return replace(found, count=len(days))


def away_chance(seen: Seen) -> PromiseFigure:
    """Chance of a day away that nobody knew of the day before, by days of people at the bench."""
    hours, today = seen.hours, seen.today
    away = {
        (hours.known_as(person), day)
        for person, days in hours.unplanned.items()
        for day in days
        if (key := hours.known_as(person)) is not None and day <= today and hours.usual(key, day)
    }
    worked = {(person, day) for person, day in seen.days.worked if hours.usual(person, day)}
    return figure.share("away_chance", 0.02, 100, len(away), len(worked | away))


def minutes_spread(seen: Seen) -> PromiseFigure:
    """Spread of one step's minutes round what is planned, from what the estimator learned of each operation."""
    logs = sum(count for _, count in seen.minutes_spreads)
    squares = fsum(sd * sd * count for sd, count in seen.minutes_spreads)
    return figure.spread("minutes_sd_log", 0.28, 20, squares, logs, least=0.1, most=0.6)


def arrivals(seen: Seen, lost: float) -> PromiseFigure:
    """Jobs agreed on a day worked. It starts from what would keep the bench three quarters busy."""
    hours, jobs = seen.hours, seen.jobs
    usual = jobs.mean_minutes or fsum(step.minutes for step in USUAL_JOB)
    a_day = hours.week * (1.0 - lost) / max(1, hours.days_a_week)
    start = max(0.01, BUSY * a_day * 60 / usual)
    days, agreed = jobs.lately(seen.profile, seen.hours, seen.today)
    return figure.rate("jobs_a_day", start, 10, agreed, days)
