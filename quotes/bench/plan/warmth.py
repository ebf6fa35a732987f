"""How warm the shop is today, said once a day at the bench, and the waits that hang on it.

What was never said is None: then doses and waits are those of the quote. A day's last reading stands; the resin that
cures already is not told anew, for its night was as cold as it was.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from quotes.costing import PlannedStep
from quotes.costing.steps.temperature import windows_at
from quotes.models import Step, Warmth
from quotes.ready_days.outlook import look_again_soon
from shop.platform.acts import EVERY_ROLE, Refused, Signed, action

COLDEST, WARMEST = Decimal(-10), Decimal(50)  # °C that a shop is ever read at; our own limits
TENTH = Decimal("0.1")


class Window(NamedTuple):
    """From when and until when (None: no hurry) a step may be begun, in hours after the end of the one before."""

    earliest: float
    latest: float | None


def temperature_now(day: date) -> Decimal | None:
    """How warm the shop is on a day in °C, or None where nobody has said. One query."""
    return Warmth.objects.filter(day=day).values_list("celsius", flat=True).last()


def temperatures(days: Collection[date]) -> dict[date, Decimal]:
    """How warm the shop was on these days in °C, where somebody said. One query."""
    return dict(Warmth.objects.filter(day__in=days).order_by("pk").values_list("day", "celsius"))


def last_reading(day: date) -> Warmth | None:
    """The last reading up to a day, with who made it; it stands for its own day only. One query."""
    return Warmth.objects.filter(day__lte=day).select_related("by").order_by("day", "pk").last()


@action("shop.temperature", *EVERY_ROLE)
def say_temperature(*, celsius: Decimal, signed: Signed) -> Warmth:
    """Keep how warm the shop is in °C, to a tenth. Raises Refused outside what a shop is ever read at."""
    if not COLDEST <= celsius <= WARMEST:
        raise Refused(
            f"Temperature must be between {COLDEST} and {WARMEST} °C, like 21; it is {celsius.normalize():f}.",
            field="temperature",
        )
    celsius = celsius.quantize(TENTH, ROUND_HALF_UP)
    row = Warmth.objects.create(day=signed.day, celsius=celsius, at=signed.at, by=signed.by)
    look_again_soon(at=signed.at)
    signed.record(row, f"The shop is at {degrees(celsius)}")
    return row


def degrees(celsius: Decimal | float) -> str:
    """A temperature in words: 21 °C, 15.5 °C."""
    return f"{Decimal(str(celsius)).normalize():f} °C"


def window_of(step: Step, warmth: Decimal | float | None) -> Window:
    """A step's window at a temperature in °C, in the repair where it is shortest; see `windows_of`."""
    found = list(windows_of(step, warmth).values())
    earliest = max(window.earliest for window in found)
    ends = [window.latest for window in found if window.latest is not None]
    return Window(earliest, max(min(ends), earliest) if ends else None)


def windows_of(step: Step, warmth: Decimal | float | None) -> dict[int | None, Window]:
    """A step's window at a temperature in °C, after the one before it on each repair that it serves.

    As quoted without one, or where its plan keeps nothing to tell it by.
    """
    plan, celsius = step.planned, None if warmth is None else float(warmth)
    quoted = Window(plan.earliest_start_h, plan.latest_start_h)
    if step.part is None or plan.put_in or (celsius is None and not plan.serves):
        return dict.fromkeys(step.repairs, quoted)
    found = {repair: _window(step, chain, celsius) for repair, chain in _chains(step).items()}
    return {repair: window or quoted for repair, window in found.items()}


def _chains(step: Step) -> dict[int | None, Sequence[PlannedStep]]:
    """By repair that a step serves the planned steps of it, in order, as its way has them."""
    assert step.part is not None
    if not step.planned.serves:
        return {step.part_id: step.part.estimate.steps}
    plans = step.part.way.planned_steps
    return {repair: [plan for plan in plans if repair in [one.part for one in plan.serves]] for repair in step.repairs}


def _window(step: Step, chain: Sequence[PlannedStep], celsius: float | None) -> Window | None:
    """The window of a step among those of one repair; None where that cannot be told."""
    found = windows_at([replace(plan, serves=()) for plan in chain], celsius)
    named = (step.operation, step.planned.index)
    at = next((at for at, one in enumerate(chain) if (one.operation, one.index) == named), None)
    return None if found is None or at is None else Window(*found[at])
