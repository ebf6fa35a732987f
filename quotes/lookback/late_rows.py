"""What rows say of boards that were late, from the promise until they were ready.

Told from rows is: how long a customer's answer was waited for; days on which steps were done again; days away that were
written down after the promise; hours at the bench against those the open hours usually give, beyond what is usual luck;
and material, where a step was begun within a day of when the lot it took came in, and it had been free to be done
before. What was on order or who was called is not, and stays unknown.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from datetime import date, datetime, timedelta
from math import fsum, sqrt

from inventory.models import Origin
from quotes.lookback.kept import PastPromise
from quotes.lookback.late import LateFacts
from quotes.models import Extra, Step, StepUse
from quotes.ready_days.hours_seen import hours_by_day, steps_seen
from quotes.ready_days.open_hours import OpenHours, days_from
from shop.models import Absence, Profile

USUAL_LUCK = 1.2816  # sd: hours missing beyond what nine in ten such stretches of days miss
A_DAY = timedelta(days=1)


def late_facts(late: Sequence[PastPromise], profile: Profile, *, lost: float, lost_sd: float) -> list[LateFacts]:
    """Facts of each late promise. `lost` is the share of a day that usually goes elsewhere, `lost_sd` its spread.

    Ten queries however many there are, none where there is none.
    """
    if not late:
        return []
    answers, again, material = _answers(late), _again(late, profile), _material(late, profile)
    bench = _Bench(late, profile, lost, lost_sd)
    found = []
    for one in late:
        missing, a_day = bench.missing(one)
        found.append(LateFacts(
            late=one.late, answer_h=answers.get(one.job, 0.0), material_days=material.get(one.job, 0),
            again_days=again.get(one.job, 0), away_days=bench.away(one), hours_missing=missing, hours_a_day=a_day,
        ))  # fmt: skip
    return found


def _answers(late: Sequence[PastPromise]) -> dict[int, float]:
    """Hours in which an answer was waited for, by job; two waited for at once count once."""
    by_job = {one.job: one for one in late}
    waited: dict[int, float] = defaultdict(float)
    until: dict[int, datetime] = {one.job: one.given_at for one in late}
    rows = Extra.objects.filter(job__in=by_job, kind__in=(Extra.Kind.EXTRA, Extra.Kind.ANOTHER))
    found = rows.filter(answered_at__isnull=False).order_by("found_at", "pk")
    for job, asked, answered in found.values_list("job_id", "found_at", "answered_at"):
        begins, ends = max(asked, until[job]), min(answered or asked, by_job[job].ready_at)
        if ends > begins:
            waited[job] += (ends - begins).total_seconds() / 3600
            until[job] = ends
    return waited


def _again(late: Sequence[PastPromise], profile: Profile) -> dict[int, int]:
    """Days on which steps were done again, by job."""
    by_job = {one.job: one for one in late}
    days: dict[int, set[date]] = defaultdict(set)
    rows = Step.objects.filter(job__in=by_job, redo_of__isnull=False, done_at__isnull=False)
    for job, done_at in rows.values_list("job_id", "done_at"):
        if done_at and by_job[job].given_at <= done_at <= by_job[job].ready_at:
            days[job].add(profile.day_of(done_at))
    return {job: len(own) for job, own in days.items()}


def _material(late: Sequence[PastPromise], profile: Profile) -> dict[int, int]:
    """Days from when a step was free until what it took came in, the most of any step, by job."""
    by_job = {one.job: one for one in late}
    found: dict[int, int] = defaultdict(int)
    rows = StepUse.objects.filter(step__job__in=by_job, undone_at__isnull=True, movements__lot__origin=Origin.BOUGHT)
    columns = ("step__job_id", "step__earliest_at", "step__started_at", "step__done_at", "movements__lot__received_on")
    for job, earliest, started, done, came in rows.values_list(*columns).distinct():
        begun = started or done
        free = profile.day_of(max(earliest or by_job[job].given_at, by_job[job].given_at))
        if begun and came and came <= profile.day_of(begun) <= came + A_DAY:
            found[job] = max(found[job], (came - free).days)
    return found


class _Bench:
    """Hours of the bench over all days that late boards were promised and not ready."""

    def __init__(self, late: Sequence[PastPromise], profile: Profile, lost: float, lost_sd: float) -> None:
        first_at, last_at = min(one.given_at for one in late), max(one.ready_at for one in late)
        first, last = profile.day_of(first_at), profile.day_of(last_at)
        self._profile, self._lost, self._lost_sd = profile, lost, lost_sd
        self._hours = OpenHours.of_rows(profile, first, last)
        self._spent: Mapping[date, float] = hours_by_day(self._hours, first, last)
        self._left = steps_seen(profile, last_at, first).work_left
        absences = Absence.objects.filter(first__lte=last, last__gte=first)
        self._absences = list(absences.values_list("person_id", "first", "last", "made_at"))

    def missing(self, one: PastPromise) -> tuple[float | None, float]:
        """Hours missing at the bench beyond usual luck on days with work left, and hours a day usually gives.

        None where no step was written down on most of these days.
        """
        days = [day for day in self._days(one) if self._hours.on(day)]
        a_day = fsum(map(self._hours.on, days)) * (1.0 - self._lost) / len(days) if days else 0.0
        busy = [day for day in days if day in self._left]
        if 2 * sum(bool(self._spent.get(day)) for day in busy) < len(busy) or not busy:
            return None, a_day
        expected = fsum(self._hours.on(day) for day in busy) * (1.0 - self._lost)
        luck = USUAL_LUCK * self._lost_sd * sqrt(fsum(self._hours.on(day) ** 2 for day in busy))
        return max(0.0, expected - fsum(self._spent.get(day, 0.0) for day in busy) - luck), a_day

    def away(self, one: PastPromise) -> float:
        """Days away that nobody knew of when the day was promised, each as its part of all hands of that day."""
        return fsum(self._parts_away(one))

    def _parts_away(self, one: PastPromise) -> Iterator[float]:
        for person, first, last, made_at in self._absences:
            key = self._hours.known_as(person)
            if key is None or made_at <= one.given_at:
                continue
            for day in self._days(one):
                own = self._hours.usual(key, day) if first <= day <= last else 0.0
                if own:
                    yield own / fsum(self._hours.usual(each, day) for each in self._hours.people)

    def _days(self, one: PastPromise) -> list[date]:
        """Days after the promise and before the board was ready."""
        return days_from(self._profile.day_of(one.given_at) + A_DAY, one.ready - A_DAY)
