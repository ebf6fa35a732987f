"""What was learned, as kept with every quote that was made with it: middles, covariance, spreads, and from how much.

Invariant: every entry is finite and no wider than where it started; a cell that came out singular or absurd is back at
its trade default, and `notes` says so in a sentence. With nothing learned every factor is exactly its trade default.
"""

from __future__ import annotations

import hashlib
import json
import math
from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from quotes.costing.learning.history import Cell, History, Term, Trade
from quotes.costing.learning.model.evidence import Evidence, Figure
from quotes.costing.learning.model.layout import PACE, SET_UP, Entry, Layout, extended, factor, layout
from quotes.costing.learning.model.lines import set_up_share
from quotes.costing.stats.assumptions import MINUTES, USUAL, Assumptions
from quotes.costing.stats.normal import Floats, quantile

SCHEMA = 1


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """State of learning up to a day.

    `x` and `covariance` by entry of the layout; `spread` is the job-to-job sd by entry.
    """

    layout: Layout
    x: Floats
    covariance: Floats
    spread: Floats
    evidence: Evidence
    extra_mixes: float
    planned_mixes: float
    jobs: int
    day: float
    timed_to: float = 1.0
    notes: tuple[str, ...] = ()

    def extra_mix(self, assume: Assumptions = USUAL) -> float:
        """Chance that a step takes one more mix than planned."""
        return extra_mix(self.extra_mixes, self.planned_mixes, assume)

    def figure(self, cell: Cell) -> Figure:
        """Factor of a cell as it is shown; of minutes for as much set-up in them as its logs have had.

        Raises KeyError for a cell the state has not met.
        """
        at = self.layout.index[factor(cell)]
        told, grown = self.told(at)
        trade, ten = self.layout.middles[at] * grown, quantile(0.9)
        used = trade * math.exp(self.x[at])
        sd, spread = math.sqrt(float(told @ self.covariance @ told)), float(self.spread[at])
        weight = self.evidence.own_weight[at]
        near, wide = math.exp(ten * sd), math.exp(ten * math.hypot(sd, spread))
        return Figure(
            trade=self.layout.middles[at],
            own=trade * math.exp(self.evidence.own_sum[at] / weight) if weight > 0 else None,
            used=used,
            low=used / near,
            high=used * near,
            job_low=used / wide,
            job_high=used * wide,
            sd=sd,
            spread=spread,
            logs=round(self.evidence.logs[at]),
            counts=round(self.evidence.counts[at]),
        )

    def told(self, at: int) -> tuple[Floats, float]:
        """Weights by entry that make the factor of a cell, and the factor beside the cell's own entry.

        Of minutes that is the shop's pace, and its set-ups by the part that they have had in what was logged.
        """
        told, index = np.zeros(len(self.x)), self.layout.index
        told[at] = 1.0
        if SET_UP not in index or self.layout.entries[at][2] != MINUTES:
            return told, 1.0
        part = np.array([self.part(at)])
        grown, slope = set_up_share(part, self.x[[index[SET_UP]]])
        told[index[PACE]], told[index[SET_UP]] = 1.0, slope[0]
        return told, math.exp(self.x[index[PACE]]) * float(grown[0])

    def part(self, at: int) -> float:
        """Share of the minutes of a cell that set up, as its logs have had it; 0 without logs."""
        weight = self.evidence.own_weight[at]
        return float(self.evidence.set_ups[at] / weight) if weight > 0 else 0.0

    def loss(self, material: str) -> tuple[float, float, float]:
        """Loss of a mix of a material in its cup: middle and 80 % range, in its unit."""
        at = self.layout.index["loss", material]
        middle = self.layout.middles[at] * math.exp(self.x[at])
        wide = math.exp(quantile(0.9) * math.sqrt(self.covariance[at, at]))
        return middle, middle / wide, middle * wide

    def as_dict(self) -> dict[str, Any]:
        """State for JSON; `State.from_dict` reads it back to the last digit."""
        lower = np.tril_indices(len(self.x))
        return {
            "schema": SCHEMA,
            "day": self.day,
            "jobs": self.jobs,
            "timed_to": self.timed_to,
            "base_worker": self.layout.base_worker,
            "base_brands": self.layout.base_brands,
            "entries": [list(entry) for entry in self.layout.entries],
            "middles": list(self.layout.middles),
            "prior_sd": list(self.layout.prior_sd),
            "x": self.x.tolist(),
            "covariance": self.covariance[lower].tolist(),
            "spread": self.spread.tolist(),
            "evidence": [column.tolist() for column in self.evidence.columns()],
            "extra_mixes": self.extra_mixes,
            "planned_mixes": self.planned_mixes,
            "notes": list(self.notes),
        }

    @staticmethod
    def from_dict(kept: dict[str, Any]) -> State:
        """State as it was kept. Raises ValueError for another schema or a figure that is not finite."""
        if kept.get("schema") != SCHEMA:
            raise ValueError(f"The learned state has schema {kept.get('schema')!r}; this program reads {SCHEMA}.")
        entries = tuple(tuple(entry) for entry in kept["entries"])
        n = len(entries)
        covariance = np.zeros((n, n))
        covariance[np.tril_indices(n)] = kept["covariance"]
        covariance = covariance + np.tril(covariance, -1).T
        x = np.array(kept["x"], dtype=np.float64)
        if not (np.isfinite(x).all() and np.isfinite(covariance).all()):
            raise ValueError("The learned state holds a figure that is not a number; learn again from the history.")
        return State(
            layout=Layout(
                entries, tuple(kept["middles"]), tuple(kept["prior_sd"]), kept["base_worker"], kept["base_brands"]
            ),
            x=x,
            covariance=covariance,
            spread=np.array(kept["spread"], dtype=np.float64),
            evidence=Evidence(*(np.array(column, dtype=np.float64) for column in kept["evidence"])),
            extra_mixes=kept["extra_mixes"],
            planned_mixes=kept["planned_mixes"],
            jobs=kept["jobs"],
            day=kept["day"],
            timed_to=kept["timed_to"],
            notes=tuple(kept["notes"]),
        )

    def digest(self) -> str:
        """SHA-256 of the state: the same history gives the same digest."""
        return hashlib.sha256(json.dumps(self.as_dict(), sort_keys=True).encode()).hexdigest()


def untaught(trade: Trade, assume: Assumptions = USUAL) -> State:
    """State of a shop that has written nothing down: the trade defaults."""
    return at_start(layout(History(trade), assume), assume)


def usual_spreads(where: Layout, assume: Assumptions) -> Floats:
    """Usual job-to-job sd of every entry's group; 0 for what is no factor.

    A trade range that is very narrow (a fin box is a fin box) leaves no more room from job to job either.
    """
    return np.array(
        [_usual(*entry, assume) for entry in zip(where.entries, where.prior_sd, strict=True)], dtype=np.float64
    )


def _usual(entry: Entry, prior_sd: float, assume: Assumptions) -> float:
    if entry[0] != "factor":
        return 0.0
    if prior_sd < assume.narrow:
        return prior_sd
    return assume.spread_labour if entry[2] == MINUTES else assume.spread_material


def at_start(where: Layout, assume: Assumptions) -> State:
    """State at the trade defaults, for a layout."""
    n = len(where.entries)
    return State(
        layout=where,
        x=np.zeros(n),
        covariance=np.diag(np.array(where.prior_sd, dtype=np.float64) ** 2),
        spread=usual_spreads(where, assume),
        evidence=Evidence.none(n),
        extra_mixes=0.0,
        planned_mixes=0.0,
        jobs=0,
        day=0.0,
    )


def extra_mix(extra: float, planned: float, assume: Assumptions) -> float:
    """Chance of one more mix than planned, from how many of the logged steps took one."""
    return (assume.extra_mix * assume.extra_mix_trust + extra) / (assume.extra_mix_trust + planned)


def with_terms(state: State, trade: Trade, terms: Iterable[Term], assume: Assumptions = USUAL) -> State:
    """State with room for cells, workers and brands it has not met, each at its trade default."""
    where = extended(state.layout, trade, terms, assume)
    old, n = len(state.x), len(where.entries)
    if n == old:
        return replace(state, layout=where)
    start = at_start(where, assume)
    covariance = start.covariance
    covariance[:old, :old] = state.covariance
    return replace(
        state,
        layout=where,
        x=np.pad(state.x, (0, n - old)),
        covariance=covariance,
        spread=np.concatenate([state.spread, start.spread[old:]]),
        evidence=state.evidence.longer(n),
    )
