"""What temperature does to a dose and to a wait, from what a stored step keeps beside its figures.

A quote is worked out for one temperature and keeps its cost; the bench is told its dose for the temperature it has. So
a mix keeps what its dose hangs on (`Resin`), and a wait the hours it is the longest of (`Slowed`), both as plain data,
and are worked out again from these. Resin, filler and fibre stay what they were: temperature moves catalyst, gel and
waits, always inside the data sheet's band, and below the floor nothing is told. Every 10 °C halves or doubles a time:
`curing.HALVING` and its source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

from quotes.costing.parts.refusing import FLOORS, too_cold

TRADE_FLOORS = {floor.name: floor.value for floor in FLOORS.values()}  # °C, by the figure's name
NEXT_DEGREES = 5.0  # °C up and down that a told dose is said for too; our own choice
USUAL_PERCENT = 1.5  # catalyst at which a gel time of polyester is said


class Slowed(NamedTuple):
    """Hours at a reference in °C, `speed` times as fast for every 10 °C more; below `cold_c` so many hours flat."""

    hours: float
    at_c: float
    speed: float
    cold_c: float | None = None
    cold_hours: float = 0.0

    def hours_at(self, temperature_c: float) -> float:
        """The hours at a temperature in °C: hours × speed^((reference − temperature)/10)."""
        if self.cold_c is not None and temperature_c < self.cold_c:
            return self.cold_hours
        return float(self.hours * self.speed ** ((self.at_c - temperature_c) / 10.0))


class Ladder(NamedTuple):
    """Per cent of catalyst by shop temperature: below 16 °C, from 16, from 20 to 25, and above 27 °C."""

    cold: float
    cool: float
    usual: float
    warm: float

    def percent(self, temperature_c: float) -> float:
        """Per cent by weight of resin at a temperature in °C; from 25 to 27 °C in a straight line."""
        if temperature_c < 16:
            return self.cold
        if temperature_c < 20:
            return self.cool
        return self.usual + (self.warm - self.usual) * min(1.0, max(0.0, (temperature_c - 25.0) / 2.0))


class Catalyst(NamedTuple):
    """What a catalyst's dose hangs on: the ladder, what the step adds or wants in per cent, the data sheet's band."""

    ladder: Ladder
    extra: float
    wanted: float  # 0 is the one by temperature
    low: float
    high: float
    density_kg_m3: float
    drops_per_ml: float

    def percent(self, temperature_c: float) -> float:
        """Per cent by weight of resin at a temperature in °C, inside the band."""
        asked = self.wanted or self.ladder.percent(temperature_c) + self.extra
        return min(self.high, max(self.low, asked))

    def dose(self, resin_g: float, temperature_c: float) -> CatalystDose:
        """Catalyst for so many grams of resin at a temperature in °C."""
        return dose(resin_g, self.percent(temperature_c), self.density_kg_m3, self.drops_per_ml)


class CatalystDose(NamedTuple):
    """Catalyst for one mix: grams, then millilitres, then drops as a hint, and the per cent by weight."""

    grams: float
    ml: float
    drops: int
    percent: float


def dose(resin_g: float, percent: float, density_kg_m3: float, drops_per_ml: float) -> CatalystDose:
    """Catalyst for so much resin: mass = p × resin, mL = mass over density (kg/m³), drops = mL × drops per mL."""
    grams = resin_g * percent / 100.0
    ml = grams * 1000.0 / density_kg_m3
    return CatalystDose(grams, ml, round(ml * drops_per_ml), percent)


class Resin(NamedTuple):
    """What a mix hangs on besides its grams: the floor in °C, gel in min at a reference in °C, and its catalyst.

    `gel` and `speed` are low and high ends; polyester's gel is that at `USUAL_PERCENT`. No catalyst is a fixed ratio.
    """

    floor_c: float
    gel: tuple[float, float]
    gel_c: float
    speed: tuple[float, float]
    catalyst: Catalyst | None = None
    usual: tuple[float, float] | None = None  # the middle of gel and speed

    def gel_usual(self, temperature_c: float, percent: float = 0.0) -> float:
        """The usual gel in min at a temperature in °C, by the middle figures; 0 where they were not kept."""
        if self.usual is None:
            return 0.0
        gel, speed = self.usual
        share = USUAL_PERCENT / percent if percent else 1.0
        return float(gel * share * speed ** ((self.gel_c - temperature_c) / 10.0))

    def gel_minutes(self, temperature_c: float, percent: float = 0.0) -> tuple[float, float]:
        """Earliest and latest gel in min at a temperature in °C: t0 × (p0/p) × Q^((T0 − T)/10), over the ranges."""
        power = (self.gel_c - temperature_c) / 10.0
        speed = [q**power for q in self.speed]
        share = USUAL_PERCENT / percent if percent else 1.0
        return self.gel[0] * share * min(speed), self.gel[1] * share * max(speed)

    def as_dict(self) -> dict[str, Any]:
        """It as the snapshot keeps it."""
        kept = {"floor_c": self.floor_c, "gel": list(self.gel), "gel_c": self.gel_c, "speed": list(self.speed),
                "usual": list(self.usual or ())}  # fmt: skip
        if self.catalyst is None:
            return kept
        return {**kept, "catalyst": {**self.catalyst._asdict(), "ladder": list(self.catalyst.ladder)}}

    @classmethod
    def from_dict(cls, kept: Mapping[str, Any]) -> Resin:
        """It read back from a snapshot. Raises KeyError where a part is missing."""
        found = kept.get("catalyst")
        catalyst = None if found is None else Catalyst(**{**found, "ladder": Ladder(*found["ladder"])})
        gel, speed, usual = kept["gel"], kept["speed"], kept.get("usual") or None
        middle = None if usual is None else (usual[0], usual[1])
        return cls(kept["floor_c"], (gel[0], gel[1]), kept["gel_c"], (speed[0], speed[1]), catalyst, middle)


class ToldMix(NamedTuple):
    """A mix as it is told: its data, for which temperature in °C (None: that of the quote, not kept), or why not."""

    mix: Mapping[str, Any]
    for_c: float | None
    withheld: str = ""


def told(mix: Mapping[str, Any], temperature_c: float | None) -> ToldMix:
    """A stored mix worked out for a temperature in °C; None leaves it as it was quoted.

    One that does not keep what it hangs on is told as it was, or withheld below the trade's floor of its system.
    """
    quoted_c, kept = mix.get("told_for_c"), mix.get("by_temperature")
    if temperature_c is None:
        return ToldMix(mix, quoted_c)
    cold = too_cold(str(mix.get("system") or ""), temperature_c, kept or {}, TRADE_FLOORS)
    if cold is not None:
        return ToldMix(mix, temperature_c, cold.text)
    if not kept or "gel" not in kept:
        return ToldMix(mix, quoted_c)
    resin = Resin.from_dict(kept)
    now: dict[str, Any] = {**mix, "told_for_c": temperature_c}
    if resin.catalyst is None:
        now["gel_min"] = list(resin.gel_minutes(temperature_c))
        return ToldMix(now, temperature_c)
    one = resin.catalyst.dose(mix["resin_g"], temperature_c)
    now |= {"catalyst_g": one.grams, "catalyst_ml": one.ml, "drops": one.drops, "percent": one.percent}
    now["gel_min"] = list(resin.gel_minutes(temperature_c, one.percent))
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
    """What lies on one damage: what cures, until when a coat bonds, when the last resin gels and is past it."""

    __slots__ = ("cures", "laid", "until")

    def __init__(self) -> None:
        self.cures: list[tuple[float, float, float, float]] = []
        self.until: float | None = None
        self.laid: tuple[float, float] | None = None


def windows(rows: Sequence[WindowRow], serves: Sequence[Sequence[int]] = ()) -> list[tuple[float, float | None]]:
    """When each step may start, in hours after the end of the one before, and until when it still can.

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
    """What a step that ends now leaves on a damage."""
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


def windows_at(
    steps: Sequence[Mapping[str, Any]], temperature_c: float | None
) -> list[tuple[float, float | None]] | None:
    """The windows of a repair's stored steps worked out for a temperature in °C (None: that of the quote).

    (from, until) in hours after the end of the step before; None where the steps do not keep what they hang on.
    """
    if not all("wait" in step for step in steps):
        return None
    rows = []
    for step in steps:
        wait = step["wait"]
        now = wait if wait is None or temperature_c is None else wait_at(wait, temperature_c)
        hours = step["minutes"] / 60.0 + step.get("pause_h", 0.0)
        row = WindowRow(step["meets"], step["cuts_back"], hours)
        if now is not None:
            hard = max(now["cut_h"], now.get("polish_h", 0.0))
            four = now["coat_h"], now["cut_h"], now["touch_h"], hard
            row = row._replace(wait=four, bonds=now["coat_until_h"], gel_h=_gel_h(step, temperature_c))
        rows.append(row)
    alone = [{"damage": 0}]  # a step of one damage says of none that it serves it
    return windows(rows, [[one["damage"] for one in step.get("serves") or alone] for step in steps])


def _gel_h(step: Mapping[str, Any], temperature_c: float | None) -> float:
    """Hours until the last resin of a stored step gels at a temperature in °C; 0 where it does not keep that."""
    kept = [mix for mix in step.get("mixes") or () if "usual" in (mix.get("by_temperature") or {})]
    temperature_c = kept[-1].get("told_for_c") if kept and temperature_c is None else temperature_c
    if not kept or temperature_c is None:
        return 0.0
    resin = Resin.from_dict(kept[-1]["by_temperature"])
    percent = resin.catalyst.percent(temperature_c) if resin.catalyst else 0.0
    return resin.gel_usual(temperature_c, percent) / 60.0


def wait_at(kept: Mapping[str, Any], temperature_c: float) -> dict[str, Any]:
    """A stored wait at a temperature in °C: each of its hours is the longest of what it hangs on, or stays."""
    longest: dict[str, float] = {}
    for name, *one in kept["slowed"]:
        longest[name] = max(longest.get(name, 0.0), Slowed(*one).hours_at(temperature_c))
    return {**kept, **longest}
