"""What jobs left behind in rows, read in a fixed number of queries and as little of each as learning needs.

A plan line is one line of a part's frozen snapshot in the core's terms; what was used and how long it took hangs on the
step it happened at. Only what was weighed, cut or timed counts as written: what was booked as planned, by a tap or by
itself when a step was finished, and minutes that nobody typed or timed, say nothing. What lies between two counts then
speaks for them.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from typing import NamedTuple

from django.utils import timezone

from quotes.costing.basis.constants import CONSTANTS
from quotes.costing.learning.history import Range
from quotes.costing.parts.repair_shares import shares_of
from quotes.costing.snapshot import FactorUsed, PlannedStep, SnapshotLine
from quotes.costing.stats.assumptions import MINUTES
from quotes.experience.standard import PLAN, PartPlan, Standard
from quotes.models import Job, Step, StepTime, StepUse, WayPart
from shop.models import Profile

FIRST_DAY = date(2020, 1, 1)  # day 0 of the learning; any day does
_DUST = 1e-9
_TENTH = 0.051  # min: minutes are kept to a tenth


def each(unit: str) -> str:
    """The one place where the store's “piece” becomes the learning's “each”."""
    return "each" if unit == "piece" else unit


def day_number(moment: datetime) -> float:
    """A moment as days since the first day, in the shop's time, so that what came before a count stays before it."""
    day, zone = timezone.localdate(moment), timezone.get_current_timezone()
    begins, ends = (datetime.combine(one, time.min, zone).astimezone(UTC) for one in (day, day + timedelta(days=1)))
    passed = int((moment - begins).total_seconds())  # of a day of 23 or 25 hours where the clocks change
    return (day - FIRST_DAY).days + round(passed / (ends - begins).total_seconds(), 5)


AS_STORED: Mapping[str, Range] = {}


def defaults_now() -> dict[str, Range]:
    """Every default by the constant's name, the shop's own figures laid over the trade's. One query."""
    own = Profile.objects.values_list("constants", flat=True).first() or {}
    laid = {name: Range(*map(float, figures)) for name, figures in own.items()}
    trade = {name: Range(one.value, one.low, one.high) for name, one in CONSTANTS.items() if one.low > 0}
    return trade | {name: figures for name, figures in laid.items() if name in trade}


class PlanLine(NamedTuple):
    """One line of a snapshot. `base` is the default before anything learned, as the shop has it now; `loss` the same.

    `name` is that of the constant behind it; `in_parts`, of what is counted by the piece, whether a piece serves
    several jobs; `smallest`, whether the smallest mix of then set its use, where that is another one now;
    `set_up_part`, of minutes, how large a part of the need sets up.
    """

    index: int  # type: ignore[assignment] # a tuple has a method of that name, which nobody asks here
    operation: str
    material: str
    unit: str
    base: Range
    need: float
    mixes: float
    loss: float
    least: float
    pooled: bool
    name: str
    in_parts: bool = False
    smallest: bool = False
    set_up_part: float = 0.0

    @property
    def set_by_least(self) -> bool:
        """Whether the smallest mix that can be metered sets its use, and not its need."""
        lost = self.mixes * self.loss
        return self.least > self.need * self.base.mid + lost + _DUST and self.least > lost


def plan_lines(plan: PartPlan, standard: Standard, now: Mapping[str, Range] = AS_STORED) -> list[PlanLine]:
    """Those of a plan's lines that can be learned from, their needs by a standard.

    Hands-on time once, no second part of a mix. `now` has the defaults of today by the constant's name: a figure that
    the shop has set since the quote is the one that its jobs are compared with. What sets a need is in the standard.
    """
    found = []
    for line, stored in zip(standard.lines(plan), plan.lines, strict=True):
        if line.follows or line.need <= 0:
            continue
        made = _plan_line(line, now)
        was = made if stored is line else _plan_line(stored, AS_STORED)
        if stored is not line and was.set_by_least:  # so much was really mixed, whatever the smallest mix is now
            made = made._replace(least=max(was.least, made.least), smallest=True)
        found.append(made)
    return found


def _plan_line(line: SnapshotLine, now: Mapping[str, Range]) -> PlanLine:
    factor, unit = line.factor, each(line.unit)
    operation, _ = line.cell
    return PlanLine(
        index=line.step,
        operation=operation,
        material=MINUTES if line.is_time else line.material or "",
        unit=unit,
        base=now.get(factor.name) or _base(factor),
        need=line.need,
        mixes=line.mixes,
        loss=line.trade_loss,
        least=line.least,
        pooled=line.shared,
        name=factor.name,
        in_parts=line.shared and unit == "each" and not line.whole,
        set_up_part=line.set_up_part,
    )


def _base(factor: FactorUsed) -> Range:
    made = factor.learned
    return Range(made.trade, made.trade_low, made.trade_high) if made else Range(factor.value, factor.low, factor.high)


@dataclass(slots=True)
class Used:
    """What a step took of one material off the shelf, and `own`: what of it was the customer's and lay on no shelf.

    `mixes` are shares of the cups it was weighed in.
    """

    amount: float = 0.0
    mixes: float = 0.0
    written: bool = False  # all of it was weighed, cut or typed
    booked: bool = False  # something of it was booked as planned
    brand: str = ""
    own: float = 0.0

    @property
    def ours(self) -> float:
        """The shop's share of all that the step took: 0 where all of it was the customer's own."""
        return self.amount / (self.amount + self.own) if self.own else 1.0

    def part(self, share: float) -> Used:
        """A share of it."""
        return replace(self, amount=self.amount * share, mixes=self.mixes * share, own=self.own * share)


@dataclass(slots=True)
class DoneStep:
    """A step that was done. `again`: a second time, or on a comeback; `charged` where the customer pays for that."""

    pk: int
    job: int
    part: int
    index: int
    at: datetime
    worker: str
    put_in: bool
    redo: bool
    again: bool
    charged: bool
    finished: bool
    minutes: float
    timed: bool
    used: dict[str, Used] = field(default_factory=dict)


def done_steps() -> list[DoneStep]:
    """Every step that was done and belongs to a repair, with what it took, and the sundries booked for whole jobs; one
    for several repairs as one of each, with its planned share. Five queries."""
    rows = Step.with_sundries.filter(state=Step.State.DONE, part__isnull=False, done_at__isnull=False).order_by(
        "done_at", "pk"
    )
    minutes, hands, marks = _times()
    steps, plans = {}, {}
    for (
        pk, job, part, at, by, redo, state, comeback, index, put_in, planned, redo_paid, job_paid, serves,
    ) in rows.values_list(
        "pk", "job_id", "part_id", "done_at", "done_by_id", "redo_of_id", "job__state", "job__comeback_of_id",
        "plan__index", "plan__put_in", "plan__minutes", "redo_billed", "job__billed", "plan__serves",
    ):  # fmt: skip
        spent = minutes.get(pk, 0.0)
        assert at is not None
        steps[pk] = DoneStep(
            pk=pk, job=job, part=part, index=int(index or 0), at=at, worker=hands.get(pk, str(by or "")),
            put_in=bool(put_in), redo=redo is not None, again=redo is not None or comeback is not None,
            charged=redo_paid if redo is not None else comeback is not None and job_paid,
            finished=state in Job.DONE, minutes=spent, timed=timed(marks.get(pk, ()), spent, float(planned or 0)),
        )  # fmt: skip
        if serves:
            plans[pk] = PlannedStep.from_json({"serves": serves})
    _add_uses(steps)
    return [own for pk, step in steps.items() for own in _told_apart(step, plans.get(pk))]


def _told_apart(step: DoneStep, plan: PlannedStep | None) -> Iterator[DoneStep]:
    """A step as one of each repair that it served, with its planned share of minutes, materials and cups."""
    if plan is None:
        yield step
        return
    hands = shares_of(plan, step.part)
    shares = {key: shares_of(plan, step.part, key) for key in step.used}
    for repair, own in plan.own(step.part):
        used = {key: taken.part(shares[key][repair]) for key, taken in step.used.items()}
        yield replace(step, part=repair or step.part, index=own.index, minutes=step.minutes * hands[repair], used=used)


def _times() -> tuple[dict[int, float], dict[int, str], dict[int, list[bool | None]]]:
    """Minutes and hands by step, and by step whether they were typed or timed.

    A share of a day's total was not: such a total is learned from itself.
    """
    minutes: dict[int, float] = defaultdict(float)
    hands: dict[int, str] = {}
    marks: dict[int, list[bool | None]] = defaultdict(list)
    times = StepTime.objects.filter(replaced_at__isnull=True).order_by("pk")
    for step, person, spent, share, typed in times.values_list("step_id", "person_id", "minutes", "of_total", "typed"):
        minutes[step] += float(spent)
        marks[step].append(False if share else typed)
        hands.setdefault(step, str(person))
    return minutes, hands, marks


def timed(marks: Sequence[bool | None], spent: float, planned: float) -> bool:
    """Whether minutes in all were typed or timed, by the `marks` of their rows.

    Rows of before there was a mark are told by their value: neither what was planned to the tenth, nor to the minute as
    the box showed.
    """
    if not marks or spent <= 0 or False in marks:
        return False
    if None not in marks:
        return True
    return min(abs(spent - planned), abs(spent - max(1, round(planned)))) > _TENTH


def _add_uses(steps: Mapping[int, DoneStep]) -> None:
    """Puts on each step what it took of each material, a shared mix by its share."""
    uses = list(
        StepUse.objects.filter(undone_at__isnull=True)
        .order_by("pk")
        .values_list("pk", "step_id", "material__key", "mix_id", "used", "as_planned", "customers_own")
    )
    cups: dict[tuple[int, str], float] = defaultdict(float)
    for _, _, key, mix, used, *_ in uses:
        if mix is not None:
            cups[mix, key] += float(used)
    brands = _brands()
    for pk, step_pk, key, mix, used, as_planned, own in uses:
        step = steps.get(step_pk)
        if step is None:
            continue
        found = step.used.setdefault(key, Used())
        if own:
            found.own += float(used)
            continue
        found.amount += float(used)
        found.mixes += float(used) / cups[mix, key] if mix is not None else 0.0
        found.booked |= as_planned
        found.written = not found.booked
        found.brand = brands.get(pk, found.brand)


def _brands() -> dict[int, str]:
    links = StepUse.movements.through.objects.exclude(movement__lot__brand="")
    return dict(links.order_by("pk").values_list("stepuse_id", "movement__lot__brand"))


def lines_of_parts(parts: Iterable[int]) -> Iterator[tuple[int, list[PlanLine]]]:
    """The plan lines of parts by the figures of now, one snapshot in memory at a time.

    Two queries, one more for 500 parts, and two where a figure was set since one of them was quoted.
    """
    now, standard = defaults_now(), Standard.now()
    keys = sorted(set(parts))
    for first in range(0, len(keys), 500):
        rows = WayPart.objects.filter(pk__in=keys[first : first + 500]).order_by("pk")
        for pk, *plan in rows.values_list("pk", *PLAN).iterator(chunk_size=50):
            yield pk, plan_lines(PartPlan.of_row(*plan), standard, now)
