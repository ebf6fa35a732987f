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

from quotes.models import Extra, Job, Step, Warmth
from quotes.planner.state import LOOK_AHEAD_DAYS, BenchState, BoardAhead, KnownOfShop, StepAhead
from quotes.ready_days.chain import InLine, ToLay, in_line, steps_ahead
from quotes.ready_days.figures import known_of_shop, last_plans
from quotes.ready_days.open_hours import THE_BENCH
from quotes.ready_days.people import closed_days, people_at_the_bench
from shop.models import Profile, User

WITHOUT_MINUTES = 30.0  # min; our own choice for a step that nobody planned minutes for
LEAST_LEFT = 0.25  # of the minutes planned, that a step under way still takes at least; our own choice
WARMTH_HOLDS_DAYS = 7  # after which what was read at the bench says nothing of the days to come; our own choice
OPEN_AFTER_STEPS = 2  # as in the planner: then a board is open


@dataclass(frozen=True)
class RackState:
    """The bench at a moment: who is there, what is known, the boards of open jobs by tag, sentences on what is odd."""

    at: datetime
    zone: ZoneInfo
    celsius: float | None
    state: BenchState
    jobs: dict[str, Job]
    odd: tuple[str, ...]

    @cached_property
    def now(self) -> datetime:
        """The shop's own time, as the planner has it."""
        return self.state.now

    def moment(self, local: datetime) -> datetime:
        """A moment of the planner with its zone."""
        return local.replace(tzinfo=self.zone)

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
    zone = ZoneInfo(profile.timezone)
    now = local_time(at, zone)
    today = now.date()
    celsius = _celsius(today)
    jobs, odd, boards = _named(_open_jobs()), list[str](), list[BoardAhead]()
    known = known_of_shop(at, kinds=[steps_ahead(plans) for plans in last_plans(at)])
    for name, job in jobs.items():
        boards += [_board(name, job, at, now, zone, celsius, known, odd)]
    state = BenchState(
        now=now,
        people=people_at_the_bench(today, profile),
        closed=closed_days(today, today + timedelta(days=LOOK_AHEAD_DAYS)),
        known=known,
        boards=tuple(boards),
    )
    return RackState(at, zone, celsius, state, jobs, tuple(odd + _too_long(state, jobs)))


def local_time(at: datetime, zone: ZoneInfo) -> datetime:
    """The shop's own time of a moment, to the minute, without its zone."""
    return at.astimezone(zone).replace(tzinfo=None, second=0, microsecond=0)


def _celsius(today: date) -> float | None:
    """How warm the shop was when that was last read, in °C; None where it was not for a week. One query."""
    since = today - timedelta(days=WARMTH_HOLDS_DAYS)
    read = Warmth.objects.filter(day__gt=since, day__lte=today).order_by("day", "pk").values_list("celsius", flat=True)
    last = read.last()
    return None if last is None else float(last)


def _open_jobs() -> list[Job]:
    """Jobs on the bench with their steps, what turned up and whether they are a rush. Three queries."""
    steps = Step.objects.exclude(state=Step.State.DROPPED).order_by("position")
    extras = Extra.objects.order_by("pk").select_related("way")
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


def _board(
    name: str, job: Job, at: datetime, now: datetime, zone: ZoneInfo, celsius: float | None, known: KnownOfShop,
    odd: list[str],
) -> BoardAhead:  # fmt: skip
    """A job as the planner takes it; sentences on what it lacks are added to `odd`."""
    steps = list(job.steps.all())
    line = in_line([_planned(name, step, at, odd) for step in steps], celsius)
    unanswered = [extra for extra in job.extras.all() if extra.open]
    free, done = now + timedelta(hours=line.free_h), sum(step.state == Step.State.DONE for step in steps)
    own = line.steps
    if unanswered:
        free = max(free, now + timedelta(hours=known.turn_up.answer_h))
        own = (*_of_extras(unanswered, known, celsius), *own)
    turned_up = any(extra.kind in (Extra.Kind.EXTRA, Extra.Kind.ABSORBED) for extra in job.extras.all())
    may_turn_up = not turned_up and done < OPEN_AFTER_STEPS <= done + len(own)
    return BoardAhead(
        job=name,
        came=local_time(job.agreed_at, zone),
        promised=job.promised_on,
        rush=bool(job.way.board.quote.rush_percent),
        free_from=_minute(free),
        bonds_until=_bonds(line, now) if not unanswered else None,
        turns_up_after=OPEN_AFTER_STEPS - done if may_turn_up else None,
        steps=own,
    )


def _minute(at: datetime) -> datetime:
    return at.replace(second=0, microsecond=0)


def _bonds(line: InLine, now: datetime) -> datetime | None:
    return None if line.bonds_h is None else _minute(now + timedelta(hours=line.bonds_h))


def _of_extras(unanswered: Sequence[Extra], known: KnownOfShop, celsius: float | None) -> tuple[StepAhead, ...]:
    """Steps of what turned up and nobody has answered: as priced, else what usually turns up."""
    found: list[StepAhead] = []
    for extra in unanswered:
        if extra.kind == Extra.Kind.EXTRA:
            plans = [] if extra.way is None else list(extra.way.planned_steps)
            found += steps_ahead(plans, celsius) or known.turn_up.steps
    return tuple(found)


def _planned(name: str, step: Step, at: datetime, odd: list[str]) -> ToLay:
    """A step with the minutes left of it; one without any gets our own and a sentence in `odd`."""
    minutes, done = step.planned_minutes, step.state == Step.State.DONE
    if minutes <= 0 and not done:
        minutes = WITHOUT_MINUTES
        odd.append(f"Tag {name}: “{step.title}” has no planned minutes; {WITHOUT_MINUTES:g} are reckoned with.")
    if step.state == Step.State.DOING:
        spent = (at - step.started_at).total_seconds() / 60 if step.started_at else 0.0
        minutes = max(minutes - spent, LEAST_LEFT * minutes)
    return ToLay(
        name=str(step.pk),
        plan=step.planned,
        repairs=step.repairs,
        minutes=round(minutes, 1),
        done=done,
        free_h=None if step.earliest_at is None else _hours(step.earliest_at - at),
        bonds_h=None if step.latest_at is None or step.state == Step.State.DOING else _hours(step.latest_at - at),
    )


def _hours(left: timedelta) -> float:
    return left.total_seconds() / 3600


def _too_long(state: BenchState, jobs: dict[str, Job]) -> list[str]:
    """Sentences on steps that no day at the bench is long enough for."""
    titles = {str(step.pk): step.title for job in jobs.values() for step in job.steps.all()}
    return [
        f"Tag {job}: “{titles.get(step, step)}” takes longer than any day at the bench."
        for job, step in state.too_long()
    ]


def tomorrow(now: datetime) -> datetime:
    """The beginning of the next day."""
    return datetime.combine(now.date() + timedelta(days=1), time.min)
