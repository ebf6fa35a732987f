"""The board is priced, not the damage: several damages on one board worked out as one job.

    damages → each worked out by itself → what they share → lines of each → price of the way, each damage, each choice

One visit, one set-up where they meet in a session, one cup where resin and pot life allow, the smallest part of a disc
once. A damage may be optional: every choice of the optional ones has its price, worked out as a way of just these.
Invariants: the shown prices of the damages add up to the way; none is dearer than it would be alone; a choice costs no
less than any of its damages; one more damage adds no more than it would cost alone; the price of a choice is that of a
way made of just these.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from functools import cached_property
from itertools import combinations
from typing import Any

from quotes.costing.job.damage import UNKNOWN_BOARD, finished, work_out
from quotes.costing.job.estimated import Estimate
from quotes.costing.job.merging import MergedStep, merged, shares_of_mixes
from quotes.costing.job.sharing import WorkedDamage, costs_of, lines_of
from quotes.costing.money.pricing import Priced, earned_per_hour, price
from quotes.costing.parts.inputs import Construction, Pricing, Shop
from quotes.costing.parts.measures import Given
from quotes.costing.parts.result import CostLine, minor_words
from quotes.costing.parts.schedule import Timed, place_in_days
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.costing.snapshot import SCHEMA, PlannedStep, Problem, Snapshot
from quotes.costing.steps.windows import set_windows

MOST_OPTIONAL = 6  # 64 choices; a page with more is no choice


@dataclass(frozen=True)
class CoreDamage:
    """A damage as it is asked about: a key of the caller's, its name on the page, recipe and measures.

    Measures in canonical units (mm, cm², mL, g, min, °C). `optional`: the customer may leave it.
    """

    key: str
    name: str
    recipe: CoreRecipe
    measures: Mapping[str, Given | float]
    accepted_odd: Collection[str] = ()
    optional: bool = False


@dataclass(frozen=True)
class Choice:
    """Damages of one choice (their keys, in order), with its price, hands-on minutes and unrounded cost in currency.

    `shown` is what each damage comes to in it, as the customer sees prices; they add up to the choice.
    """

    damages: tuple[str, ...]
    priced: Priced
    minutes: float
    cost: float
    shown: Mapping[str, Decimal]

    def as_dict(self) -> dict[str, Any]:
        """Choice as plain data."""
        return {
            "damages": list(self.damages),
            "price": str(self.priced.gross),
            "price_before_tax": str(self.priced.net),
            "tax": str(self.priced.tax),
            "shown": str(self.priced.shown),
            "cost": str(self.priced.cost),
            "minutes": self.minutes,
            "each": {key: str(amount) for key, amount in self.shown.items()},
        }


@dataclass
class BoardEstimate:
    """Several damages of one board worked out as one job.

    `parts` are their estimates with the others, in order: their lines, costs and minutes add up to the whole. `alone`
    is what each would cost by itself, `choices` every choice of the optional ones, the whole way last. Money is there
    only while `problems` is empty.
    """

    damages: tuple[CoreDamage, ...]
    parts: tuple[Estimate, ...]
    steps: tuple[MergedStep, ...]
    pricing: Pricing
    hours_per_day: float
    alone: Mapping[str, Choice] = field(default_factory=dict)
    choices: tuple[Choice, ...] = ()

    @property
    def problems(self) -> list[tuple[str, Problem]]:
        """Reasons why there is no price yet, each with the key of its damage."""
        return [(d.key, one) for d, part in zip(self.damages, self.parts, strict=True) for one in part.problems]

    @property
    def way(self) -> Choice | None:
        """Choice of all damages together; None while there are problems."""
        return self.choices[-1] if self.choices else None

    @property
    def minutes(self) -> float:
        """Hands-on minutes of the whole job, in the middle."""
        return math.fsum(step.minutes for step in self.steps)

    @property
    def added_weight_g(self) -> float:
        """Weight that the whole job adds, in g."""
        return math.fsum(part.added_weight_g for part in self.parts)

    @property
    def lines(self) -> list[CostLine]:
        """Lines of cost of all damages, in order."""
        return [line for part in self.parts for line in part.lines]

    @property
    def cautions(self) -> list[str]:
        """Cautions of all steps, each once."""
        return list(dict.fromkeys(words for part in self.parts for words in part.cautions))

    @cached_property
    def ready_days(self) -> float:
        """Days from the first touch to the end of the last step, every day worked; says which windows are missed."""
        timed = [
            Timed(step.minutes, step.earliest_start_h, step.latest_start_h, step.pause_h, step.sitting)
            for step in self.steps
        ]
        slots = place_in_days(timed, hours_per_day=self.hours_per_day)
        for step, slot in zip(self.steps, slots, strict=True):
            step.in_time = not slot.late
        return slots[-1].end_h / 24.0 if slots else 0.0

    def without_price(self, problems: Sequence[Problem]) -> BoardEstimate:
        """Board estimate without money, for problems that stand before every damage."""
        for part in self.parts:
            part.problems, part.priced = [*problems, *part.problems], None
        return replace(self, alone={}, choices=())

    def choice(self, keys: Collection[str]) -> Choice:
        """Choice of just these damages. Raises KeyError if it leaves out one that is not optional."""
        wanted = tuple(damage.key for damage in self.damages if damage.key in keys)
        for one in self.choices:
            if one.damages == wanted and len(wanted) == len(set(keys)):
                return one
        raise KeyError(f"There is no choice of {', '.join(sorted(keys)) or 'nothing'}.")

    def as_dict(self) -> dict[str, Any]:
        """Board estimate as plain data, as `price --json` prints it: money as strings, everything else floats.

        Its totals have the names of `pricing.price_way`. `steps` are those of the bench; each says in `serves` which
        damages (by number, from 0) it is for, with the minutes and materials of each.
        """
        ready = self.ready_days
        parts = [part.snapshot() for part in self.parts]
        return {
            "schema": SCHEMA,
            "currency": self.pricing.currency,
            **self._money(),
            "minutes": self.minutes,
            "added_weight_g": self.added_weight_g,
            "earliest_ready_days": ready,
            "cautions": self.cautions,
            "problems": [{**problem.to_json(), "damage": key} for key, problem in self.problems],
            "damages": [self._damage(*one) for one in zip(self.damages, parts, strict=True)],
            "choices": [one.as_dict() for one in self.choices],
            "steps": [step.to_json() for step in self.planned_steps([damage.name for damage in self.damages])],
        }

    def planned_steps(self, names: Sequence[str]) -> list[PlannedStep]:
        """Steps of the bench as a way keeps them; `names` is what it calls the damages, in order."""
        self.ready_days  # noqa: B018 - works out which windows are missed
        own_steps = [part.planned_steps for part in self.parts]
        uses = shares_of_mixes(self.parts) if self.way else {}
        return [step.kept(names, own_steps, uses) for step in self.steps]

    def _money(self) -> dict[str, Any]:
        """Price and cost of the whole way under the names of `price_way`; None for each while there are problems."""
        way = self.way
        if way is None:
            names = ("cost", "cost_unrounded", "outlay", "price_before_tax", "tax", "price", "shown", "margin")
            return {**dict.fromkeys((*names, "earned_per_hour")), "tax_rate": self.pricing.tax_percent}
        hands = math.fsum(part.expected_minutes for part in self.parts)
        hands += math.fsum(one.again.carried * one.minutes for part in self.parts for one in part.again)
        outlay = math.fsum(part.outlay for part in self.parts)
        return {
            "cost": str(way.priced.cost),
            "cost_unrounded": way.cost,
            "outlay": outlay,
            "price_before_tax": str(way.priced.net),
            "tax": str(way.priced.tax),
            "tax_rate": self.pricing.tax_percent,
            "price": str(way.priced.gross),
            "shown": str(way.priced.shown),
            "margin": way.priced.margin(self.pricing).to_json(),
            "earned_per_hour": earned_per_hour(float(way.priced.net), outlay, hands),
        }

    def _damage(self, damage: CoreDamage, part: Snapshot) -> dict[str, Any]:
        """Damage as plain data: its price with the others, its price alone, and its own estimate."""
        alone, way = self.alone.get(damage.key), self.way
        return {
            "key": damage.key,
            "name": damage.name,
            "optional": damage.optional,
            "with_others": str(way.shown[damage.key]) if way else None,
            "alone": str(alone.priced.shown) if alone else None,
            "alone_minutes": alone.minutes if alone else None,
            "part": part.to_json(),
        }


def estimate_board(
    damages: Sequence[CoreDamage], shop: Shop, *, board: Construction = UNKNOWN_BOARD, choices: bool = True
) -> BoardEstimate:
    """Estimate of several damages as one job on one board, with the price of each and of each choice.

    `choices=False` leaves the choices out but for the whole way. Raises ValueError for no damage, two of one key, or
    more than six optional ones.
    """
    _check(damages)
    worked = {one.key: work_out(one.recipe, one.measures, shop, board=board, accepted_odd=one.accepted_odd)
              for one in damages}  # fmt: skip
    priced: list[Choice] = []
    alone: dict[str, Choice] = {}
    if not any(one.problems for one in worked.values()):
        alone = {key: _choice({key: one}, shop, {}) for key, one in worked.items()}
        subsets = _subsets(damages) if choices else [tuple(worked)]
        priced = [_choice({key: worked[key] for key in keys}, shop, alone) for keys in subsets]
    rows = lines_of(list(worked.values()), shop)
    parts = tuple(finished(one, shop, own) for one, own in zip(worked.values(), rows, strict=True))
    steps = tuple(merged(list(worked.values())))
    set_windows(steps)
    return BoardEstimate(tuple(damages), parts, steps, shop.pricing, shop.hours_per_day, alone, tuple(priced))


def _check(damages: Sequence[CoreDamage]) -> None:
    """Check of the damages asked about. Raises ValueError for none, two of one key, or too many optional ones."""
    if not damages:
        raise ValueError("A board needs at least one damage to be priced.")
    keys = [damage.key for damage in damages]
    twice = sorted({key for key in keys if keys.count(key) > 1})
    if twice:
        raise ValueError(f"The damage {twice[0]} is there twice: give each a name of its own.")
    if sum(damage.optional for damage in damages) > MOST_OPTIONAL:
        raise ValueError(
            f"At most {MOST_OPTIONAL} damages of one way may be optional: make the others a way of their own."
        )


def _subsets(damages: Sequence[CoreDamage]) -> Iterator[tuple[str, ...]]:
    """Keys of every choice, in the order of the damages; small choices first, the whole way last."""
    optional = [damage.key for damage in damages if damage.optional]
    fixed = {damage.key for damage in damages if not damage.optional}
    for many in range(len(optional) + 1):
        for chosen in combinations(optional, many):
            keys = tuple(damage.key for damage in damages if damage.key in fixed or damage.key in chosen)
            if keys:
                yield keys


def _choice(worked: Mapping[str, WorkedDamage], shop: Shop, alone: Mapping[str, Choice]) -> Choice:
    """Choice of just these damages as one job: its cost, its price, and the price of each."""
    costs = costs_of(list(worked.values()), shop)
    cost = math.fsum(costs)
    priced = price(cost, shop.pricing)
    minutes = math.fsum(step.minutes for one in worked.values() for step in one.steps)
    caps = [alone[key].priced.shown if key in alone else priced.shown for key in worked]
    shown = split_price(priced.shown, costs, caps, shop.pricing.decimals)
    return Choice(tuple(worked), priced, minutes, cost, dict(zip(worked, shown, strict=True)))


def split_price(
    shown: Decimal, costs: Sequence[float], alone: Sequence[Decimal] | None = None, decimals: int = 2
) -> list[Decimal]:
    """Price in currency divided over its damages in proportion to their costs, adding up to the minor unit.

    None comes to more than it would `alone`, unless the price is more than all of them alone (set by hand). Where
    nothing costs anything all get the same.
    """
    total = int(shown.scaleb(decimals))
    weights = list(costs) if math.fsum(costs) > 0 else [1.0] * len(costs)
    caps = [int(one.scaleb(decimals)) for one in alone] if alone else [total] * len(weights)
    if sum(caps) < total:
        caps = [total] * len(weights)
    exact = _within(float(total), weights, caps)
    units = [int(one) for one in exact]
    order = sorted(range(len(units)), key=lambda at: units[at] - exact[at])  # the largest remainders first
    while sum(units) < total:
        for at in order:
            if units[at] < caps[at] and sum(units) < total:
                units[at] += 1
    return [Decimal(minor_words(one, decimals)) for one in units]


def _within(total: float, weights: Sequence[float], caps: Sequence[int]) -> list[float]:
    """Shares by weight, each no more than its cap; the others bear what a capped one leaves."""
    shares = [0.0] * len(weights)
    free = list(range(len(weights)))
    left = total
    while free:
        weight = math.fsum(weights[at] for at in free)
        for at in free:
            shares[at] = left * weights[at] / weight if weight > 0 else 0.0
        over = [at for at in free if shares[at] > caps[at]]
        if not over:
            break
        for at in over:
            shares[at] = float(caps[at])
            left -= caps[at]
            free.remove(at)
    return shares
