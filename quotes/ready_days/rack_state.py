"""State of the bench from rows, as the planner takes it: boards with the steps ahead of them, people, what is known.

A board is called by its tag, so that the job of a board has the draws that its quote had. Times are the shop's own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property
from zoneinfo import ZoneInfo

from django.db.models import Prefetch

from quotes.models import Extra, Job, Step, Warmth, WayPart
from quotes.planner.state import LOOK_AHEAD_DAYS, BenchState, BoardAhead, KnownOfShop
from quotes.ready_days.boards import board_ahead
from quotes.ready_days.chain import steps_ahead
from quotes.ready_days.figures import known_of_shop, last_plans
from quotes.ready_days.open_hours import THE_BENCH
from quotes.ready_days.people import closed_days, people_at_the_bench
from shop.models import Profile, User

WARMTH_HOLDS_DAYS = 7  # after which what was read at the bench says nothing of the days to come; our own choice


@dataclass(frozen=True)
class ShopNow:
    """A moment of the shop: its zone, how warm it is in °C where that was read, what it knows of itself."""

    at: datetime
    zone: ZoneInfo
    celsius: float | None
    known: KnownOfShop

    def local(self, at: datetime) -> datetime:
        """The shop's own time of a moment, to the minute, without its zone."""
        return at.astimezone(self.zone).replace(tzinfo=None, second=0, microsecond=0)

    def in_hours(self, hours: float) -> datetime:
        """The shop's own time so many hours from now."""
        return self.local(self.at + timedelta(hours=hours))


@dataclass(frozen=True)
class RackState:
    """The bench at a moment: its state, the open jobs by tag, sentences on what is odd."""

    moment_of: ShopNow
    state: BenchState
    jobs: dict[str, Job]
    odd: tuple[str, ...]

    @property
    def now(self) -> datetime:
        """The shop's own time, as the planner has it."""
        return self.state.now

    def moment(self, local: datetime) -> datetime:
        """A moment of the planner with its zone."""
        return local.replace(tzinfo=self.moment_of.zone)

    def if_answered(self, name: str) -> BoardAhead:
        """A board on the rack without what turned up on it and waits for an answer."""
        return board_ahead(name, self.jobs[name], self.moment_of, [], answered=True)

    @cached_property
    def step_titles(self) -> dict[str, str]:
        """Titles of the steps of open jobs, by the name they have on the bench."""
        return {str(step.pk): step.title for job in self.jobs.values() for step in job.steps.all()}

    @cached_property
    def people(self) -> dict[str, str]:
        """Names of people by the name they have on the bench. One query."""
        found = {str(user.pk): user.name for user in User.objects.filter(is_active=True)}
        return {**found, str(THE_BENCH): "the bench"}

    @cached_property
    def called(self) -> dict[int, str]:
        """Name that a job has on the bench, by its key."""
        return {job.pk: name for name, job in self.jobs.items()}


def bench_now(at: datetime, profile: Profile | None = None) -> RackState:
    """The bench as its rows have it at a moment, in some twenty queries. Raises WrongState with a sentence."""
    profile = profile or Profile.objects.get()
    today = profile.day_of(at)
    known = known_of_shop(at, kinds=[steps_ahead(plans) for plans in last_plans(at)])
    shop = ShopNow(at, ZoneInfo(profile.timezone), _celsius(today), known)
    jobs, odd = _named(_open_jobs()), list[str]()
    state = BenchState(
        now=shop.local(at),
        people=people_at_the_bench(today, profile),
        closed=closed_days(today, today + timedelta(days=LOOK_AHEAD_DAYS)),
        known=known,
        boards=tuple(board_ahead(name, job, shop, odd) for name, job in jobs.items()),
    )
    return RackState(shop, state, jobs, tuple(odd + _too_long(state, jobs)))


def _celsius(today: date) -> float | None:
    """How warm the shop was when that was last read, in °C; None where it was not for a week. One query."""
    since = today - timedelta(days=WARMTH_HOLDS_DAYS)
    read = Warmth.objects.filter(day__gt=since, day__lte=today).order_by("day", "pk").values_list("celsius", flat=True)
    last = read.last()
    return None if last is None else float(last)


def _open_jobs() -> list[Job]:
    """Jobs on the bench with their steps, what turned up with its price, and whether they are a rush. Four queries."""
    steps = Step.objects.exclude(state=Step.State.DROPPED).order_by("position")
    parts = Prefetch("way__parts", WayPart.objects.order_by("pk"))
    extras = Extra.objects.order_by("pk").select_related("way").prefetch_related(parts)
    jobs = Job.objects.filter(state=Job.State.OPEN).select_related("takein", "way__board__quote")
    jobs = jobs.defer("way__totals", "way__problems", "way__steps", "release_check")
    return list(jobs.prefetch_related(Prefetch("steps", steps), Prefetch("extras", extras)).order_by("pk"))


def _named(jobs: Sequence[Job]) -> dict[str, Job]:
    """Jobs by the tag of their board; a second job of one board has its number behind."""
    found: dict[str, Job] = {}
    for job in jobs:
        name, number = str(job.takein.tag), 2
        while name in found:
            name, number = f"{job.takein.tag}/{number}", number + 1
        found[name] = job
    return found


def _too_long(state: BenchState, jobs: dict[str, Job]) -> list[str]:
    """Sentences on steps that no day at the bench is long enough for."""
    titles = {str(step.pk): step.title for job in jobs.values() for step in job.steps.all()}
    return [
        f"Tag {job}: “{titles.get(step, 'what turned up')}” takes longer than any day at the bench."
        for job, step in state.too_long()
    ]


def tomorrow(now: datetime) -> datetime:
    """The beginning of the next day."""
    return datetime.combine(now.date() + timedelta(days=1), time.min)
