"""What temperature does to a dose and to a wait, from what a stored step keeps beside its figures.

A quote is worked out for one temperature and keeps its cost; the bench is told its dose for the temperature it has. So
a mix keeps what its dose hangs on (`Resin`), and a wait the hours it is the longest of (`Slowed`); both are worked out
again from these. Resin, filler and fibre stay what they were: temperature moves catalyst, gel and
waits, always inside the data sheet's band, and below the floor nothing is told. Every 10 °C halves or doubles a time:
`curing.HALVING` and its source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

from quotes.costing.parts.refusals import FLOORS, too_cold
from quotes.costing.snapshot import PlannedMix, PlannedStep

TRADE_FLOORS = {floor.name: floor.value for floor in FLOORS.values()}  # °C, by the figure's name
NEXT_DEGREES = 5.0  # °C up and down that a told dose is said for too; our own choice


class ToldMix(NamedTuple):
    """A mix as it is told: for which temperature in °C (None: that of the quote, not kept), or why it is not."""

    mix: PlannedMix
    for_c: float | None
    withheld: str = ""


def told(mix: PlannedMix, temperature_c: float | None) -> ToldMix:
    """Planned mix worked out for a temperature in °C; None leaves it as it was quoted.

    One that does not keep what it hangs on is told as it was, or withheld below the trade's floor of its system.
    """
    if temperature_c is None:
        return ToldMix(mix, mix.told_for_c)
    floor = {} if mix.floor_c is None else {"floor_c": mix.floor_c}
    cold = too_cold(mix.system, temperature_c, floor, TRADE_FLOORS)
    if cold is not None:
        return ToldMix(mix, temperature_c, cold.text)
    hangs = mix.goes_off
    if hangs is None:
        return ToldMix(mix, mix.told_for_c)
    now = replace(mix, told_for_c=temperature_c)
    if hangs.catalyst is None:
        return ToldMix(replace(now, gel_min=hangs.gel_minutes(temperature_c)), temperature_c)
    one = hangs.catalyst.dose(mix.resin_g, temperature_c)
    gel = hangs.gel_minutes(temperature_c, one.percent)
    now = replace(now, catalyst_g=one.grams, catalyst_ml=one.ml, drops=one.drops, percent=one.percent, gel_min=gel)
    return ToldMix(now, temperature_c)


MEETS = {"coat": 0, "cut": 1, "touch": 2, "polish": 3, "gel": 4}  # what a step asks of those before it


class WindowRow(NamedTuple):
    """A step as its window needs it: what it asks (`MEETS`), whether it cuts back, hours from its begin to its end.

    `wait` are hours from its end until what it leaves may be coated, cut, touched, polished, `bonds` those until when a
    coat bonds to it; `gel_h` hours until its resin gels, 0 where it lays none.
    """

    meets: int
    cuts_back: bool
    hours: float
    wait: tuple[float, float, float, float] | None = None
    bonds: float | None = None
    gel_h: float = 0.0


class _Place:
    """State of one damage: what cures, until when a coat bonds, when the last resin gels and is past it."""

    __slots__ = ("cures", "laid", "until")

    def __init__(self) -> None:
        self.cures: list[tuple[float, float, float, float]] = []
        self.until: float | None = None
        self.laid: tuple[float, float] | None = None


def windows(rows: Sequence[WindowRow], serves: Sequence[Sequence[int]] = ()) -> list[tuple[float, float | None]]:
    """Windows of the steps: earliest and latest start in hours after the end of the one before (None: no latest).

    Waits run on through whatever is done meanwhile; sanding settles the window of a coat, and a coat onto another face
    has none. What is done at gel has from gel to twice gel, counted from the end of laying the last resin. `serves` are
    the damages that each step is for: it waits for what lies on those.
    """
    found: list[tuple[float, float | None]] = []
    now = 0.0
    places: dict[int, _Place] = defaultdict(_Place)
    for number, row in enumerate(rows):
        here = [places[damage] for damage in serves[number]] if serves else [places[0]]
        gels = [place.laid for place in here if place.laid is not None] if row.meets == MEETS["gel"] else []
        start = now
        if gels:
            start = max(now, *(gel for gel, _ in gels))
        else:
            asks = MEETS["touch"] if row.meets == MEETS["gel"] else row.meets
            start = max(now, *(cure[asks] for place in here for cure in place.cures), now)
        ends = [past for _, past in gels]
        if row.meets == MEETS["coat"]:
            ends = [place.until for place in here if place.until is not None]
        found.append((start - now, max(min(ends), start) - now if ends else None))
        now = start + row.hours
        for place in here:
            _lies(place, row, now)
    return found


def _lies(place: _Place, row: WindowRow, now: float) -> None:
    """Set what a step that ends now leaves on a damage."""
    if row.cuts_back:
        place.until = None
    if place.cures:
        place.cures = [cure for cure in place.cures if max(cure) > now]
    if row.wait is not None:
        wait = row.wait
        place.cures.append((now + wait[0], now + wait[1], now + wait[2], now + wait[3]))
        place.until = None if row.bonds is None else now + row.bonds
    if row.gel_h:
        place.laid = now + row.gel_h, now + 2.0 * row.gel_h


def windows_at(steps: Sequence[PlannedStep], temperature_c: float | None) -> list[tuple[float, float | None]] | None:
    """Windows of a repair's planned steps for a temperature in °C (None: that of the quote).

    (from, until) in hours after the end of the step before; None where the steps do not keep what they hang on.
    """
    if not all(step.keeps_waits for step in steps):
        return None
    rows = []
    for step in steps:
        wait = step.wait
        now = wait if wait is None or temperature_c is None else wait.at(temperature_c)
        row = WindowRow(step.meets, step.cuts_back, step.minutes / 60.0 + step.pause_h)
        if now is not None:
            row = row._replace(wait=now.four, bonds=now.coat_until_h, gel_h=_gel_h(step, temperature_c))
        rows.append(row)
    # a step of one damage says of none that it serves it
    return windows(rows, [[one.damage or 0 for one in step.serves] or [0] for step in steps])


def _gel_h(step: PlannedStep, temperature_c: float | None) -> float:
    """Hours until the last resin of a planned step gels at a temperature in °C; 0 where it does not keep that."""
    kept = [mix for mix in step.mixes if mix.goes_off is not None]
    temperature_c = kept[-1].told_for_c if kept and temperature_c is None else temperature_c
    if not kept or temperature_c is None:
        return 0.0
    resin = kept[-1].goes_off
    assert resin is not None
    percent = resin.catalyst.percent(temperature_c) if resin.catalyst else 0.0
    return resin.gel_usual(temperature_c, percent) / 60.0
