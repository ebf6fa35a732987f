"""From cost to price: margin or markup, rush, discount, shop minimum, price step, tax.

Order: cost → margin on price or markup on cost → rush → discount → as the customer sees it → at least the minimum → up
to the price step → tax. Where prices include tax the gross is the master: tax = gross × r/(100 + r), net by difference.
Money is Decimal, crossed over once from float through `str`, rounded half away from zero: 2.345 → 2.35.
Margin and markup: Centennial College Libraries, guide “Markup”; overhead rate: OpenStax, Principles of Accounting,
volume 2, section 4.4.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, ROUND_HALF_UP, Decimal
from typing import Any

from quotes.costing.parts.inputs import Pricing
from quotes.costing.parts.rework_allowance import rework_minutes
from quotes.costing.snapshot import Margin, Snapshot, Trail

_HUNDRED = Decimal(100)
_ONE = Decimal(1)


@dataclass(frozen=True, slots=True)
class Priced:
    """A cost and the price on it. `shown` is what the customer sees: the gross where prices include tax, else the net.

    `trail` says in words and amounts how the one became the other. All money in currency.
    """

    cost: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal
    shown: Decimal
    trail: tuple[tuple[str, Decimal], ...]

    def margin(self, pricing: Pricing) -> Margin:
        """Margin in currency, and as a share of the price and of the cost."""
        gain, trail = self.net - self.cost, tuple(Trail(words, str(amount)) for words, amount in self.trail)
        of_price, of_cost = _share(gain, self.net), _share(gain, self.cost)
        return Margin(pricing.method, pricing.percent, gain, of_price, of_cost, trail)


def money(value: float, decimals: int = 2) -> Decimal:
    """Decimal money from a float in currency: through its shortest decimal form, half away from zero.

    2.345 → 2.35, 0.125 → 0.13.
    """
    return Decimal(str(float(value))).quantize(_ONE.scaleb(-decimals), ROUND_HALF_UP)


def net_of_cost(cost: Decimal, pricing: Pricing) -> Decimal:
    """Cost in currency with margin on price, cost/(1 − m), or markup on cost, cost × (1 + u); unrounded.

    37.40 with a 40 % margin is 62.33, with a 40 % markup 52.36 (Centennial College Libraries, guide “Markup”). Raises
    ValueError for a margin of 100 % or more, or one below zero.
    """
    percent = _decimal(pricing.percent)
    if percent < 0:
        raise ValueError(f"A {pricing.method} must not be below zero; it is {percent} %.")
    if pricing.method == "markup":
        return cost * (_HUNDRED + percent) / _HUNDRED
    if percent >= _HUNDRED:
        raise ValueError(f"A margin on the price must be below 100 %; it is {percent} %.")
    return cost * _HUNDRED / (_HUNDRED - percent)


def price(cost: float, pricing: Pricing) -> Priced:
    """Price of a cost in currency, unrounded. Raises ValueError as `net_of_cost` does."""
    paid = money(cost, pricing.decimals)
    amount = net_of_cost(_decimal(cost), pricing)
    trail = [(f"{pricing.percent:g} % {'margin on the price' if pricing.method == 'margin' else 'markup on the cost'}",
              _rounded(amount, pricing))]  # fmt: skip
    if pricing.rush_percent:
        amount = amount * (_HUNDRED + _decimal(pricing.rush_percent)) / _HUNDRED
        trail.append((f"rush supplement of {pricing.rush_percent:g} %", _rounded(amount, pricing)))
    if pricing.discount_percent:
        amount = amount * (_HUNDRED - _decimal(pricing.discount_percent)) / _HUNDRED
        trail.append((f"discount of {pricing.discount_percent:g} %", _rounded(amount, pricing)))
    if pricing.includes_tax and pricing.tax_percent:
        amount = amount * (_HUNDRED + _decimal(pricing.tax_percent)) / _HUNDRED
        trail.append((f"with {pricing.tax_percent:g} % tax", _rounded(amount, pricing)))
    if amount < _decimal(pricing.minimum):
        amount = _decimal(pricing.minimum)
        trail.append(("the shop's minimum", _rounded(amount, pricing)))
    shown = stepped(amount, pricing)
    if pricing.step and shown != _rounded(amount, pricing):
        trail.append((f"rounded up to {pricing.step:g}", shown))
    return _with_tax(paid, shown, pricing, tuple(trail))


def at_price(cost: float, shown: Decimal, pricing: Pricing) -> Priced:
    """Cost in currency with a price set by hand, as the customer sees it."""
    return _with_tax(money(cost, pricing.decimals), _rounded(shown, pricing), pricing, (("set by hand", shown),))


def at_net(net: float, pricing: Pricing) -> Priced:
    """Price whose part before tax is at least `net`, in currency: tax on top, up to the price step.

    Its cost is `net`.
    """
    before = _decimal(net)
    amount = before * (_HUNDRED + _decimal(pricing.tax_percent)) / _HUNDRED if pricing.includes_tax else before
    shown = stepped(amount, pricing)
    return _with_tax(money(net, pricing.decimals), shown, pricing, (("before tax", _rounded(before, pricing)),))


def stepped(amount: Decimal, pricing: Pricing) -> Decimal:
    """Amount rounded to the currency, then up to a whole number of price steps."""
    amount = _rounded(amount, pricing)
    step = _decimal(pricing.step)
    if step <= 0:
        return amount
    return _rounded((amount / step).to_integral_value(ROUND_CEILING) * step, pricing)


def earned_per_hour(net: float, outlay: float, minutes: float) -> float | None:
    """Currency earned per hands-on hour: (price without tax − materials − overhead) ÷ hours; None without minutes."""
    return (net - outlay) / (minutes / 60.0) if minutes > 0 else None


def overhead_rate(monthly: float, hours: float) -> float:
    """Overhead in currency per hands-on hour: the month's costs over the hours that carry them.

    OpenStax, Principles of Accounting, volume 2, section 4.4. Raises ValueError for no hours.
    """
    if hours <= 0:
        raise ValueError("Overheads need hands-on hours above zero to be spread over.")
    return monthly / hours


def price_way(parts: Sequence[Snapshot], pricing: Pricing, *, shown: Decimal | None = None) -> dict[str, Any]:
    """Price of several estimates (snapshots) as one way, in currency: one minimum, one rounding.

    `shown` is a price set by hand. Money is None while a part has problems; they are listed in order.
    """
    problems = [problem.to_json() for part in parts for problem in part.problems]
    minutes = sum(part.minutes for part in parts)
    totals: dict[str, Any] = {
        "cost": None, "cost_unrounded": None, "price_before_tax": None, "tax": None, "price": None, "shown": None,
        "margin": None,
        "earned_per_hour": None, "currency": pricing.currency, "tax_rate": pricing.tax_percent,
        "minutes": minutes, "added_weight_g": sum(part.added_weight_g for part in parts),
        "earliest_ready_days": max((part.ready_days for part in parts), default=0.0),
        "cautions": list(dict.fromkeys(caution for part in parts for caution in part.cautions)),
        "problems": problems,
    }  # fmt: skip
    if problems or not parts:
        return totals
    cost = sum(part.cost_unrounded or 0.0 for part in parts)
    priced = price(cost, pricing) if shown is None else at_price(cost, shown, pricing)
    outlay = sum(part.outlay or 0.0 for part in parts)
    totals |= {
        "cost": str(priced.cost), "cost_unrounded": cost, "price_before_tax": str(priced.net), "tax": str(priced.tax),
        "price": str(priced.gross), "shown": str(priced.shown), "margin": priced.margin(pricing).to_json(),
        "earned_per_hour": earned_per_hour(float(priced.net), outlay, hands_on(parts)),
    }  # fmt: skip
    return totals


def hands_on(parts: Sequence[Snapshot]) -> float:
    """Expected hands-on minutes of several estimates, with those that doing again is expected to take."""
    return float(sum(part.expected_minutes for part in parts)) + rework_minutes(parts)


def _with_tax(cost: Decimal, shown: Decimal, pricing: Pricing, trail: tuple[tuple[str, Decimal], ...]) -> Priced:
    rate = _decimal(pricing.tax_percent)
    if pricing.includes_tax:
        tax = _rounded(shown * rate / (_HUNDRED + rate), pricing)
        return Priced(cost, shown - tax, tax, shown, shown, trail)
    tax = _rounded(shown * rate / _HUNDRED, pricing)
    return Priced(cost, shown, tax, shown + tax, shown, trail)


def _decimal(value: float) -> Decimal:
    return Decimal(str(value))


def _rounded(amount: Decimal, pricing: Pricing) -> Decimal:
    return amount.quantize(_ONE.scaleb(-pricing.decimals), ROUND_HALF_UP)


def _share(part: Decimal, whole: Decimal) -> float:
    return float(part / whole * _HUNDRED) if whole else 0.0
