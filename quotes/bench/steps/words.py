"""How waits, windows and doses are said at the bench, on screen and on the job sheet alike."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import NamedTuple

from django.utils import timezone

from quotes.bench.plan.order import late, waits
from quotes.bench.plan.warmth import Window, degrees, window_of
from quotes.bench.use.doses import Dose, doses
from quotes.costing.snapshot import PlannedMix
from quotes.costing.steps.temperature import NEXT_DEGREES
from quotes.models import Damage, Step
from shop.measures import units

A_WAIT = 1 / 12  # h; less is not worth a word


class DoseShown(NamedTuple):
    """A dose as it is read off the page: amounts with what they are, and the small words below.

    `gels` says how long there is, `told` for which temperature, `changes` what a warmer and a colder shop make of it.
    Where it is `withheld`, the reason stands instead of the amounts, which are empty.
    """

    which: int
    amounts: Sequence[tuple[str, str]]
    small: str
    gels: str
    count: int  # type: ignore[assignment] # a tuple has a method of that name, which nobody asks here
    told: str
    withheld: str
    changes: Sequence[str]


def shown_doses(
    step: Step, locale: str = "en", warmth: Decimal | None = None, after: Step | None = None
) -> list[DoseShown]:
    """A step's mixes, grams first; millilitres and drops are a hint.

    Told in a shop of so many °C (None: as quoted); `after` is the step whose wait depends on it.
    """
    names = {one.material: one.name for one in step.planned.materials}
    return [
        _shown(dose, names, locale, warmth)._replace(changes=_changes(step, dose, after, names, locale))
        for dose in doses(step, warmth)
    ]


def _shown(dose: Dose, names: dict[str, str], locale: str, warmth: Decimal | None) -> DoseShown:
    amounts, told = _amounts(dose, names, locale), _told(dose, warmth)
    if dose.withheld:
        return DoseShown(dose.which, [("", what) for _, what in amounts], "", "", dose.count, "", dose.withheld, ())
    return DoseShown(dose.which, amounts, _small(dose.plan, locale), _gels(dose.plan), dose.count, told, "", ())


def _amounts(dose: Dose, names: dict[str, str], locale: str) -> list[tuple[str, str]]:
    plan = dose.plan
    if plan.part_a_g and plan.part_b_g:
        return [
            (units.show(plan.part_a_g, "g", places=0, locale=locale), f"A of {names.get(dose.resin, dose.resin)}"),
            (units.show(plan.part_b_g, "g", places=0, locale=locale), "B"),
        ]
    places = 0 if dose.resin_g >= 10 else 1
    amounts = [(units.show(dose.resin_g, "g", places=places, locale=locale), names.get(dose.resin, dose.resin))]
    if dose.hardener_g is not None:
        amounts.append((_hardener(dose, locale), names.get(dose.hardener, dose.hardener)))
    return amounts


def _hardener(dose: Dose, locale: str) -> str:
    assert dose.hardener_g is not None
    return units.show(dose.hardener_g, "g", places=2 if dose.hardener_g < 5 else 1, locale=locale)


def _told(dose: Dose, warmth: Decimal | None) -> str:
    """For which temperature a dose is told."""
    if dose.for_c is None:
        return "Worked out for the temperature of the quote."
    if warmth is not None and dose.for_c == float(warmth):
        return f"Told for {degrees(dose.for_c)}, as it is in the shop today."
    return f"Told for {degrees(dose.for_c)}, as quoted."


def _changes(step: Step, dose: Dose, after: Step | None, names: dict[str, str], locale: str) -> list[str]:
    """What a shop 5 °C warmer and 5 °C colder makes of a dose, where its plan keeps what it hangs on."""
    if dose.for_c is None or dose.plan.goes_off is None:
        return []
    said = []
    for celsius in (dose.for_c + NEXT_DEGREES, dose.for_c - NEXT_DEGREES):
        other = doses(step, celsius)[dose.which]
        words = "no dose, too cold for this resin" if other.withheld else _differs(other, after, celsius, names, locale)
        said.append(f"At {degrees(celsius)}: {words}.")
    return said


def _differs(dose: Dose, after: Step | None, celsius: float, names: dict[str, str], locale: str) -> str:
    plan, parts = dose.plan, []
    if plan.percent:
        share = units.show(plan.percent, "percent", locale=locale)
        parts.append(f"{_hardener(dose, locale)} {names.get(dose.hardener, dose.hardener)} ({share})")
    first, last = plan.gel_min or (0.0, 0.0)
    parts.append(f"gels in {first:.0f} to {last:.0f} minutes")
    wait = 0.0 if after is None else window_of(after, celsius).earliest
    if wait >= A_WAIT:
        parts.append(f"next step after {hours_words(wait)}")
    return ", ".join(parts)


def _small(plan: PlannedMix, locale: str) -> str:
    said = []
    if plan.percent:
        said.append(f"{units.show(plan.percent, 'percent', locale=locale)} by weight.")
    if plan.catalyst_ml:
        said.append(f"About {units.show(plan.catalyst_ml, 'mL', places=1, locale=locale)}, a hint: {plan.drops} drops.")
    return " ".join(said)


def _gels(plan: PlannedMix) -> str:
    if plan.gel_min is None:
        return ""
    first, last = plan.gel_min
    if last >= 2:
        return f"Gels in {first:.0f} to {last:.0f} minutes."
    return f"Goes off in {first * 60:.0f} to {last * 60:.0f} seconds."


def places_of(step: Step) -> list[Damage]:
    """The damages a step is done for, in the order of their pins. One query."""
    return list(Damage.objects.filter(parts__in=[key for key in step.repairs if key]).order_by("number").distinct())


def met_first(step: Step, steps: Iterable[Step]) -> list[str]:
    """Those of a step's cautions that no step before it among its job's `steps` has."""
    met = {text for other in steps if other.position < step.position for text in other.planned.cautions}
    return [text for text in step.planned.cautions if text not in met]


def clock_words(moment: datetime | None, today: date | None = None) -> str:
    """11:30, or Thu 11:30 on another day than `today`."""
    if moment is None:
        return "earlier"
    local = timezone.localtime(moment)
    return local.strftime("%H:%M") if today == local.date() else local.strftime("%a %H:%M")


def hours_words(hours: float) -> str:
    """A wait for a person: 45 min, 5 h, 1 h 15."""
    minutes = round(hours * 12) * 5 if hours < 3 else round(hours) * 60
    whole, rest = divmod(minutes, 60)
    if not whole:
        return f"{rest} min"
    return f"{whole} h {rest:02d}" if rest else f"{whole} h"


def hands_words(minutes: Decimal) -> str:
    """Hands-on minutes, up to the next whole one from an hour on: 7.5 min, 18 h, 18 h 20."""
    if minutes < 60:
        return f"{minutes.normalize():f} min"
    whole, rest = divmod(math.ceil(minutes), 60)
    return f"{whole} h {rest:02d}" if rest else f"{whole} h"


def window_words(step: Step, at: datetime, warmth: Decimal | None = None) -> str:
    """From when and until when a step may be begun; empty when there is nothing to say.

    While the step before is not done: as it is in a shop of so many °C (None: as quoted).
    """
    today = timezone.localdate(at)
    if step.state != Step.State.TODO:
        return ""
    if step.earliest_at is None:
        return _planned_window(window_of(step, warmth))
    start, end = clock_words(step.earliest_at, today), step.latest_at and clock_words(step.latest_at, today)
    if late(step, at):
        return f"The window ended {end}: sand first"
    if waits(step, at):
        return f"From {start}" + (f", by {end}, or sand first" if end else "")
    return f"By {end}, or sand first" if end else ""


def _planned_window(window: Window) -> str:
    """The window as hours after the step before, while that is not done."""
    earliest, latest = window
    said = []
    if earliest >= A_WAIT:
        said.append(f"{hours_words(earliest)} after the step before")
    if latest is not None:
        of = "it" if said else "the step before"
        said.append(f"within {hours_words(latest)} of {of}, or sand first")
    return ", ".join(said).capitalize() if said else ""


def next_window_words(step: Step | None, at: datetime, warmth: Decimal | None = None) -> str:
    """Said while a step is done: when the one after it can follow, if it is done now in a shop of so many °C."""
    if step is None:
        return ""
    today = timezone.localdate(at)
    earliest, latest = window_of(step, warmth)
    parts = []
    if earliest >= A_WAIT:
        parts.append(f"from {clock_words(at + timedelta(hours=earliest), today)}")
    if latest is not None:
        parts.append(f"by {clock_words(at + timedelta(hours=latest), today)}, or sand first")
    return f"Next, {step.title[:1].lower()}{step.title[1:]}: {', '.join(parts)}" if parts else ""
