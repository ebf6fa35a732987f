"""How resin goes off: gel and cure by temperature, and when the next step may coat, cut or touch it.

Every 10 °C halves or doubles a time; far from the reference that is a guess, so ranges are given. A waxed coat takes no
other before it is sanded.
"""

from __future__ import annotations

from collections.abc import Sequence

from quotes.costing.basis import sources
from quotes.costing.basis.constants import practice, published
from quotes.costing.basis.going_off import Resin, Slowed, Wait
from quotes.costing.parts.refusals import System as System
from quotes.costing.steps.work import Bench

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

_T_GEL, _T_CURE, _COLD = 22.0, 20.0, 18.0


def hangs_on(at: Bench, system: System, floor_c: float) -> Resin:
    """Resin facts that the mixes hang on in this shop, from the floor in °C up; catalyst is added where it is dosed."""
    gel = GEL_MINUTES if system == "polyester" else GEL_EPOXY
    return Resin(floor_c, at.ends(gel), _T_GEL, at.ends(HALVING), usual=(at[gel], at[HALVING]))


def slowing(at: Bench, hours: float, reference_c: float = _T_GEL) -> Slowed:
    """Hours at the reference in °C, half or twice as many for every 10 °C."""
    return Slowed(hours, reference_c, at[HALVING])


def waiting(at: Bench, **longest: Sequence[Slowed]) -> Wait:
    """Wait of a resin, whose hours (coat_h, cut_h, touch_h, coat_until_h) are each the longest of these here.

    It is polished after a day, however warm the shop.
    """
    pairs = tuple((name, one) for name, found in longest.items() for one in found)
    hours = {name: max(one.hours_at(at.temperature_c) for one in found) for name, found in longest.items()}
    return Wait(**hours, polish_h=at[POLISH_HOURS], slowed=pairs)


def cure(at: Bench, system: System, *, waxed: bool = False) -> Wait:
    """Wait until the next step may coat, cut or touch this resin.

    A waxed coat takes no other before it is sanded.
    """
    found = at.cures.get((system, waxed))
    if found is None:
        found = at.cures[system, waxed] = _cure(at, system, waxed)
    return found


def _cure(at: Bench, system: System, waxed: bool) -> Wait:
    epoxy = system == "epoxy"
    tack = [slowing(at, at[EPOXY_TACK if epoxy else TACK_HOURS])]
    bonds = Slowed(0.0, _T_GEL, 1.0) if waxed else slowing(at, at[EPOXY_UNTIL if epoxy else TACK_UNTIL])
    return waiting(at, coat_h=tack, cut_h=[sanding(at, system)], touch_h=tack, coat_until_h=[bonds])


def sanding(at: Bench, system: System) -> Slowed:
    """Hours until a resin can be sanded; polyester in the cold the next day."""
    if system == "epoxy":
        return slowing(at, at[EPOXY_SAND], _T_CURE)
    return slowing(at, at[SAND_HOURS])._replace(cold_c=_COLD, cold_hours=at[SAND_HOURS_COLD])
