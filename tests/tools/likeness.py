"""`python -m tests.tools.likeness`: how like the made-up shops are to the sample shops, a minute.

Only what a shop's own files show is compared, never what the asked jobs really took: learning runs on both alike, and
what it found out about each is set side by side. Where the two differ, the made-up shops are to be the harder ones.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from quotes.costing.learning.history import Cell, History, Term
from quotes.costing.learning.model.fit import Fitted, fit
from quotes.costing.learning.model.logs import pull
from quotes.costing.stats.assumptions import MINUTES, USUAL
from tests.learning.scoring import made
from tests.learning.simulator import Plan, sample
from tests.tools.study import say

KINDS = {
    "20 jobs, 30 % logged": ((1, 2), Plan(20, 0.3), 40),
    "20 jobs, counts only": ((3,), Plan(20, 0.0), 40),
    "50 jobs, 30 % logged": ((4,), Plan(50, 0.3), 20),
    "50 jobs, counts only": ((5,), Plan(50, 0.0), 20),
    "100 jobs, all logged": ((6,), Plan(100, 1.0), 8),
}
MEASURES = (
    "terms of a job",
    "labour scatter",  # of logs within their cell, where rounding is small beside them
    "material scatter",
    "labour from trade",  # squared distance of what was found, over what the widened trade ranges make of as much evidence
    "material from trade",
    "counts off",  # root mean square of how many sd spans are off
    "asked of second",  # share of the asked steps that the second worker does
    "asked new brand",  # share of the asked material, by need × price, of a brand that is not the first
)
_FIRST_SEED = 40_000
_FAR = 4.0  # sd; beyond it a span counts as so far off


def main() -> None:
    say(f"{'':<36}" + "".join(f"{name:>21}" for name in MEASURES))
    for name, (samples, plan, shops) in KINDS.items():
        for number in samples:
            history, asked = sample(number)
            say(_row(f"sample shop {number}: {name}", [measured(history, asked)]))
        ours = made(plan, range(_FIRST_SEED, _FIRST_SEED + shops))
        say(_row(f"{shops} made-up shops (their sd)", [measured(one.history, _all(one.asked)) for one in ours]))


def _all(asked: Mapping[str, Sequence[Term]]) -> list[Term]:
    return [term for job in asked.values() for term in job]


def _row(name: str, found: Sequence[Sequence[float]]) -> str:
    cells = []
    for column in zip(*found, strict=True):
        known = [value for value in column if not math.isnan(value)]
        sd = f" ({np.std(known):.2f})" if len(known) > 1 else ""
        cells.append(f"{f'{np.mean(known):.2f}{sd}' if known else '–':>21}")
    return f"{name:<36}" + "".join(cells)


def measured(history: History, terms: Sequence[Term]) -> tuple[float, ...]:
    """The measures of one shop and the steps it is asked about; not-a-number where its files say nothing of it."""
    fitted = fit(history)
    minutes = [term.worker != fitted.state.layout.base_worker for term in terms if term.material == MINUTES]
    return (
        len(history.terms) / fitted.state.jobs,
        _scatter(fitted, labour=True),
        _scatter(fitted, labour=False),
        _from_trade(fitted, labour=True),
        _from_trade(fitted, labour=False),
        math.sqrt(np.mean(np.clip(fitted.span_z, -_FAR, _FAR) ** 2)),
        float(np.mean(minutes)),
        _new_brand(history, fitted, terms),
    )


def _scatter(fitted: Fitted, *, labour: bool) -> float:
    """The sd of ln(use/need) within a cell, over all cells with four such logs or more."""
    state, rows = fitted.state, fitted.log_rows
    now = pull(rows, fitted.lines, np.append(state.x, 0.0), np.append(state.spread, 0.0), USUAL)
    fine = rows.value >= 4 * (np.exp(rows.high) - np.exp(rows.low))
    good = fine & (np.abs(fitted.log_z) < USUAL.doubtful) & (now.own > 0.6) & (fitted.lines.labour[rows.line] == labour)
    cell, squares, freedom = rows.columns[:, 0], 0.0, 0
    for at in np.unique(cell[good]):
        off = (now.off / now.own)[good & (cell == at)]
        if len(off) >= 4:
            squares, freedom = squares + float(((off - off.mean()) ** 2).sum()), freedom + len(off) - 1
    return math.sqrt(squares / freedom) if freedom >= 5 else math.nan


def _from_trade(fitted: Fitted, *, labour: bool) -> float:
    state = fitted.state
    prior = np.array(state.layout.prior_sd)
    mine = np.array([entry[0] == "factor" and (entry[2] == MINUTES) == labour for entry in state.layout.entries])
    mine &= prior > USUAL.narrow
    informed = (1.0 - np.diag(state.covariance) / prior**2)[mine].sum()
    return float(((state.x / prior) ** 2)[mine].sum() / informed) if informed > 0.1 else math.nan


def _new_brand(history: History, fitted: Fitted, terms: Sequence[Term]) -> float:
    first, trade = fitted.state.layout.base_brands, history.trade
    used = [term for term in terms if term.material != MINUTES]
    worth = np.array([
        term.need * trade.factors[Cell(term.operation, term.material)].mid * trade.price(term.material, 0.0)
        for term in used
    ])  # fmt: skip
    new = np.array([term.brand != first.get(term.material, term.brand) for term in used])
    return float(worth @ new / worth.sum())


if __name__ == "__main__":
    main()
