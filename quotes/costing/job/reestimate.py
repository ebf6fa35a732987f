"""A stored estimate worked out again: the same needs, mixes and prices with the factors that the shop knows now.

No recipe runs again here: what geometry asked for, how many mixes were planned and what a unit cost stay as they were
quoted, so that what differs is what was learned, or set, since; what goes by a planned mix (wax by its resin) stays
planned too. Invariant: with nothing learned or set since, every line comes back with the use and the cost it had.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from math import fsum

from quotes.costing.learning.rework import ReworkRate
from quotes.costing.parts.usage import Learned, UsageFactor, learned_of, rounded_use, with_learned
from quotes.costing.snapshot import Carried, FactorUsed, SnapshotLine

_KINDS = ("material", "labour", "overhead")


@dataclass(frozen=True)
class Knowledge:
    """Factors and rates that the shop knows now.

    `learned` by (operation, material); `losses` by material what cups keep, times the trade; by the constant's name in
    `bases` its value when that was learned and in `defaults` its (value, low, high) now; `again` by operation how often
    it is done again.
    """

    learned: Mapping[tuple[str, str], Learned] = field(default_factory=dict)
    losses: Mapping[str, float] = field(default_factory=dict)
    bases: Mapping[str, float] = field(default_factory=dict)
    defaults: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    again: Mapping[str, ReworkRate] = field(default_factory=dict)


def reestimate(lines: Sequence[SnapshotLine], now: Knowledge) -> list[SnapshotLine]:
    """Lines of a snapshot as they would be quoted now: factor, cup loss, use and cost."""
    return [_line(line, now) for line in lines]


def reestimate_rework(again: Sequence[Carried], lines: Sequence[SnapshotLine], now: Knowledge) -> list[Carried]:
    """Rework that a snapshot carries, for the same steps by the rates of now; `lines` are those of now."""
    found = []
    for one in again:
        known = now.again.get(one.operation)
        own = [line for line in lines if line.step == one.step]
        stuff, labour, overhead = (fsum(line.cost for line in own if line.kind == kind) for kind in _KINDS)
        rate = known.carried if known else 0.0
        minutes = fsum(line.expected for line in own if line.kind == "labour")
        cost = rate * fsum((stuff, labour, overhead))
        now_carried = one._replace(materials=stuff, labour=labour, overhead=overhead, rate=rate, minutes=minutes)
        found.append(now_carried._replace(cost=cost))
    return found


def _line(line: SnapshotLine, now: Knowledge) -> SnapshotLine:
    """Line with its factor and cup loss of now, its need and its price as they were."""
    factor = _factor(line, now)
    loss = line.trade_loss * now.losses.get(line.taught_as, 1.0)
    cups = line.mixes * loss
    use = rounded_use(line.need * factor.value + cups, line.least, line.whole)
    mean = factor.value if line.costs_middle else factor.expected(line.is_time)
    expected = rounded_use(line.need * mean + cups, line.least, line.whole)
    cost = expected * line.unit_cost.value
    return replace(line, factor=factor.used(), loss=loss, use=use, expected=expected, cost=cost)


def _factor(line: SnapshotLine, now: Knowledge) -> UsageFactor:
    """Factor as the bench takes it now.

    What steps share keeps the default of its quote: it may be a mean of several.
    """
    default = _default(line.factor, {} if line.shared else now.defaults)
    learned = learned_of(now.learned, *line.cell)
    if learned is None:
        return default
    found = with_learned(default, learned, None if line.shared else now.bases.get(default.name))
    return found.at(line.set_up_part) if line.is_time else found


def _default(used: FactorUsed, defaults: Mapping[str, tuple[float, float, float]]) -> UsageFactor:
    """Default under a factor: as it is now, or as the quote had it where it has no name."""
    name, made = used.name, used.learned
    source = made.trade_source if made else used.source
    if name in defaults:
        return UsageFactor(*defaults[name], source, name=name)
    if made:
        return UsageFactor(made.trade, made.trade_low, made.trade_high, source, name=name)
    return UsageFactor(used.value, used.low, used.high, source, used.spread, name=name)
