"""What the steps ahead of a job reserve in the store, by day, and which of them will not find it.

Idea: after anything changes on a job its reservations are made what its steps ahead still need, its sundries
among them; so there is one rule and not one for each verb. A step needs what is planned for it until anything of that
material is booked on it, for that is then what it really took. Repairs that share no step are laid out each on its own
from today: the earliest day, since material must be there by then. How much it is follows what the shop has learned
since the quote, and its own figures of now.
Invariant: an open reservation belongs to a step still ahead of a job on the bench, and each material of a step has one.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import NamedTuple

from django.utils import timezone

from inventory.buying import planning
from inventory.buying.planning import Want, Wanted, together
from inventory.models import Material
from quotes import experience
from quotes.costing import Timed, place_in_days
from quotes.costing.job.sundries import taken_part
from quotes.costing.parts.usage import POOLED, Learned, planned_now
from quotes.estimating import Calendar, shop_calendar, taught
from quotes.experience.standard import MadeNow
from quotes.models import Job, Step, StepReservation, StepUse
from shop.measures import units
from shop.platform.acts import Refused, internal
from shop.text.formats import day as day_words

Key = tuple[int, int]  # step, material
NOTHING_LEARNED: Mapping[tuple[str, str], Learned] = {}
NOTHING_SET: MadeNow = {}


def planned_stock(
    step: Step,
    materials: Mapping[str, Material],
    learned: Mapping[tuple[str, str], Learned] = NOTHING_LEARNED,
    made: MadeNow = NOTHING_SET,
) -> dict[str, Decimal]:
    """What is planned for a step of each material known to the store, in its unit and to the step stock is kept in.

    With `learned` it is what the step is expected to take by what the shop knows now, not when it was quoted; `made`
    says by part what its plan is made of by the figures of now (see `experience.made_now`). A step that serves several
    repairs takes what it does for each; of a line of sundries the steps that were left out take nothing (one query).
    """
    sums: dict[str, float] = {}
    for repair, plan in step.own_plans:
        own = made.get(repair or 0, {})
        for one in plan.materials:
            key, of, at = one.material, one.made_of, plan.index if one.step is None else one.step
            if key in materials and one.planned:
                now = own.get((at, key, of.operation == POOLED)) if of else None
                of = now.laid_over(of) if now and of else of
                sums[key] = sums.get(key, 0.0) + planned_now(one.planned, of, learned)
    if step.is_sundries:
        taken = _not_left_out(step)
        sums = {key: now * taken[key] for key, now in sums.items()}
    planned = {key: units.to_step(Decimal(str(now)), materials[key].unit) for key, now in sums.items()}
    return {key: amount for key, amount in planned.items() if amount > 0}


def _not_left_out(line: Step) -> dict[str, float]:
    steps = Step.objects.filter(job=line.job_id, redo_of=None)
    kept = [(step.part_id, step.planned, step.state != Step.State.DROPPED) for step in steps if not step.planned.put_in]
    return taken_part(line.planned, kept)


@internal
def reserve_job(*, job: Job, at: datetime) -> None:
    """Make the open reservations of a job what its steps ahead still need, on the days they can first be done.

    A job that is not on the bench needs nothing. Done twice it changes nothing. About ten queries.
    """
    job = Job.objects.select_for_update().get(pk=job.pk)
    steps = list(Step.with_sundries.filter(job=job).ahead().order_by("position")) if job.on_the_bench else []
    wanted = {(step.pk, want.material.pk): want for step, want in _wants(steps, at)}
    kept, over = {}, []
    for link in _open(job):
        key = link.step_id, link.reservation.material_id
        if key in wanted and key not in kept and wanted[key].quantity == link.reservation.quantity:
            kept[key] = link.reservation
        else:
            over.append(link.reservation_id)
    if over:
        planning.release(reservations=over, at=at)
    moved = {row.pk: wanted[key].needed_on for key, row in kept.items() if row.needed_on != wanted[key].needed_on}
    if moved:
        planning.move(days=moved)
    _reserve({key: want for key, want in wanted.items() if key not in kept}, at)


@internal
def release_job(*, job: Job, at: datetime) -> int:
    """Let go of all that a job has reserved; says how many there were."""
    return planning.release(reservations=[link.reservation_id for link in _open(job)], at=at)


def _open(job: Job) -> Iterable[StepReservation]:
    return StepReservation.objects.filter(step__job=job, reservation__released_at=None).select_related("reservation")


def _reserve(wants: Mapping[Key, Want], at: datetime) -> None:
    if wants:
        made = planning.reserve(wants=wants.values(), at=at)
        links = (StepReservation(step_id=step, reservation=row) for (step, _), row in zip(wants, made, strict=True))
        StepReservation.objects.bulk_create(links)


def _wants(steps: Sequence[Step], at: datetime) -> Iterator[tuple[Step, Want]]:
    """What each step still needs, and its day."""
    if not steps:
        return
    keys = {key for step in steps for key in step.planned.takes}
    materials = {row.key: row for row in Material.objects.filter(key__in=keys)}
    today, worked = timezone.localdate(at), [step for step in steps if not step.is_sundries]
    booked = set(StepUse.objects.filter(step__in=steps, undone_at=None).values_list("step", "material__key"))
    booked |= {(step.pk, key) for step in steps if step.is_sundries for key in booked_at_steps(step)}
    days = days_of(worked, today=today, calendar=shop_calendar())
    learned = taught().get("learned", NOTHING_LEARNED)
    repairs = {repair for step in steps for repair in step.repairs if repair}
    made = experience.made_now(repairs) if learned else NOTHING_SET
    for step in steps:
        for key, quantity in planned_stock(step, materials, learned, made).items():
            if (step.pk, key) not in booked:
                day = days.get(step.pk) or _first_day(step, key, worked, days, today)
                yield step, Want(materials[key], quantity, day)


def _first_day(line: Step, key: str, worked: Sequence[Step], days: Mapping[int, date], today: date) -> date:
    """The day of the first step ahead that takes a material of a line of sundries."""
    return min((days[step.pk] for step in worked if shares(step, line, key)), default=today)


def shares(step: Step, line: Step, key: str) -> bool:
    """Whether a step takes a material that the line of sundries plans for it."""
    taken = [one.planned for one in step.planned.materials if one.material == key]
    return bool(taken) and not any(taken) and not set(step.repairs).isdisjoint(line.repairs)


def booked_at_steps(line: Step) -> dict[str, Decimal]:
    """What of a line of sundries was booked at the steps that it is planned for, by key in the material's unit.

    It was really used there: no more of it is booked with the line. One query.
    """
    uses = StepUse.objects.filter(step__job=line.job_id, undone_at=None).exclude(step=line)
    uses = uses.filter(material__key__in=line.planned.takes)
    found: dict[str, Decimal] = {}
    for use in uses.select_related("step", "material"):
        key = use.material.key
        if not use.step.is_sundries and shares(use.step, line, key):
            found[key] = found.get(key, Decimal(0)) + use.used
    return found


class Ahead(NamedTuple):
    """A step ahead as its days need it: its time as `costing.Timed`, and when what is under it has cured."""

    pk: int
    repairs: tuple[int | None, ...]
    position: int
    timed: Timed
    cured_at: datetime | None

    @classmethod
    def of(cls, step: Step, timed: Timed) -> Ahead:
        """A step with its plan's figures. One under way takes no more time: how much of it is left is not known."""
        if step.state == Step.State.DOING:
            timed = timed._replace(minutes=0.0, pause_h=0.0)
        return cls(step.pk, step.repairs, step.position, timed, step.earliest_at)


class Days(NamedTuple):
    """The first day a step can be done, and the day it is then done."""

    begun: date
    done: date


def days_of(steps: Iterable[Step], *, today: date, calendar: Calendar) -> dict[int, date]:
    """The first day each step ahead can be done, by key, from today on, or from when what is under it has cured."""
    return {pk: days.begun for pk, days in _days(map(_planned, steps), today, calendar).items()}


def late_finish(job: Job, *, today: date, calendar: Calendar) -> date | None:
    """The earliest day a job on the bench is ready where that is after the day promised; else None."""
    if not job.on_the_bench or job.promised_on is None or job.promised_on < today:
        return None
    ahead = (_planned(step) for step in job.steps.all() if step.ahead)
    first = ready_at_the_earliest(ahead, today=today, calendar=calendar)
    return first if first > job.promised_on else None


def _planned(step: Step) -> Ahead:
    return Ahead.of(step, Timed.of(step.planned)._replace(latest_start_h=None))


def ready_at_the_earliest(ahead: Iterable[Ahead], *, today: date, calendar: Calendar) -> date:
    """The day the last of a job's steps is done if nothing but their cures holds them up; today if none is ahead."""
    return max((days.done for days in _days(ahead, today, calendar).values()), default=today)


def _days(ahead: Iterable[Ahead], today: date, calendar: Calendar) -> dict[int, Days]:
    found: dict[int, Days] = {}
    for steps in _apart(ahead):
        found |= _days_in_turn(*_free_first(steps), today, calendar)
    return found


def _apart(ahead: Iterable[Ahead]) -> list[list[Ahead]]:
    """Steps in their order, those together that wait for each other: of one repair, or of some that share a step."""
    groups: list[tuple[set[int | None], list[Ahead]]] = []
    for step in sorted(ahead, key=lambda step: step.position):
        met = [group for group in groups if not group[0].isdisjoint(step.repairs)]
        repairs = set(step.repairs).union(*(own for own, _ in met))
        steps = sorted((one for _, rows in met for one in rows), key=lambda one: one.position)
        groups = [group for group in groups if group not in met] + [(repairs, [*steps, step])]
    return [steps for _, steps in groups]


def _free_first(steps: Sequence[Ahead]) -> tuple[list[Ahead], list[Ahead]]:
    """Of steps in their order those that wait for no other, what has cured first, first; and those that do."""
    heads: list[Ahead] = []
    rest: list[Ahead] = []
    met: set[int | None] = set()
    for step in steps:
        (heads if met.isdisjoint(step.repairs) else rest).append(step)
        met.update(step.repairs)
    return sorted(heads, key=lambda step: (step.cured_at.timestamp() if step.cured_at else 0.0, step.position)), rest


def _days_in_turn(heads: Sequence[Ahead], rest: Sequence[Ahead], today: date, calendar: Calendar) -> dict[int, Days]:
    """Steps one after the other from when the first of the `heads` can be begun, none of which waits for another."""
    steps = [*heads, *rest]
    cured = heads[0].cured_at
    start = max(today, timezone.localdate(cured)) if cured else today
    timed = [step.timed._replace(earliest_start_h=0.0) for step in heads] + [step.timed for step in rest]
    try:
        begin = calendar.first_open(start)
        slots = place_in_days(
            timed,
            hours_per_day=calendar.hours_per_day,
            is_open=lambda number: calendar.is_open(begin + timedelta(days=number)),
        )
    except (Refused, ValueError):  # a shop that works no day: what was really done is booked all the same
        return {step.pk: Days(start, start) for step in steps}
    return {
        step.pk: _cured(Days(begin + timedelta(days=slot.day), begin + timedelta(days=slot.end_day)), step.cured_at)
        for step, slot in zip(steps, slots, strict=True)
    }


def _cured(days: Days, at: datetime | None) -> Days:
    """Not before what is under a step has cured."""
    day = timezone.localdate(at) if at else days.begun
    return Days(max(days.begun, day), max(days.done, day))


class Shortage(NamedTuple):
    """A step that will not find a material in date."""

    step: Step
    wanted: Wanted

    @property
    def words(self) -> str:
        """Laminating resin: 10 g will be missing."""
        return self.wanted.words

    @property
    def sentence(self) -> str:
        """Hot coat, Mon 30 Nov. Laminating resin: 10 g will be missing."""
        return f"{self.step.title}, {day_words(self.wanted.reservation.needed_on)}. {self.words}."


def short_steps(jobs: Iterable[Job], *, today: date) -> dict[int, list[Shortage]]:
    """By job, the steps ahead that will not find what they need, the first first. Six queries for any number of jobs.

    All that other jobs have reserved before them is counted as gone.
    """
    held = StepReservation.objects.filter(step__job__in=[job.pk for job in jobs], reservation__released_at=None)
    links = list(held.select_related("step", "reservation"))
    steps = {link.reservation_id: link.step for link in links}
    materials = {link.reservation.material_id for link in links}
    found: dict[int, list[Shortage]] = {}
    for one in planning.wanted(today, materials) if materials else ():
        step = steps.get(one.reservation.pk)
        if step is not None and one.short:
            found.setdefault(step.job_id, []).append(Shortage(step, one))
    return found


class Lacking(NamedTuple):
    """One material that a job will not find in date: what all its steps together lack, and those steps."""

    material: Material
    lacks: str
    steps: list[Step]
    first: date


def by_material(found: Iterable[Shortage]) -> list[Lacking]:
    """The shortages of a job by material, what is short first, first."""
    rows: dict[int, list[Shortage]] = {}
    for one in found:
        rows.setdefault(one.wanted.reservation.material_id, []).append(one)
    return [
        Lacking(
            group[0].wanted.reservation.material,
            together(one.wanted for one in group).lacks,
            [one.step for one in group],
            group[0].wanted.reservation.needed_on,
        )
        for group in rows.values()
    ]


def in_short(found: Sequence[Shortage], today: date) -> str:
    """A job's shortages in a few words, for a list: Pour foam short now, and 1 more."""
    lacking = by_material(found)
    if not lacking:
        return ""
    when = "now" if lacking[0].first <= today else f"from {day_words(lacking[0].first)}"
    more = f", and {len(lacking) - 1} more" if len(lacking) > 1 else ""
    return f"{lacking[0].material.name} short {when}{more}"
