"""How waits, windows and doses are said at the bench, on screen and on the job sheet alike."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any, NamedTuple

from django.utils import timezone

from quotes.bench.old_words import without_doses, without_sheet
from quotes.bench.order import late, waits
from quotes.bench.using import Dose, doses
from quotes.models import Step
from shop import units


class Shown(NamedTuple):
    """A dose as it is read off the page: amounts with what they are, and the small words below."""

    which: int
    amounts: Sequence[tuple[str, str]]
    small: str
    count: int


def shown_doses(step: Step, locale: str = "en") -> list[Shown]:
    """A step's mixes, grams first; millilitres and drops are a hint."""
    names = {line["material"]: line["name"] for line in step.plan.get("materials") or ()}
    return [_shown(dose, names, locale) for dose in doses(step)]


def _shown(dose: Dose, names: dict[str, str], locale: str) -> Shown:
    plan = dose.plan
    if plan.get("part_a_g"):
        amounts = [
            (units.show(plan["part_a_g"], "g", places=0, locale=locale), f"A of {names.get(dose.resin, dose.resin)}"),
            (units.show(plan["part_b_g"], "g", places=0, locale=locale), "B"),
        ]
    else:
        places = 0 if dose.resin_g >= 10 else 1
        amounts = [(units.show(dose.resin_g, "g", places=places, locale=locale), names.get(dose.resin, dose.resin))]
        if dose.hardener_g is not None:
            places = 2 if dose.hardener_g < 5 else 1
            said = units.show(dose.hardener_g, "g", places=places, locale=locale)
            amounts.append((said, names.get(dose.hardener, dose.hardener)))
    return Shown(dose.which, amounts, _small(plan, locale), dose.count)


def _small(plan: Any, locale: str) -> str:
    said = []
    if plan.get("percent"):
        said.append(f"{units.show(plan['percent'], 'percent', locale=locale)} by weight.")
    if plan.get("catalyst_ml"):
        said.append(
            f"About {units.show(plan['catalyst_ml'], 'mL', places=1, locale=locale)}, a hint: {plan['drops']} drops."
        )
    if plan.get("gel_min"):
        first, last = plan["gel_min"]
        if last >= 2:
            said.append(f"Gels in {first:.0f} to {last:.0f} minutes.")
        else:
            said.append(f"Goes off in {first * 60:.0f} to {last * 60:.0f} seconds.")
    return " ".join(said)


def instruction(step: Step) -> str:
    """What to do, without the dose, which stands apart."""
    return without_doses(step.instruction, step.plan.get("mixes") or ())


def cautions(step: Step) -> list[str]:
    """A step's cautions; that the data sheet rules is said once below all of them."""
    return [without_sheet(text) for text in step.plan.get("cautions") or ()]


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


def window_words(step: Step, at: datetime) -> str:
    """From when and until when a step may be begun; empty when there is nothing to say."""
    today = timezone.localdate(at)
    if step.state != Step.State.TODO:
        return ""
    if step.earliest_at is None:
        return _planned_window(step)
    start, end = clock_words(step.earliest_at, today), step.latest_at and clock_words(step.latest_at, today)
    if late(step, at):
        return f"The window ended {end}: sand first"
    if waits(step, at):
        return f"From {start}" + (f", by {end}, or sand first" if end else "")
    return f"By {end}, or sand first" if end else ""


def _planned_window(step: Step) -> str:
    """The window as hours after the step before, while that is not done."""
    earliest, latest = step.plan.get("earliest_start_h") or 0, step.plan.get("latest_start_h")
    said = []
    if earliest >= 1 / 12:
        said.append(f"{hours_words(earliest)} after the step before")
    if latest is not None:
        of = "it" if said else "the step before"
        said.append(f"within {hours_words(latest)} of {of}, or sand first")
    return ", ".join(said).capitalize() if said else ""


def next_window_words(step: Step | None, at: datetime) -> str:
    """Said while a step is done: when the one after it can follow, if it is done now."""
    if step is None:
        return ""
    today = timezone.localdate(at)
    earliest, latest = step.plan.get("earliest_start_h") or 0, step.plan.get("latest_start_h")
    parts = []
    if earliest >= 1 / 12:
        parts.append(f"from {clock_words(at + timedelta(hours=earliest), today)}")
    if latest is not None:
        parts.append(f"by {clock_words(at + timedelta(hours=latest), today)}, or sand first")
    return f"Next, {step.title[:1].lower()}{step.title[1:]}: {', '.join(parts)}" if parts else ""
