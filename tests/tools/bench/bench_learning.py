"""Learning from a history, against the bare solves of the same least-squares problem, and a forecast of one job.

The floor of a fit is what any Gauss–Newton of as many rounds must do at least: solve a dense least-squares problem of
as many rows (logs and spans between counts) and unknowns, once a round, with nothing read, weighed or thrown out.
"""

from __future__ import annotations

import tracemalloc

import numpy as np

from quotes.costing.learning.forecast import forecast
from quotes.costing.learning.history import History
from quotes.costing.learning.model.fit import fit
from quotes.costing.stats.assumptions import USUAL
from tests.learning.simulator import HOURLY, TRADE, Plan, make
from tests.tools.bench import Ratio, measure

_MOST_MEGABYTES = 300.0  # while 60 000 logs are learned from, besides the history itself


def ratios() -> list[Ratio]:
    """130 fully logged jobs; a forecast; and 2 900 jobs with 60 000 logs, whose peak memory is bounded."""
    shop = make(11, Plan(jobs=130, logged=1.0))
    history = shop.history
    fitted = fit(history)
    rows, entries = len(fitted.log_rows.line) + len(fitted.spans.used), len(fitted.state.x)
    asked = next(iter(shop.asked.values()))
    solves = f"{USUAL.rounds} dense least-squares solves of {rows} × {entries}"
    return [
        measure(
            f"learning from 130 jobs, {len(history.logs)} logs",
            ours=lambda: fit(history),
            floor=bare_solves(rows, entries),
            floor_words=solves,
            most=3.0,
        ),
        measure(
            "… forecast of one job, against all of them",
            ours=lambda: forecast(fitted.state, TRADE, asked, HOURLY),
            floor=lambda: fit(history),
            floor_words="the whole fit",
        ),
        many_jobs(),
    ]


def many_jobs() -> Ratio:
    """2 900 jobs; raises where the fit takes more memory than it may."""
    history: History = make(12, Plan(jobs=2900, logged=1.0, ask=0)).history
    tracemalloc.start()
    fitted = fit(history)
    peak = tracemalloc.get_traced_memory()[1] / 1e6
    tracemalloc.stop()
    rows, entries = len(fitted.log_rows.line) + len(fitted.spans.used), len(fitted.state.x)
    if peak > _MOST_MEGABYTES:
        raise AssertionError(f"{rows} rows took {peak:.0f} MB; {_MOST_MEGABYTES:.0f} MB are allowed.")
    return measure(
        f"learning from 2 900 jobs, {len(history.logs)} logs, {peak:.0f} MB",
        ours=lambda: fit(history),
        floor=bare_solves(rows, entries),
        floor_words=f"{USUAL.rounds} dense least-squares solves of {rows} × {entries}",
        rounds=1,
    )


def bare_solves(rows: int, entries: int):
    """A function that solves a least-squares problem of this size once for each round."""
    rng = np.random.default_rng(0)
    matrix, right = rng.normal(size=(rows, entries)), rng.normal(size=rows)

    def run() -> None:
        for _ in range(USUAL.rounds):
            np.linalg.lstsq(matrix, right, rcond=None)

    return run
