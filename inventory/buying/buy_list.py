"""What to order: from whom, how many packs, by when, and why.

The rows become floats here, `inventory.buying.ordering` decides, and `inventory.buying.reasons` says by what.
A fixed number of queries, however many materials, movements and orders there are.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby
from typing import NamedTuple

from django.db.models import Prefetch

from inventory.buying import reasons
from inventory.buying.cover import Stock
from inventory.buying.history import WEEKS, Usual, known_since, use_by_week, usual
from inventory.buying.ordering import Advice, Buying, Demand, HeldLot, advise, service_factor, usable
from inventory.buying.orders import Coming, on_the_way
from inventory.buying.planning import stock_of
from inventory.formats import amount
from inventory.models import BuyingRules, Material, Pack, PackPrice, Reservation, Supplier
from inventory.stock.prices import ReplacementPrice, prices_on
from shop.platform.acts import SEES_MONEY, Signed, action, checked

NOTHING = Decimal(0)
LEAD_DAYS = 7  # days to deliver where no supplier is known; as a new supplier's row starts with
TOLERATED = 0.1  # share of an order that may go off before a smaller pack is taken; common practice, no source
NEVER_USED = Usual(0.0, 0.0, 0)


@action("stock.buying_rules", *SEES_MONEY)
def set_rules(*, rules: BuyingRules, signed: Signed) -> BuyingRules:
    """How the shop buys from now on. Raises Refused."""
    checked(rules).save()
    signed.record(rules, "Changed how the shop buys")
    return rules


def rules() -> BuyingRules:
    """How the shop buys; the defaults until it says so."""
    return BuyingRules.objects.first() or BuyingRules()


class Position(NamedTuple):
    """One material as the list sees it: what lies there, what is coming, and what is wanted of it."""

    held: list[HeldLot]
    on_hand: Decimal
    coming: list[Coming]
    usual: Usual
    demand: Demand

    @property
    def on_the_way(self) -> float:
        """Quantity ordered and still to come, in the material's unit."""
        return float(sum((one.left for one in self.coming), NOTHING))


@dataclass(frozen=True)
class BuyLine:
    """One line of the buy list. Days are the shop's; `cost` is without tax, None where no price is known.

    `left`: what is usable on the shelf, what is on the way, and until when it lasts, in words. `low_on` is when the
    shelf is down to the reserve; `good_until` is how long what comes must keep to be used up, None where it does not
    go off.
    """

    material: Material
    pack: Pack | None
    packs: int
    order_on: date
    comes_on: date
    low_on: date
    good_until: date | None
    cost: Decimal | None
    left: str
    why: tuple[str, ...]
    ceilings: tuple[str, ...]

    @property
    def supplier(self) -> Supplier | None:
        """Supplier of the pack; None without a pack."""
        return self.pack.supplier if self.pack else None

    @property
    def quantity(self) -> str:
        """All of it, in the material's unit."""
        return amount((self.pack.content if self.pack else Decimal(1)) * self.packs, self.material.unit)

    @property
    def late(self) -> bool:
        """It comes after the shelf is down to the reserve, or after a job wanted it."""
        return self.comes_on > self.low_on


class SupplierList(NamedTuple):
    """The lines for one supplier (None: no pack is known), and what they come to without tax."""

    supplier: Supplier | None
    lines: list[BuyLine]

    @property
    def cost(self) -> Decimal:
        """Cost of all lines in currency, without tax."""
        return sum((line.cost for line in self.lines if line.cost is not None), NOTHING)

    @property
    def priced(self) -> bool:
        """Whether every line has a price, so that the sum is the whole sum."""
        return all(line.cost is not None for line in self.lines)

    @property
    def order_on(self) -> date:
        """Day on which the first of its lines must be ordered."""
        return min(line.order_on for line in self.lines)


def buy_list(today: date) -> list[BuyLine]:
    """What is due to be ordered until the list is looked at again, the most pressing first."""
    how, materials = rules(), _materials(today)
    positions = positions_of([material.pk for material in materials], today)
    prices = prices_on(today)
    lines = (_line(one, today, positions[one.pk], how, prices.get(one.key)) for one in materials)
    return sorted((line for line in lines if line), key=lambda line: (line.order_on, line.material.name))


def by_supplier(lines: Sequence[BuyLine]) -> list[SupplierList]:
    """The lines of each supplier together, the most pressing supplier first; those without one last."""

    def key(line: BuyLine) -> int:
        return line.supplier.pk if line.supplier else 0

    lists = [
        SupplierList(rows[0].supplier, rows)
        for _, group in groupby(sorted(lines, key=key), key)
        if (rows := list(group))
    ]
    return sorted(lists, key=lambda one: (one.supplier is None, one.order_on, str(one.supplier)))


def positions_of(materials: Collection[int], today: date) -> dict[int, Position]:
    """Each material as the list sees it. Six queries."""
    planned: dict[int, list[Reservation]] = {}
    for row in Reservation.objects.open().by_day().filter(material__in=materials):
        planned.setdefault(row.material_id, []).append(row)
    since = known_since(materials)
    used = use_by_week(today, list(since))
    stock, coming = stock_of(materials), on_the_way(today)
    return {
        key: _position(
            today,
            stock.get(key, []),
            planned.get(key, []),
            usual(used[key], since[key], today) if key in since else NEVER_USED,
            coming.get(key, []),
        )
        for key in materials
    }


def _position(
    today: date, stock: list[Stock], planned: list[Reservation], habit: Usual, coming: list[Coming]
) -> Position:
    held = [HeldLot(float(q), math.inf if until is None else (until - today).days) for q, until in stock]
    wanted = tuple((float((row.needed_on - today).days), float(row.quantity)) for row in planned)
    on_hand = sum((lot.quantity for lot in stock), NOTHING)
    return Position(held, on_hand, coming, habit, Demand(habit.per_day, habit.sigma, wanted))


def _materials(today: date) -> list[Material]:
    """Materials in use that are watched, with their packs, the usual one first, each with its price on a day."""
    prices = Prefetch("prices", PackPrice.objects.in_force(today), to_attr="priced")
    packs = Pack.objects.in_use().select_related("supplier").order_by("-preferred", "pk")
    packs = packs.prefetch_related(prices)  # type: ignore[no-redef] # declared on the model
    return list(Material.objects.in_use().watched().select_related("safety").prefetch_related(Prefetch("packs", packs)))


def limit_of(material: Material) -> Decimal | None:
    """The storage limit that was entered for a material, in its unit."""
    safety = getattr(material, "safety", None)
    return safety.keep_at_most if safety else None


class _Choice(NamedTuple):
    pack: Pack | None
    buying: Buying
    advice: Advice

    @property
    def wasteful(self) -> bool:
        ordered = self.advice.packs * self.buying.content
        return not ordered or self.advice.spoils > TOLERATED * ordered


def _line(
    material: Material, today: date, here: Position, how: BuyingRules, price: ReplacementPrice | None
) -> BuyLine | None:
    choices = list(_choices(material, here, how, price))
    if not choices:
        return None
    best = next((one for one in choices if not one.wasteful), None)
    pack, buying, advice = best or min(choices, key=lambda one: (one.advice.packs == 0, one.advice.spoils))
    order_on = today + timedelta(days=max(0, math.floor(advice.order_in)))
    each = _price(pack)
    return BuyLine(
        material=material,
        pack=pack,
        packs=advice.packs,
        order_on=order_on,
        comes_on=order_on + timedelta(days=math.ceil(buying.lead_days)),
        low_on=today + timedelta(days=math.floor(advice.low_in)),
        good_until=_good_until(material, today, buying, advice),
        cost=None if each is None else each * advice.packs,
        left=reasons.left(material.unit, today, here.on_the_way, advice),
        why=tuple(reasons.why(material.unit, today, here.demand, here.usual.weeks, here.on_the_way, advice, buying)),
        ceilings=tuple(reasons.ceilings(material, pack, limit_of(material), here.demand, advice, buying)),
    )


def _good_until(material: Material, today: date, buying: Buying, advice: Advice) -> date | None:
    """Until the order is used up, but no longer than the material keeps at all."""
    if material.shelf_life_days is None or not advice.packs:
        return None
    days = min(advice.last_in, max(0.0, advice.order_in) + buying.lead_days + material.shelf_life_days)
    return today + timedelta(days=math.ceil(days))


def _choices(material: Material, here: Position, how: BuyingRules, price: ReplacementPrice | None) -> Iterator[_Choice]:
    """What would be ordered of the usual pack, then of the smaller ones, the largest of them first; if it is due."""
    packs: list[Pack | None] = list(material.packs.all()) or [None]
    usual_one = packs[0]
    smaller = [pack for pack in packs[1:] if pack and usual_one and pack.content < usual_one.content]
    for pack in [usual_one, *sorted(smaller, key=lambda pack: -pack.content)]:
        buying = _buying(material, pack, here, how, price)
        advice = advise(here.held, here.on_the_way, here.demand, buying)
        if advice is None:
            if pack is usual_one:
                return
            continue
        yield _Choice(pack, buying, advice)


def _buying(
    material: Material, pack: Pack | None, here: Position, how: BuyingRules, price: ReplacementPrice | None
) -> Buying:
    limit, each = limit_of(material), _price(pack)
    per_unit = each / pack.content if pack and each is not None else price.per_unit if price else None
    return Buying(
        lead_days=pack.supplier.lead_days if pack else LEAD_DAYS,
        content=float(pack.content) if pack else 1.0,
        unit_cost=None if per_unit is None else float(per_unit),
        order_cost=float(how.order_cost),
        holding_percent=float(how.holding_percent),
        z=service_factor(how.service_percent),
        look_ahead=how.look_ahead_days,
        most_days=7 * _most_weeks(here.usual, how),
        life_days=material.shelf_life_days,
        room=None if limit is None else max(0.0, float(limit - here.on_hand) - here.on_the_way),
    )


def _most_weeks(habit: Usual, how: BuyingRules) -> int:
    """What has been watched for less than half a year is not ordered for longer than it was watched."""
    return min(how.most_weeks, habit.weeks) if 0 < habit.weeks < WEEKS else how.most_weeks


def _price(pack: Pack | None) -> Decimal | None:
    priced: Sequence[PackPrice] = getattr(pack, "priced", ())
    return priced[0].price if priced else None


def days_left(here: Position) -> float:
    """In how many days what lies there, in date, is used up; infinity where nothing is wanted of it."""
    return here.demand.day_of(usable(here.held, here.demand))
