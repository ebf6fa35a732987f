"""What each entry of the learned state means, and where it starts.

One entry, one number: the logarithm of a factor or of a cup loss over its trade middle; the share of a counted material
that no job used, over its usual share; the logarithm of an extra worker's or a new brand's effect. Where terms tell
set-ups apart, how fast the shop is at everything, and its set-ups beside that. All start at 0, with the standard
deviation that the trade range, widened, gives.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from quotes.costing.learning.history import Cell, History, Range, Term, Trade
from quotes.costing.stats.assumptions import MINUTES, Assumptions
from quotes.costing.stats.normal import Floats, quantile

Entry = tuple[str, ...]
LABOUR, MATERIAL = "labour", "material"
PACE: Entry = ("pace", MINUTES)
SET_UP: Entry = ("set-up", MINUTES)
_HALF_RANGE = quantile(0.95)  # sd from the middle to either end of a 5 to 95 % range


def factor(cell: Cell) -> Entry:
    """Entry of a usage factor."""
    return ("factor", cell.operation, cell.material)


def kind_of(material: str) -> str:
    """Kind of a material, labour or a material proper: each has its own difficulty and worker's shift."""
    return LABOUR if material == MINUTES else MATERIAL


@dataclass(frozen=True)
class Layout:
    """Entries of a state, their middles before anything is known and prior sd; whom shifts are measured against."""

    entries: tuple[Entry, ...]
    middles: tuple[float, ...]
    prior_sd: tuple[float, ...]
    base_worker: str | None = None
    base_brands: dict[str, str] = field(default_factory=dict)

    @cached_property
    def index(self) -> dict[Entry, int]:
        """Place of each entry in the state."""
        return {entry: at for at, entry in enumerate(self.entries)}

    @cached_property
    def idle(self) -> int:
        """Column for what a step has not got (a cup, a new brand): one past the state, always 0."""
        return len(self.entries)

    @cached_property
    def log_shifts(self) -> Floats:
        """Logarithm of the middle of each worker's and brand's shift; 0 for other entries."""
        shifted = [entry[0] in ("worker", "brand") for entry in self.entries]
        return np.where(shifted, np.log(np.where(shifted, self.middles, 1.0)), 0.0)

    def column(self, entry: Entry) -> int:
        """Column of the entry, or the idle one."""
        return self.index.get(entry, self.idle)

    def columns(self, term: Term) -> tuple[int, int, int, int]:
        """Columns a step's use depends on: factor, worker, brand, cup loss; of minutes pace and set-up instead."""
        labour = term.material == MINUTES
        return (
            self.index[factor(Cell(term.operation, term.material))],
            self.column(("worker", term.worker, kind_of(term.material))),
            self.column(PACE if labour else ("brand", term.material, term.brand)),
            self.column(SET_UP if labour else ("loss", term.material)),
        )


def layout(history: History, assume: Assumptions) -> Layout:
    """Layout for a history: all trade factors and cups, what was counted, and the workers and brands met."""
    counted = {count.material for count in history.counts} | ({MINUTES} if history.hours else set())
    start = Layout((), (), ())
    return _with(start, history.trade, sorted(history.terms, key=_when), sorted(counted), assume)


def extended(old: Layout, trade: Trade, terms: Iterable[Term], assume: Assumptions) -> Layout:
    """Layout with entries added at the end of the old for cells, cups, workers and brands it has not met."""
    return _with(old, trade, sorted(terms, key=_when), (), assume)


def _when(term: Term) -> float:
    return term.day


def _with(old: Layout, trade: Trade, terms: Iterable[Term], counted: Iterable[str], assume: Assumptions) -> Layout:
    """Layout that keeps the old entries and adds those of the trade, the terms and what was counted."""
    base_worker, base_brands = old.base_worker, dict(old.base_brands)
    found: dict[Entry, tuple[float, float]] = {}
    for cell, usual in trade.factors.items():
        sd = _prior_sd(usual, trade.whole(cell.material), assume)
        found[factor(cell)] = (usual.mid, beside_pace(sd, assume) if trade.set_ups and cell.material == MINUTES else sd)
    if trade.set_ups:
        found[PACE], found[SET_UP] = (1.0, assume.pace), (1.0, assume.set_up)
    for key, material in trade.materials.items():
        if material.loss is not None:
            found["loss", key] = (material.loss.mid, _prior_sd(material.loss, False, assume))
    for key in counted:
        found["unassigned", key] = (assume.unassigned, assume.unassigned_sd)
    for term in terms:
        if base_worker is None:
            base_worker = term.worker
        if term.worker and term.worker != base_worker:
            found["worker", term.worker, LABOUR] = _shift(assume.worker_labour)
            found["worker", term.worker, MATERIAL] = _shift(assume.worker_material)
        if term.material == MINUTES:
            continue
        if base_brands.setdefault(term.material, term.brand) != term.brand and term.brand:
            found["brand", term.material, term.brand] = _shift(assume.brand)
    new = [entry for entry in found if entry not in old.index]
    return Layout(
        old.entries + tuple(new),
        old.middles + tuple(found[entry][0] for entry in new),
        old.prior_sd + tuple(found[entry][1] for entry in new),
        base_worker,
        base_brands,
    )


def _shift(sd: float) -> tuple[float, float]:
    """The middle and sd of a shift of which nothing is known: what is expected on the mean stays as it was."""
    return math.exp(-(sd**2) / 2.0), sd


def beside_pace(sd: float, assume: Assumptions) -> float:
    """Prior sd of an operation's own minutes where the shop's pace is an entry of its own: both make up `sd`."""
    return math.sqrt(max(sd**2 - assume.pace**2, sd**2 / 2.0))


def _prior_sd(usual: Range, whole: bool, assume: Assumptions) -> float:
    """What is weighed, cut or timed is never known as well as whole pieces are, whatever its range says."""
    least = assume.least_prior_sd if whole else assume.narrow
    return max(assume.widen * math.log(usual.high / usual.low) / (2.0 * _HALF_RANGE), least)
