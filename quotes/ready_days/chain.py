"""Steps of a job as the planner takes them: one after the other, each with what cures until the next may begin.

Idea: repairs of one board cure side by side, hands do one thing at a time. So the steps are laid out once with hands
that are always free, each as soon as what lies under it has cured; in that order they follow each other, and what is
left of a cure when the next step comes up is the wait between the two. What is done in one sitting is one step.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from quotes.costing import PlannedStep
from quotes.costing.steps.temperature import windows_at
from quotes.planner.state import StepAhead

SAND_FIRST_MIN = 10.0  # min, 5 to 20; common practice, no source: to key a coat by hand before one that comes late

UNDER_WAY_H = 1.0  # a step that hands are at is told as a coat whose bond closes at once: so it goes before all others

Repairs = tuple[int | None, ...]


@dataclass(frozen=True)
class ToLay:
    """A step to be laid out: its plan, the repairs it serves, its minutes left.

    `done` steps only say what lies under the others; one that hands are `doing` goes before all. `free_h` is in how
    many hours the step may be begun where that is known (None: when those before it are done), `bonds_h` in how many
    hours a coat does not bond any more.
    """

    name: str
    plan: PlannedStep
    repairs: Repairs
    minutes: float
    done: bool = False
    doing: bool = False
    free_h: float | None = None
    bonds_h: float | None = None


@dataclass(frozen=True)
class Laid:
    """A step laid out, in hours from now: when it begins, when hands leave it, until when a coat bonds to what it lies
    on (None: no hurry)."""

    step: ToLay
    begins: float
    hands_end: float
    bonds_until: float | None


@dataclass(frozen=True)
class InLine:
    """Steps ahead in their order, in how many hours the first may begin, until when it bonds (None: no hurry)."""

    steps: tuple[StepAhead, ...]
    free_h: float
    bonds_h: float | None


def in_line(steps: Sequence[ToLay], celsius: float | None) -> InLine:
    """The steps that are not done, one after the other, in a shop at a temperature in °C (None: as quoted)."""
    laid = _laid_out(steps, _waits(steps, celsius))
    if not laid:
        return InLine((), 0.0, None)
    ends = [*(one.begins for one in laid[1:]), None]
    untils = [*(one.bonds_until for one in laid[1:]), None]
    found: list[StepAhead] = []
    under_way = laid[0].step.doing
    for one, next_begins, until in zip(laid, ends, untils, strict=True):
        ahead = _ahead(one, next_begins, until)
        together = found and one.step.plan.same_sitting and not found[-1].cure_h
        if together:
            found[-1] = _together(found[-1], ahead)
        else:
            found.append(ahead)
    return InLine(tuple(found), laid[0].begins, UNDER_WAY_H if under_way else laid[0].bonds_until)


def steps_ahead(plans: Sequence[PlannedStep], celsius: float | None = None) -> tuple[StepAhead, ...]:
    """ToLay steps of a way or of a job not begun, named from 1, one after the other; see `in_line`."""
    own = [
        ToLay(str(number), plan, tuple(one.part for one in plan.serves) or (None,), plan.minutes)
        for number, plan in enumerate(plans, 1)
    ]
    return in_line(own, celsius).steps


def _ahead(one: Laid, next_begins: float | None, until: float | None) -> StepAhead:
    """A step with what is between it and the next."""
    plan, doing = one.step.plan, one.step.doing
    return StepAhead(
        name=one.step.name,
        minutes=max(one.step.minutes, 1.0),
        cure_h=0.0 if next_begins is None else round(max(0.0, next_begins - one.hands_end), 4),
        bonds_h=None if until is None else round(max(0.0, until - one.hands_end), 4),
        sand_first_min=SAND_FIRST_MIN if plan.latest_start_h is not None and not doing else 0.0,
        coats=plan.latest_start_h is not None or doing,
        cuts=plan.cuts_back,
        may_stop=not (plan.mixes or (plan.does and plan.does.puts)),
    )


def _together(first: StepAhead, second: StepAhead) -> StepAhead:
    """Two steps of one sitting as one, under the name of the first."""
    return replace(
        second,
        name=first.name,
        minutes=first.minutes + second.minutes,
        sand_first_min=first.sand_first_min,
        coats=first.coats,
        cuts=first.cuts or second.cuts,
        may_stop=first.may_stop and second.may_stop,
    )


Waits = Mapping[tuple[str, int | None], tuple[float, float | None]]
"""By step and repair: from when and until when (None: no hurry), in hours after the step before it on that repair."""


def _waits(steps: Sequence[ToLay], celsius: float | None) -> Waits:
    """Windows of the steps at a temperature, each repair by itself; as quoted where a plan does not keep them."""
    found: dict[tuple[str, int | None], tuple[float, float | None]] = {}
    for repair in dict.fromkeys(repair for step in steps for repair in step.repairs):
        chain = [step for step in steps if repair in step.repairs]
        windows = windows_at([replace(step.plan, serves=()) for step in chain], celsius)
        quoted = [(step.plan.earliest_start_h, step.plan.latest_start_h) for step in chain]
        for step, window in zip(chain, windows or quoted, strict=True):
            found[step.name, repair] = window
    return found


def _laid_out(steps: Sequence[ToLay], waits: Waits) -> list[Laid]:
    """Steps ahead as hands that are always free do them: what may be begun first, first; else as they stand."""
    left = [step for step in steps if not step.done]
    ends: dict[int | None, float] = {}
    hands, laid = 0.0, list[Laid]()
    while left:
        _, begins, _, step = min((not step.doing, _may_begin(step, ends, waits), at, step) for at, step in _heads(left))
        begins = max(begins, hands)
        hands = begins + step.minutes / 60
        laid.append(Laid(step, begins, hands, _bonds(step, ends, waits)))
        ends |= dict.fromkeys(step.repairs, hands + step.plan.pause_h)
        left.remove(step)
    return laid


def _heads(left: Sequence[ToLay]) -> Iterable[tuple[int, ToLay]]:
    """Steps that no other of their repairs goes before, with their place."""
    met: set[int | None] = set()
    for at, step in enumerate(left):
        if met.isdisjoint(step.repairs):
            yield at, step
        met.update(step.repairs)


def _may_begin(step: ToLay, ends: Mapping[int | None, float], waits: Waits) -> float:
    """In how many hours what lies under a step has cured."""
    after = [ends[repair] + waits[step.name, repair][0] for repair in step.repairs if repair in ends]
    return max([*after, step.free_h or 0.0, 0.0])


def _bonds(step: ToLay, ends: Mapping[int | None, float], waits: Waits) -> float | None:
    """In how many hours a coat does not bond any more to what lies under a step; None where there is no hurry."""
    untils = [] if step.bonds_h is None else [step.bonds_h]
    for repair in step.repairs:
        last = waits[step.name, repair][1]
        if repair in ends and last is not None:
            untils.append(ends[repair] + last)
    return min(untils, default=None)
