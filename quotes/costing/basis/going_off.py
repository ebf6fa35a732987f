"""How a resin goes off by temperature: what its catalyst's dose, its gel and its waits hang on, as plain figures.

Every 10 °C halves or doubles a time: `curing.HALVING` and its source.
"""

from __future__ import annotations

from typing import NamedTuple

USUAL_PERCENT = 1.5  # catalyst at which a gel time of polyester is said


class Slowed(NamedTuple):
    """Hours at a reference in °C, `speed` times as fast for every 10 °C more; below `cold_c` so many hours flat."""

    hours: float
    at_c: float
    speed: float
    cold_c: float | None = None
    cold_hours: float = 0.0

    def hours_at(self, temperature_c: float) -> float:
        """Hours at a temperature in °C: hours × speed^((reference − temperature)/10)."""
        if self.cold_c is not None and temperature_c < self.cold_c:
            return self.cold_hours
        return float(self.hours * self.speed ** ((self.at_c - temperature_c) / 10.0))


class Ladder(NamedTuple):
    """Catalyst in per cent by shop temperature: below 16 °C, from 16, from 20 to 25, and above 27 °C."""

    cold: float
    cool: float
    usual: float
    warm: float

    def percent(self, temperature_c: float) -> float:
        """Catalyst in per cent by weight of resin at a temperature in °C; from 25 to 27 °C in a straight line."""
        if temperature_c < 16:
            return self.cold
        if temperature_c < 20:
            return self.cool
        return self.usual + (self.warm - self.usual) * min(1.0, max(0.0, (temperature_c - 25.0) / 2.0))


class Catalyst(NamedTuple):
    """Basis of a catalyst's dose: the ladder, what the step adds or wants in per cent, the data sheet's band."""

    ladder: Ladder
    extra: float
    wanted: float  # 0 is the one by temperature
    low: float
    high: float
    density_kg_m3: float
    drops_per_ml: float

    def percent(self, temperature_c: float) -> float:
        """Catalyst in per cent by weight of resin at a temperature in °C, inside the band."""
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
    """Catalyst for grams of resin: mass = p × resin, mL = mass over density (kg/m³), drops = mL × drops per mL."""
    grams = resin_g * percent / 100.0
    ml = grams * 1000.0 / density_kg_m3
    return CatalystDose(grams, ml, round(ml * drops_per_ml), percent)


class Resin(NamedTuple):
    """Basis of a mix besides its grams: the floor in °C, gel in min at a reference in °C, and its catalyst.

    `gel` and `speed` are low and high ends; polyester's gel is that at `USUAL_PERCENT`. No catalyst is a fixed ratio.
    """

    floor_c: float
    gel: tuple[float, float]
    gel_c: float
    speed: tuple[float, float]
    catalyst: Catalyst | None = None
    usual: tuple[float, float] | None = None  # the middle of gel and speed

    def gel_usual(self, temperature_c: float, percent: float = 0.0) -> float:
        """Usual gel in min at a temperature in °C, by the middle figures; 0 where they were not kept."""
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


class Wait(NamedTuple):
    """Hours from the end of a step until the next may coat, cut or touch its surface, and until when a coat bonds.

    `polish_h` until it may be polished, where that is longer than until it may be cut. `slowed` names what each of
    these hours is the longest of, where it hangs on temperature.
    """

    coat_h: float = 0.0
    cut_h: float = 0.0
    touch_h: float = 0.0
    coat_until_h: float | None = None
    polish_h: float = 0.0
    slowed: tuple[tuple[str, Slowed], ...] = ()

    def at(self, temperature_c: float) -> Wait:
        """Wait at a temperature in °C: each of its hours is the longest of what it hangs on, or stays."""
        longest: dict[str, float] = {}
        for name, one in self.slowed:
            longest[name] = max(longest.get(name, 0.0), one.hours_at(temperature_c))
        return self._replace(**longest)  # type: ignore[arg-type]

    @property
    def four(self) -> tuple[float, float, float, float]:
        """Hours until the surface may be coated, cut, touched and polished."""
        return self.coat_h, self.cut_h, self.touch_h, max(self.cut_h, self.polish_h)


NO_WAIT = Wait()
