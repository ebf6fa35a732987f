"""When to order and how much. PURE: floats in a material's own unit, days and one currency; no clock, no rows.

Idea: what is wanted by a day is the larger of what jobs have reserved by then and what is usually used by then. Stock
falls by that; when it would fall to the reserve within the supplier's lead time, an order is due. Its size is the
economic one, rounded up to whole packs, but no more than will be used before it goes off and no more than the shelf may
hold; a pack that is needed is bought even so, and what will spoil of it is said.
Formulas: economic order √(2DK/h), reorder point d·L + z·σ·√L, as textbooks of inventory give them (Snyder and Shen,
Fundamentals of Supply Chain Theory, chapter 3; Hopp and Spearman, Factory Physics). Rounding up is common practice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import accumulate
from statistics import NormalDist
from typing import NamedTuple

DAYS_A_YEAR = 365.0
_DUST = 1e-9  # what floats leave over; far below the smallest step that stock is kept in


def economic_order(per_year: float, order_cost: float, holding: float) -> float:
    """Order size at which ordering and keeping cost least together, √(2DK/h), in units of the material.

    `per_year` in units, `order_cost` in currency an order, `holding` in currency per unit and year. Raises ValueError
    when a cost is not above zero or the use is below zero.
    """
    if per_year < 0 or order_cost <= 0 or holding <= 0:
        raise ValueError("An economic order needs use of zero or more, and costs above zero.")
    return math.sqrt(2 * per_year * order_cost / holding)


def service_factor(percent: float) -> float:
    """Number z of standard deviations of reserve that leaves `percent` of deliveries without a gap, for normal use.

    Raises ValueError outside 50 to 99.99 per cent, where there is no reserve or no end of it.
    """
    if not 50 <= percent <= 99.99:
        raise ValueError("A service level lies between 50 and 99.99 per cent.")
    return NormalDist().inv_cdf(percent / 100)


def safety_stock(sigma_per_day: float, lead_days: float, z: float) -> float:
    """Reserve z·σ·√L against above-usual use while a delivery is on its way, in units; `lead_days` in days."""
    return z * sigma_per_day * math.sqrt(lead_days)


def reorder_point(per_day: float, sigma_per_day: float, lead_days: float, z: float) -> float:
    """Stock at which to order, in units: use during the lead time in days, plus the reserve. Round it up."""
    return per_day * lead_days + safety_stock(sigma_per_day, lead_days, z)


def whole_packs(quantity: float, content: float) -> int:
    """Number of packs that hold at least `quantity`, with `content` in the same unit.

    Raises ValueError for a pack without content.
    """
    if content <= 0:
        raise ValueError("A pack must hold something.")
    return max(0, math.ceil(quantity / content - _DUST))


@dataclass(frozen=True)
class Demand:
    """Use expected from today on, in units: a usual rate a day with its standard deviation, and planned quantities.

    `planned` holds (days from today, quantity) in any order; what is overdue counts as wanted today.
    """

    per_day: float = 0.0
    sigma: float = 0.0
    planned: tuple[tuple[float, float], ...] = ()

    @cached_property
    def rising(self) -> tuple[tuple[float, float], ...]:
        """Pairs (day, planned quantity up to and on it, in units), in order of days."""
        ordered = sorted((max(0.0, day), quantity) for day, quantity in self.planned)
        sums = accumulate(quantity for _, quantity in ordered)
        return tuple((day, total) for (day, _), total in zip(ordered, sums, strict=True))

    def planned_by(self, day: float) -> float:
        """Quantity reserved by jobs up to and on a day from today, in units."""
        return max((total for at, total in self.rising if at <= day), default=0.0)

    def by(self, day: float) -> float:
        """Quantity wanted up to and on a day, in units: the planned or the usual one, whichever is larger."""
        usual = self.per_day * day if self.per_day else 0.0
        return max(0.0, usual, self.planned_by(day))

    def day_of(self, quantity: float) -> float:
        """First day by which more than `quantity` units are wanted; infinity if that never comes."""
        days = [at for at, total in self.rising if total > quantity + _DUST]
        if self.per_day > 0:
            days.append(max(0.0, quantity) / self.per_day)
        return min(days, default=math.inf)


class HeldLot(NamedTuple):
    """A lot on the shelf: its quantity in units, and the days until it goes off (infinity: it keeps)."""

    quantity: float
    days: float = math.inf


def usable(held: Iterable[HeldLot], demand: Demand) -> float:
    """Part of the stock, in units, that will be used before it goes off, earliest expiry first."""
    used = 0.0
    for lot in sorted(held, key=lambda lot: lot.days):
        if lot.days >= 0:
            whole = used + lot.quantity
            used = whole if math.isinf(lot.days) else min(whole, max(used, demand.by(lot.days)))
    return used


@dataclass(frozen=True)
class Buying:
    """Terms on which one material is bought: lead time in days, pack, price, shelf life, and the shop's own rules.

    `unit_cost` is currency per unit without tax (None: not known); `life_days` from delivery (None: it keeps); `room`
    is what the storage limit leaves free (None: no limit); `look_ahead` days until the list is looked at again; no more
    than is usually used in `most_days` is ordered at once, unless more is short.
    """

    lead_days: float
    content: float
    unit_cost: float | None
    order_cost: float
    holding_percent: float
    z: float
    look_ahead: float
    most_days: float = math.inf
    life_days: float | None = None
    room: float | None = None


@dataclass(frozen=True)
class Advice:
    """An order that is due, and the figures behind it; quantities in the material's unit, times in days.

    `order_in` is when it must go out (below zero: late), `low_in` when stock falls to the reserve, `out_in` when it is
    used up, `last_in` when the order is used up as well. `most`, `kept` and `room` are the ceilings where they hold
    back the order; `spoils` is what goes off unused.
    """

    packs: int
    order_in: float
    low_in: float
    out_in: float
    last_in: float
    available: float
    reserve: float
    point: float
    economic: float | None
    short: float
    most: float | None
    kept: float | None
    room: float | None
    spoils: float


def advise(held: Sequence[HeldLot], coming: float, demand: Demand, buying: Buying) -> Advice | None:
    """Order that is due within the look-ahead; None when there is none.

    `coming` is the quantity ordered already and on its way, in units.
    """
    available = usable(held, demand) + coming
    reserve = safety_stock(demand.sigma, buying.lead_days, buying.z)
    low_in = demand.day_of(available - reserve)
    order_in = low_in - buying.lead_days
    if order_in > buying.look_ahead:
        return None
    horizon = buying.lead_days + buying.look_ahead
    short = max(0.0, demand.by(horizon) + reserve - available)
    economic = _economic(demand, buying)
    packs = max(1, whole_packs(max(short, economic or 0.0), buying.content))
    packs, most = _no_more_than_lasts(packs, short, demand, buying)
    packs, kept = _no_more_than_keeps(packs, available, demand, buying)
    packs, room = _no_more_than_fits(packs, buying)
    return Advice(
        packs=packs,
        order_in=order_in,
        low_in=low_in,
        out_in=demand.day_of(available),
        last_in=demand.day_of(available + packs * buying.content),
        available=available,
        reserve=reserve,
        point=reorder_point(demand.per_day, demand.sigma, buying.lead_days, buying.z),
        economic=economic,
        short=short,
        most=most,
        kept=kept,
        room=room,
        spoils=max(0.0, packs * buying.content - _used_in_date(available, demand, buying)),
    )


def _economic(demand: Demand, buying: Buying) -> float | None:
    """None where nothing is usually used or no price is known: then only what is short is ordered."""
    if demand.per_day <= 0 or not buying.unit_cost:
        return None
    holding = buying.unit_cost * buying.holding_percent / 100
    return economic_order(demand.per_day * DAYS_A_YEAR, buying.order_cost, holding)


def _used_in_date(available: float, demand: Demand, buying: Buying) -> float:
    """What of a delivery is used before it goes off: all that is wanted until then, less what is used before it."""
    if buying.life_days is None:
        return math.inf
    return max(0.0, demand.by(buying.lead_days + buying.life_days) - available)


def _no_more_than_lasts(packs: int, short: float, demand: Demand, buying: Buying) -> tuple[int, float | None]:
    """Packs held back to the usual use of `most_days`, and that ceiling in units.

    Never fewer packs than are short, nor than one.
    """
    if demand.per_day <= 0 or math.isinf(buying.most_days):
        return packs, None
    most = demand.per_day * buying.most_days
    held = max(1, whole_packs(max(short, most), buying.content))
    return (held, most) if held < packs else (packs, None)


def _no_more_than_keeps(packs: int, available: float, demand: Demand, buying: Buying) -> tuple[int, float | None]:
    """Packs held back to what is used in date, and that ceiling in units.

    Never fewer packs than jobs need, nor than one.
    """
    kept = _used_in_date(available, demand, buying)
    most = math.inf if math.isinf(kept) else math.floor(kept / buying.content + _DUST)
    if packs <= most:
        return packs, None
    planned = demand.planned_by(buying.lead_days + buying.look_ahead) - available
    least = max(1, whole_packs(planned, buying.content))
    return max(min(packs, int(most)), min(packs, least)), kept


def _no_more_than_fits(packs: int, buying: Buying) -> tuple[int, float | None]:
    """Packs held back to what the storage limit has room for, even if that is none; and that room."""
    if buying.room is None or packs * buying.content <= buying.room + _DUST:
        return packs, None
    return max(0, math.floor(max(0.0, buying.room) / buying.content + _DUST)), max(0.0, buying.room)
