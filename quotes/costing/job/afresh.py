"""A stored estimate said afresh: the same needs, mixes and prices with the factors that the shop knows now.

No recipe runs again here: what geometry asked for, how many mixes were planned and what a unit cost stay as they were
quoted, so that what differs is what was learned, or set, since; what goes by a planned mix (wax by its resin) stays
planned too. Invariant: with nothing learned or set since, every line comes back with the use and the cost it had.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from math import fsum
from typing import Any

from quotes.costing.learning.again import Again
from quotes.costing.parts.result import TIME
from quotes.costing.parts.usage import POOLED, Learned, UsageFactor, learned_of, taken, with_learned

_KINDS = {"materials": "material", "labour": "labour", "overhead": "overhead"}
Known = Mapping[str, Any]


@dataclass(frozen=True)
class Knowledge:
    """What is known now.

    `learned` by (operation, material); `losses` by material what cups keep, times the trade; by the constant's name in
    `bases` its value when that was learned and in `defaults` its (value, low, high) now; `again` by operation how often
    it is done again.
    """

    learned: Mapping[tuple[str, str], Learned] = field(default_factory=dict)
    losses: Mapping[str, float] = field(default_factory=dict)
    bases: Mapping[str, float] = field(default_factory=dict)
    defaults: Mapping[str, tuple[float, float, float]] = field(default_factory=dict)
    again: Mapping[str, Again] = field(default_factory=dict)


def afresh(lines: Sequence[Known], now: Knowledge) -> list[dict[str, Any]]:
    """The lines of a snapshot as they would be quoted now: factor, cup loss, use and cost."""
    return [_line(line, now) for line in lines]


def carried_afresh(again: Sequence[Known], lines: Sequence[Known], now: Knowledge) -> list[dict[str, Any]]:
    """What a snapshot carries for work done again, for the same steps by the rates of now; `lines` are those of now."""
    found = []
    for one in again:
        known = now.again.get(one["operation"])
        own = [line for line in lines if line["step"] == one["step"]]
        sums = {name: fsum(line["cost"] for line in own if line["kind"] == kind) for name, kind in _KINDS.items()}
        rate = known.carried if known else 0.0
        minutes = fsum(line["expected"]["value"] for line in own if line["kind"] == "labour")
        found.append({**one, **sums, "rate": rate, "minutes": minutes, "cost": rate * fsum(sums.values())})
    return found


def _line(line: Known, now: Knowledge) -> dict[str, Any]:
    taught_as = line["moves_with"].partition(":")[2] or line["material"]
    factor = _factor(line, taught_as, now)
    loss = line.get("loss_trade", line["loss"]) * now.losses.get(taught_as, 1.0)
    need, cups = line["need"]["value"], line["mixes"] * loss
    use = taken(need * factor.value + cups, line["least"], line["whole"])
    mean = factor.expected(line["kind"] in TIME) if "expected" in line else factor.value
    expected = taken(need * mean + cups, line["least"], line["whole"])
    return {
        **line,
        "factor": factor.as_dict(),
        "loss": loss,
        "use": {**line["use"], "value": use},
        "expected": {**line["use"], "value": expected},
        "cost": expected * line["unit_cost"]["value"],
    }


def _factor(line: Known, taught_as: str, now: Knowledge) -> UsageFactor:
    """The factor as the bench takes it now.

    What steps share keeps the default of its quote: it may be a mean of several.
    """
    pooled = line["kind"] == "consumable"
    default = _default(line["factor"], {} if pooled else now.defaults)
    learned = learned_of(now.learned, POOLED if pooled else line["operation"], taught_as)
    if learned is None:
        return default
    found = with_learned(default, learned, None if pooled else now.bases.get(default.name))
    return found.at(line.get("set_up", 0.0) / line["need"]["value"]) if line["kind"] in TIME else found


def _default(stored: Known, defaults: Mapping[str, tuple[float, float, float]]) -> UsageFactor:
    """The default under a stored factor: as it is now, or as the quote had it where it has no name."""
    name, made = stored.get("name", ""), stored.get("learned")
    source = made["trade_source"] if made else stored["source"]
    if name in defaults:
        return UsageFactor(*defaults[name], source, name=name)
    if made:
        return UsageFactor(made["trade"], made["trade_low"], made["trade_high"], source, name=name)
    return UsageFactor(stored["value"], stored["low"], stored["high"], source, stored.get("spread"), name=name)
