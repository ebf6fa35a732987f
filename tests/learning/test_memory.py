"""A long history is learned from in memory that grows no faster than it does."""

from __future__ import annotations

import tracemalloc

from quotes.costing.learning.model.fit import fit
from tests.learning.simulator import Plan, make


def peak_megabytes(jobs: int) -> float:
    history = make(71, Plan(jobs=jobs, logged=1.0, ask=0)).history
    tracemalloc.start()
    fit(history)
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def test_twice_the_history_takes_no_more_than_about_twice_the_memory():
    once, twice = peak_megabytes(120), peak_megabytes(240)
    assert twice < 2.4 * once
    assert twice < 40.0
