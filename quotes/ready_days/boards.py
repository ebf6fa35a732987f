"""A job on the bench as the planner takes it: its steps ahead, what waits for an answer, when hands may go on."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Protocol

from quotes.costing import PlannedStep
from quotes.models import Extra, Job, Step, Way, WayPart
from quotes.planner.play import OPEN_AFTER_STEPS
from quotes.planner.state import BoardAhead, KnownOfShop, StepAhead
from quotes.ready_days.chain import InLine, ToLay, in_line

WITHOUT_MINUTES = 30.0  # min; our own choice for a step that nobody planned minutes for
LEAST_LEFT = 0.25  # of the minutes planned, that a step under way still takes at least; our own choice
NO_ROW = "+"  # begins the name of a step that has no row


class MomentOfShop(Protocol):
    """A moment of the shop; see `rack_state.ShopNow`."""

    @property
    def at(self) -> datetime: ...
    @property
    def celsius(self) -> float | None: ...
    @property
    def known(self) -> KnownOfShop: ...
    def local(self, at: datetime) -> datetime: ...
    def in_hours(self, hours: float) -> datetime: ...


def board_ahead(name: str, job: Job, shop: MomentOfShop, odd: list[str], *, answered: bool = False) -> BoardAhead:
    """A job as the planner takes it; sentences on what it lacks are added to `odd`.

    `answered` leaves out what turned up and waits for an answer.
    """
    steps = list(job.steps.all())
    line = in_line([_to_lay(name, step, shop.at, odd) for step in steps], shop.celsius)
    waiting = [] if answered else [one for one in job.extras.all() if one.open and not _of_a_redo(one, steps)]
    own, free_h, bonds_h = _with_waiting(line, waiting, steps, shop)
    done = sum(step.state == Step.State.DONE for step in steps)
    turned_up = any(extra.kind in (Extra.Kind.EXTRA, Extra.Kind.ABSORBED) for extra in job.extras.all())
    may_turn_up = not turned_up and done < OPEN_AFTER_STEPS <= done + len(own)
    return BoardAhead(
        job=name,
        came=shop.local(job.agreed_at),
        promised=job.promised_on,
        rush=bool(job.way.board.quote.rush_percent),
        free_from=shop.in_hours(free_h),
        bonds_until=None if bonds_h is None else shop.in_hours(bonds_h),
        turns_up_after=OPEN_AFTER_STEPS - done if may_turn_up else None,
        steps=own,
    )


def way_line(way: Way, parts: Sequence[WayPart], celsius: float | None) -> InLine:
    """Steps of a way one after the other: those of its bench, before there were any those of each repair."""
    told: list[tuple[tuple[int | None, ...], PlannedStep]] = [
        (tuple(one.part for one in plan.serves), plan) for plan in way.planned_steps
    ]
    if not told:
        told = [((part.pk,), plan) for part in parts for plan in part.estimate.steps]
    own = [ToLay(f"{NO_ROW}{number}", plan, repairs, plan.minutes) for number, (repairs, plan) in enumerate(told, 1)]
    return in_line(own, celsius)


def _with_waiting(
    line: InLine, waiting: Sequence[Extra], steps: Sequence[Step], shop: MomentOfShop
) -> tuple[tuple[StepAhead, ...], float, float | None]:
    """Steps, hours until the first may begin and until it bonds, with what waits for an answer: that comes first, but
    for a step under way."""
    if not waiting:
        return line.steps, line.free_h, line.bonds_h
    added = _of_extras(waiting, shop)
    answer_h = shop.known.turn_up.answer_h
    if line.steps and any(step.state == Step.State.DOING for step in steps):
        doing = replace(line.steps[0], cure_h=max(line.steps[0].cure_h, answer_h))
        return (doing, *added, *line.steps[1:]), line.free_h, line.bonds_h
    return (*added, *line.steps), max(line.free_h, answer_h), None


def _of_extras(waiting: Iterable[Extra], shop: MomentOfShop) -> tuple[StepAhead, ...]:
    """Steps of what turned up and nobody has answered: as priced, else what usually turns up."""
    found: list[StepAhead] = []
    for extra in waiting:
        if extra.kind == Extra.Kind.EXTRA:
            priced = way_line(extra.way, list(extra.way.parts.all()), shop.celsius).steps if extra.way else ()
            found += priced or shop.known.turn_up.steps
    return tuple(replace(step, name=f"{NO_ROW}{number}") for number, step in enumerate(found, 1))


def _of_a_redo(extra: Extra, steps: Iterable[Step]) -> bool:
    """Whether it only asks what a step done again costs the customer, which is on the bench already."""
    return any(step.redo_billed and extra.words.startswith(f"{step.title} again: ") for step in steps)


def _to_lay(name: str, step: Step, at: datetime, odd: list[str]) -> ToLay:
    """A step with the minutes left of it; one without any gets our own and a sentence in `odd`."""
    minutes, done, doing = step.planned_minutes, step.state == Step.State.DONE, step.state == Step.State.DOING
    if minutes <= 0 and not done:
        minutes = WITHOUT_MINUTES
        odd.append(f"Tag {name}: “{step.title}” has no planned minutes; {WITHOUT_MINUTES:g} are reckoned with.")
    if doing:
        spent = (at - step.started_at).total_seconds() / 60 if step.started_at else 0.0
        minutes = max(minutes - spent, LEAST_LEFT * minutes)
    return ToLay(
        name=str(step.pk),
        plan=step.planned,
        repairs=step.repairs,
        minutes=round(minutes, 1),
        done=done,
        doing=doing,
        free_h=None if step.earliest_at is None or doing else _hours(step.earliest_at - at),
        bonds_h=None if step.latest_at is None or doing else _hours(step.latest_at - at),
    )


def _hours(left: timedelta) -> float:
    return left.total_seconds() / 3600
