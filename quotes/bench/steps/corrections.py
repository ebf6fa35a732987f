"""What was written down wrongly is put right, or said to be right: by a person, never by the tool.

A use is taken back with all of its tap and booked again, this one with another quantity; a minute likewise. The rest of
a shared cup keeps its proportion.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from itertools import groupby
from uuid import uuid4

from django.utils.dateformat import format as day_words

from inventory.models import Material
from inventory.stock import ledger
from quotes import experience
from quotes.bench.plan.reserving import reserve_job
from quotes.bench.steps.progress import SHORTEST, planned_minutes
from quotes.bench.steps.words import hands_words
from quotes.bench.use.consumption import book, undo_use
from quotes.experience.rows import timed
from quotes.models import BenchHours, Job, Mix, StepTime, StepUse
from shop.measures import units
from shop.measures.apportion import apportion
from shop.models import User
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action


@action("use.correct", *EVERY_ROLE)
def correct_use(*, use: StepUse, quantity: Decimal, signed: Signed) -> StepUse:
    """The right quantity of a use, in its material's unit; returns the use that now stands. Raises Refused."""
    if quantity <= 0:
        raise Refused(f"How much {use.material.name} must be above zero.", field="quantity")
    undone = sorted(undo_use(use=use, signed=signed), key=lambda one: one.pk)
    ledger.lock(Material.objects.filter(pk__in=[one.material_id for one in undone]))
    cups = _new_cups(undone, signed.by)
    right, tap = None, uuid4()
    for one in undone:
        amount = _amount(one, use, quantity)
        if amount <= 0:
            continue
        new = book(
            one.step, one.material, amount, signed=signed, mix=cups.get(one.mix_id), customers_own=one.customers_own,
            as_planned=one.as_planned and one.pk != use.pk, happened_at=_left_the_shelf(one), tap=tap,
        )  # fmt: skip
        right = new if one.pk == use.pk else right
    for job in sorted({one.step.job for one in undone}, key=lambda job: job.pk):
        reserve_job(job=job, at=signed.at)
        was, now = (units.show(each, use.material.unit) for each in (use.used, quantity))
        words = f"Corrected on {job.takein.tag}: {use.material.name} {was} is {now}"
        signed.record(job, words)
    assert right is not None
    return right


def _left_the_shelf(use: StepUse) -> datetime:
    """When a use took from the shelf: a count made since then has seen it gone, whenever it is put right."""
    first = next(iter(use.movements.all()), None)
    return first.happened_at if first else use.at


def _new_cups(undone: Sequence[StepUse], by: User) -> dict[int | None, Mix]:
    """A cup for each that was emptied back: what was in it is in the new one."""
    old = Mix.objects.filter(pk__in={one.mix_id for one in undone if one.mix_id})
    return {mix.pk: Mix.objects.create(system=mix.system, mixed_at=mix.mixed_at, by=by) for mix in old}


def _amount(one: StepUse, use: StepUse, quantity: Decimal) -> Decimal:
    if one.pk == use.pk:
        return quantity
    if one.mix_id is None or (one.mix_id, one.material_id) != (use.mix_id, use.material_id):
        return one.used
    return units.to_step(one.used * quantity / use.used, one.material.unit)


@action("minutes.correct", *EVERY_ROLE)
def correct_minutes(*, time: StepTime, minutes: Decimal, signed: Signed) -> StepTime:
    """The right minutes of a person on a step, at the wage and overhead of their day. Raises Refused."""
    minutes = minutes.quantize(SHORTEST, ROUND_HALF_UP)
    if minutes <= 0:
        raise Refused("Minutes must be above zero, like 20.", field="minutes")
    Job.objects.select_for_update().get(pk=time.step.job_id)
    time = StepTime.objects.select_related("step__job__takein", "person").get(pk=time.pk)
    if time.replaced_at is not None:
        raise Refused("These minutes were already corrected. Open the step again.")
    right = _instead(time, minutes, signed.at, typed=True)
    if not time.step.job.on_the_bench:
        experience.mark_stale(at=signed.at)
    words = f"Corrected “{time.step.title}” on {time.step.job.takein.tag}: {time.minutes:g} min is {minutes:g} min"
    signed.record(time.step.job, words)
    return right


def _instead(time: StepTime, minutes: Decimal, at: datetime, *, typed: bool, of_total: bool = False) -> StepTime:
    StepTime.objects.filter(pk=time.pk).update(replaced_at=at)
    return StepTime.objects.create(
        step=time.step,
        person=time.person,
        minutes=minutes,
        day=time.day,
        wage_per_hour=time.wage_per_hour,
        overhead_per_hour=time.overhead_per_hour,
        of_total=of_total,
        typed=typed,
    )


def minutes_of_days(person: User, first: date, last: date) -> list[StepTime]:
    """The minutes of a person from one day to another, by day in the order they were written. One query."""
    times = StepTime.objects.filter(person=person, day__range=(first, last), replaced_at__isnull=True)
    return list(times.select_related("step__job__takein__board", "person").order_by("day", "pk"))


def own_minutes(time: StepTime) -> bool:
    """Whether somebody wrote these minutes down or timed them, at the step or for the whole job."""
    if time.step.job.hands == Job.Hands.WHOLE:
        return True
    return not time.of_total and timed([time.typed], float(time.minutes), time.step.planned_minutes)


@dataclass(frozen=True)
class Spread:
    """What a total of some days can be spread over.

    `open` are the minutes that stand as planned, on days that no earlier total is for. `given` are those earlier
    totals; they and the minutes `written` down on the other days are part of it.
    """

    given: Sequence[BenchHours]
    free: Sequence[Sequence[date]]  # the days without a total, those that follow each other together
    times: Sequence[StepTime]  # on these days
    within: bool  # whether the earlier totals are for no other days

    @property
    def takes_another(self) -> bool:
        """Whether some day is left, and no earlier total reaches beyond these days."""
        return not self.given or bool(self.free and self.within)

    @property
    def open(self) -> list[StepTime]:
        """Minutes that wait for a share."""
        return [time for time in self.times if not own_minutes(time)]

    @property
    def written(self) -> Decimal:
        """Minutes that a total must hold, whatever is spread."""
        own = [time.minutes for time in self.times if own_minutes(time)]
        return sum([*own, *(total.minutes for total in self.given)], Decimal(0))


def spread_of(person: User, first: date, last: date) -> Spread:
    """What a total of a person's hands-on minutes from one day to another can be spread over. Two queries."""
    given = list(BenchHours.objects.standing().filter(person=person, from_day__lte=last, to_day__gte=first))
    days = [first + timedelta(days=number) for number in range((last - first).days + 1)]
    taken = {day for day in days for total in given if total.from_day <= day <= total.to_day}
    runs = [list(run) for is_taken, run in groupby(days, key=taken.__contains__) if not is_taken]
    times = [time for time in minutes_of_days(person, first, last) if time.day not in taken]
    within = all(first <= total.from_day and total.to_day <= last for total in given)
    return Spread(given, runs, times, within)


@action("hours.spread", *EVERY_ROLE)
def spread_total(*, person: User, first: date, last: date, minutes: Decimal, signed: Signed) -> list[StepTime]:
    """A day's or a week's total of hands-on minutes, first to last day.

    What is written down already, as minutes of a step or as an earlier total of some of the days, is part of it; the
    rest is spread over the other steps as they were planned. The total itself is what is learned from, as `note_hours`
    keeps it, for the days that had none; the shares are for what each job cost. Raises Refused where there is nothing
    to spread over, or the total does not hold what is written down.
    """
    found = spread_of(person, first, last)
    if not found.takes_another:
        raise Refused(
            f"A total stands for these days already: {_said(found.given)}. Take it back first.", field="minutes"
        )
    if not found.open:
        raise Refused("No step waits for minutes: each has its own.", field="minutes")
    left = minutes.quantize(SHORTEST, ROUND_HALF_UP) - found.written
    if left < SHORTEST * len(found.open):
        raise Refused(_too_little(found), field="minutes")
    shares = minute_shares(left, [time.step.planned_minutes for time in found.open])
    given = {time.pk: share for time, share in zip(found.open, shares, strict=True)}
    for run in found.free:
        there = [time for time in found.times if run[0] <= time.day <= run[-1]]
        if any(time.pk in given for time in there):
            total = sum((given.get(time.pk, time.minutes) for time in there), Decimal(0))
            experience.note_hours(person=person, from_day=run[0], to_day=run[-1], minutes=total, signed=signed)
    return [
        _instead(time, share, signed.at, typed=False, of_total=True)
        for time, share in zip(found.open, shares, strict=True)
    ]


def _too_little(found: Spread) -> str:
    like = f"like {hands_words(found.written + 10 * len(found.open))}"
    among = f", {_said(found.given)} among them" if found.given else ""
    return f"Minutes must be above the {hands_words(found.written)} that are written down already{among}, {like}."


def _said(totals: Sequence[BenchHours]) -> str:
    """Totals with their days: 18 h for Mon 23 Nov to Wed 25 Nov."""
    said = []
    for total in totals:
        days = " to ".join(day_words(day, "D j M") for day in sorted({total.from_day, total.to_day}))
        said.append(f"{hands_words(total.minutes)} for {days}")
    return " and ".join(said)


@action("hours.spread_back", *EVERY_ROLE)
def take_total_back(*, hours: BenchHours, signed: Signed) -> list[StepTime]:
    """A total that was wrong: its steps stand as planned again and wait for another. Raises Refused."""
    experience.forget_hours(hours=hours, signed=signed)
    times = minutes_of_days(hours.person, hours.from_day, hours.to_day)
    shares = [one for one in times if one.of_total and one.step.job.hands != Job.Hands.WHOLE]
    return [_instead(one, planned_minutes(one.step), signed.at, typed=False) for one in shares]


def minute_shares(total: Decimal, planned: Sequence[float]) -> list[Decimal]:
    """A total in tenths by planned minutes, at least a tenth each, exactly."""
    weights = [max(minutes, 0.1) for minutes in planned]
    spare = (total - SHORTEST * len(weights)).quantize(SHORTEST, ROUND_HALF_UP)
    return [SHORTEST + share for share in apportion(spare, weights, SHORTEST)]


@action("log.confirm", *EVERY_ROLE)
def said_right(*, log: StepUse | StepTime, signed: Signed) -> None:
    """A log that was asked about is right as it stands; it is not asked about again. Raises Refused if it is gone."""
    gone = log.replaced_at if isinstance(log, StepTime) else log.undone_at
    if gone is not None:
        raise Refused("This was already taken back. Open the step again.")
    if log.sure_at is not None:
        return
    type(log).objects.filter(pk=log.pk).update(sure_at=signed.at)
    what = f"{log.minutes:g} min" if isinstance(log, StepTime) else units.show(log.used, log.material.unit)
    name = "" if isinstance(log, StepTime) else f" of {log.material.name}"
    words = f"Said to be right on {log.step.job.takein.tag}: {what}{name} for “{log.step.title}”"
    signed.record(log.step.job, words)
