"""What estimates take of a learned state: multiples of the defaults, by whose hands and with which brand comes next."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from typing import Any

import numpy as np

from quotes.costing.learning.history import History
from quotes.costing.learning.model.layout import PACE, SET_UP, kind_of
from quotes.costing.learning.model.plausibility import implausible
from quotes.costing.learning.model.state import State, untaught
from quotes.costing.parts.usage import OTHERS
from quotes.costing.stats.assumptions import MINUTES
from quotes.costing.stats.normal import Floats
from quotes.experience.rows import defaults_now
from quotes.experience.standard import own_now

LAST_JOBS = 20  # by which it is told whose hands the next job will be in
_SAME = 1e-9


def figures_of(state: State, history: History) -> dict[str, Any]:
    """What estimates take: by cell and by cup the multiple of the default. Nothing at all where nothing was learned.

    It is the figure of the people who did the last jobs, each by the share of hands-on need, and of the brand used
    last.
    """
    evidence, trade = state.evidence, history.trade
    doubted = frozenset(implausible(state))
    if not (evidence.logs.any() or evidence.counts.any() or doubted):
        return {"cells": [], "losses": {}, "bases": {}, "own": own_now()}
    nothing = untaught(trade)
    start = dict(zip(nothing.layout.entries, np.diag(nothing.covariance), strict=True))
    believed = np.array([each not in doubted for each in state.layout.entries], dtype=np.bool_)
    moved = state.x + np.where(believed, state.layout.log_shifts, 0.0)
    hands, brands = _last_hands(history), {term.material: term.brand for term in history.terms}
    cells, losses = [], {}
    for at, entry in enumerate(state.layout.entries):
        if entry[0] == "loss" and abs(state.x[at]) > _SAME:
            losses[entry[1]] = math.exp(state.x[at])
        if entry[0] != "factor":
            continue
        told = _contrast(state, at, entry[2], hands, brands.get(entry[2], ""), alone=entry in doubted)
        x, sd = float(told @ moved), math.sqrt(float(told @ state.covariance @ told))
        logs, counts = round(evidence.logs[at]), round(evidence.counts[at])
        before = math.sqrt(start[entry] + (start.get(PACE, 0.0) if entry[2] == MINUTES else 0.0))
        if not (logs or counts or entry in doubted) and abs(x) < _SAME and abs(sd - before) < _SAME:
            continue
        weight = evidence.own_weight[at]
        cells.append(
            {
                "operation": entry[1],
                "material": entry[2],
                "used": math.exp(x),
                "own": math.exp(evidence.own_sum[at] / weight + x - state.x[at]) if weight > 0 and logs else None,
                "sd": sd,
                "spread": float(state.spread[at]) if evidence.spread_weight[at] > 0 else None,
                "logs": logs,
                "counts": counts,
                "believed": entry not in doubted,
                **(_set_up(state, told, at) if entry[2] == MINUTES and entry not in doubted else {}),
            }
        )
    if SET_UP in state.layout.index and any(cell["material"] == MINUTES for cell in cells):
        cells.append(_of_others(state, moved, hands))
    bases = {name: usual.mid for name, usual in defaults_now().items()}
    return {"cells": cells, "losses": losses, "bases": bases, "own": own_now()}


def _contrast(
    state: State, at: int, material: str, hands: Mapping[str, float], brand: str, *, alone: bool = False
) -> Floats:
    """What of the state makes the present factor of a cell.

    The factor, the shifts of its hands, and that of its brand; of minutes the shop's pace too, unless it stands
    `alone`: where its own figure is not believed the trade's is used, not the shop's pace.
    """
    told = np.zeros(len(state.x))
    told[at] = 1.0
    index = state.layout.index
    if material == MINUTES and PACE in index and not alone:
        told[index[PACE]] = 1.0
    for worker, share in hands.items():
        where = index.get(("worker", worker, kind_of(material)))
        if where is not None:
            told[where] = share
    where = index.get(("brand", material, brand))
    if where is not None:
        told[where] = 1.0
    return told


def _set_up(state: State, told: Floats, at: int | None = None) -> dict[str, Any]:
    """What setting up takes beside work by size, how well that is known, and the part of it in what was logged.

    `told` is what makes the factor of work by size.
    """
    where = state.layout.index.get(SET_UP)
    if where is None:
        return {}
    return {
        "set_up": math.exp(state.x[where]),
        "set_up_sd": math.sqrt(state.covariance[where, where]),
        "together": float(told @ state.covariance[:, where]),
        "part": 0.0 if at is None else state.part(at),
    }


def _of_others(state: State, moved: Floats, hands: Mapping[str, float]) -> dict[str, Any]:
    """The minutes of an operation that no job has met: how fast the shop is, and how far one lies from another."""
    told = _contrast(state, state.layout.index[PACE], MINUTES, hands, "")
    own = [sd for entry, sd in zip(state.layout.entries, state.layout.prior_sd, strict=True)
           if entry[0] == "factor" and entry[2] == MINUTES]  # fmt: skip
    variance = float(told @ state.covariance @ told) + float(np.median(own)) ** 2
    return {
        "operation": OTHERS, "material": MINUTES, "used": math.exp(float(told @ moved)), "own": None,
        "sd": math.sqrt(variance), "spread": None, "logs": 0, "counts": 0,
        "believed": PACE not in implausible(state), **_set_up(state, told),
    }  # fmt: skip


def _last_hands(history: History) -> dict[str, float]:
    """By person the share of the hands-on need of the last jobs."""
    last = list(dict.fromkeys(term.job for term in reversed(history.terms) if not term.again))[:LAST_JOBS]
    shares: dict[str, float] = defaultdict(float)
    for term in history.terms:
        if term.material == MINUTES and not term.again and term.job in last:
            shares[term.worker] += term.need
    whole = math.fsum(shares.values())
    return {worker: need / whole for worker, need in shares.items()} if whole else {}
