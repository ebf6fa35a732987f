"""How resin goes off: gel and cure by temperature, and when the next step may coat, cut or touch it.

Every 10 °C halves or doubles a time; far from the reference that is a guess, so ranges are given. A waxed coat takes no
other before it is sanded.
"""

from __future__ import annotations

from typing import Literal

from quotes.costing import sources
from quotes.costing.constants import practice, published
from quotes.costing.work import Bench, Wait

System = Literal["polyester", "epoxy"]

FLOOR_POLYESTER = published(
    "polyester_floor_c", 15.5, 13.0, 18.0, "degC", "lowest shop temperature for polyester",
    source=sources.COLD_RESIN, data_sheet=True)  # fmt: skip
FLOOR_EPOXY = practice("epoxy_floor_c", 12.0, 10.0, 16.0, "degC", "lowest shop temperature for epoxy")
GEL_MINUTES = practice("gel_minutes", 20, 12, 45, "min", "gel of polyester at 1.5 % and 22 °C")
GEL_EPOXY = practice("gel_minutes_epoxy", 30, 20, 45, "min", "pot life of epoxy at 22 °C")
HALVING = published(
    "halving_per_10_c", 2.0, 1.7, 3.0, "1", "how much faster a resin goes for 10 °C more", source=sources.EPOXY_SPEED
)
TACK_HOURS = published(
    "tack_hours", 1.0, 0.75, 1.5, "h", "polyester until the next coat, at 22 °C",
    source=sources.LAMINATING_SHEET + "; range common practice", data_sheet=True)  # fmt: skip
TACK_UNTIL = practice("tack_until_hours", 24, 8, 48, "h", "wax-free polyester still takes a coat unsanded, at 22 °C")
SAND_HOURS = practice("sand_hours", 4, 3, 8, "h", "polyester until it can be sanded, at 22 °C")
SAND_HOURS_COLD = practice("sand_hours_cold", 15, 12, 24, "h", "the same below 18 °C: next day")
EPOXY_TACK = practice("epoxy_tack_hours", 3, 2, 6, "h", "epoxy until the next coat, at 22 °C")
EPOXY_UNTIL = practice("epoxy_until_hours", 24, 12, 48, "h", "epoxy still takes a coat unsanded, at 22 °C")
EPOXY_SAND = published(
    "epoxy_sand_hours", 24, 12, 48, "h", "epoxy until it can be sanded, at 20 °C",
    source=sources.EPOXY_CURE, data_sheet=True)  # fmt: skip

POLISH_HOURS = practice("polish_cure_hours", 24, 24, 72, "h", "any resin, colour or clear until it is polished")

_T_GEL, _T_CURE, _P_GEL, _COLD = 22.0, 20.0, 1.5, 18.0


def gel_minutes(at: Bench, system: System, percent: float = _P_GEL) -> tuple[float, float]:
    """Earliest and latest gel in min.

    t0 × (p0/p) × Q^((T0 − T)/10), over the ranges of t0 and Q; p only for polyester.
    """
    low, high = at.ends(GEL_MINUTES if system == "polyester" else GEL_EPOXY)
    power = (_T_GEL - at.temperature_c) / 10.0
    speed = [q**power for q in at.ends(HALVING)]
    share = _P_GEL / percent if system == "polyester" else 1.0
    return low * share * min(speed), high * share * max(speed)


def gel_usual(at: Bench, system: System, percent: float = _P_GEL) -> float:
    """The usual gel in min, of the middle figures: t0 × (p0/p) × Q^((T0 − T)/10); p only for polyester."""
    share = _P_GEL / percent if system == "polyester" else 1.0
    return slowed(at, at[GEL_MINUTES if system == "polyester" else GEL_EPOXY] * share)


def slowed(at: Bench, hours: float, reference_c: float = _T_GEL) -> float:
    """Time at the shop's temperature of something that takes `hours` at the reference, in the same unit.

    Every 10 °C halves or doubles.
    """
    return float(hours * at[HALVING] ** ((reference_c - at.temperature_c) / 10.0))


def cure(at: Bench, system: System, *, waxed: bool = False) -> Wait:
    """When the next step may coat, cut or touch this resin. A waxed coat takes no other before it is sanded."""
    found = at.cures.get((system, waxed))
    if found is None:
        found = at.cures[system, waxed] = _cure(at, system, waxed)
    return found


def _cure(at: Bench, system: System, waxed: bool) -> Wait:
    if system == "epoxy":
        sand = slowed(at, at[EPOXY_SAND], _T_CURE)
        tack = slowed(at, at[EPOXY_TACK])
        return Wait(tack, sand, tack, 0.0 if waxed else slowed(at, at[EPOXY_UNTIL]), at[POLISH_HOURS])
    tack = slowed(at, at[TACK_HOURS])
    sand = at[SAND_HOURS_COLD] if at.temperature_c < _COLD else slowed(at, at[SAND_HOURS])
    return Wait(tack, sand, tack, 0.0 if waxed else slowed(at, at[TACK_UNTIL]), at[POLISH_HOURS])
