"""How sure a price is: the range of its cost and of what an hour earns, the chance of loss, and what moves it.

Read from stored snapshots by the core's closed form, so that a quote gives the same chance again. What is bought in for
a line by hand costs what it costs: it shifts both sides and has no range of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from quotes.costing import Pricing, Sensitivity, Snapshot, cost_risk
from quotes.costing.basis.lazy_words import many
from quotes.costing.money.pricing import at_net, hands_on
from quotes.estimating import as_float

MOVERS_SHOWN = 12
BAR = 240  # units that a bar of the chart is wide
CHANCES = (5, 10, 20)  # per cent


@dataclass(frozen=True)
class Stake:
    """Chance that a price (before tax) does not pay its cost, and how far the cost may lie; in the shop's currency."""

    chance_of_loss: float
    cost: dict[str, float]

    @property
    def cost_span(self) -> list[float]:
        """The 10, 25, 50, 75 and 90 % points, as the range bar takes them."""
        return [round(self.cost[name], 2) for name in ("q10", "q25", "q50", "q75", "q90")]

    @property
    def chance_percent(self) -> int:
        return round(self.chance_of_loss * 100)


@dataclass(frozen=True)
class Odds(Stake):
    """All that is known of a price (before tax) against its uncertain cost; money in the shop's currency."""

    earned: dict[str, float]
    minutes: dict[str, float]
    prices: list[tuple[int, Decimal]]


def stake(parts: Sequence[Snapshot], *, net: Decimal, bought: Decimal) -> Stake:
    """Chance of loss and range of cost alone, of the same snapshots, price before tax and lines by hand as `odds`."""
    fixed, found = as_float(bought), cost_risk(parts)
    cost = {name: value + fixed for name, value in found.cost.as_dict().items()}
    return Stake(found.chance_of_loss(as_float(net) - fixed), cost)


def odds(parts: Sequence[Snapshot], *, net: Decimal, bought: Decimal, pricing: Pricing) -> Odds:
    """The odds of a way: snapshots of its parts, its price before tax, and what its lines by hand cost."""
    fixed = as_float(bought)
    found = cost_risk(parts)
    own = found.as_dict(as_float(net) - fixed, pricing)
    return Odds(
        chance_of_loss=own["chance_of_loss"],
        cost={name: value + fixed for name, value in own["cost"].items()},
        earned=own["earned_per_hour"],
        minutes=own["minutes"],
        prices=[(chance, at_net(found.net_for_chance(chance / 100) + fixed, pricing).shown) for chance in CHANCES],
    )


def price_for_chance(
    parts: Sequence[Snapshot], chance_percent: Decimal, *, bought: Decimal, pricing: Pricing
) -> Decimal:
    """The price, as the customer sees it, whose chance of loss is so many per cent (above 0, below 100)."""
    return at_net(cost_risk(parts).net_for_chance(as_float(chance_percent) / 100) + as_float(bought), pricing).shown


def price_to_earn(parts: Sequence[Snapshot], per_hour: Decimal, *, bought: Decimal, pricing: Pricing) -> Decimal:
    """The price, as the customer sees it, at which an hour is expected to earn so much."""
    outlay = sum(part.outlay or 0.0 for part in parts) + as_float(bought)
    hours = hands_on(parts) / 60
    return at_net(as_float(per_hour) * hours + outlay, pricing).shown


def known_from(parts: Sequence[Snapshot]) -> str:
    """From how much the factors of a stored price were learned, in a sentence."""
    made = next((part.known_from for part in parts if part.known_from), None)
    if made is None:
        return "Worked out by trade defaults: this shop’s own jobs had taught nothing yet."
    said = ((made.jobs, "finished job"), (made.logs, "log"), (made.counts, "count"))
    jobs, logs, counts = (many(*each) for each in said)
    return f"Worked out by what this shop had learned from {jobs}: {logs} and {counts}."


def bars(movers: Sequence[Sensitivity]) -> dict[str, Any]:
    """The strongest movers as bars on one scale, and how many more there are."""
    shown = movers[:MOVERS_SHOWN]
    ends = [end for one in shown for end in (one.price_at_low, one.price_at_high)]
    least, most = min(ends, default=0.0), max(ends, default=0.0)
    scale = BAR / (most - least) if most > least else 0.0
    rows = []
    for one in shown:
        low, high = sorted((one.price_at_low, one.price_at_high))
        rows.append(
            {
                "mover": one,
                "left": round((low - least) * scale, 1),
                "right": round((high - least) * scale, 1),
                "words": f"price between {low:.2f} and {high:.2f}",
            }
        )
    rest = movers[MOVERS_SHOWN:]
    return {"rows": rows, "width": BAR, "more": len(rest), "rest_at_most": rest[0].span if rest else 0.0}
