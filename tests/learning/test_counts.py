"""A shop that only counts its shelf, or only totals its hours, learns all the same."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from quotes.costing.learning.history import (
    Cell,
    History,
    HistoryMaterial,
    Hours,
    Log,
    Range,
    Receipt,
    ShelfCount,
    Term,
    Trade,
)
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.spans import Balance, solved

LAM = Cell("lam", "resin")
WORK = Cell("lam", "minutes")
TRADE = Trade(
    {"resin": HistoryMaterial("resin", "g", 0.02, log_step=1, count_step=10)},
    {LAM: Range(1.3, 1.0, 1.7), WORK: Range(1.15, 0.8, 1.7), Cell("box", "resin"): Range(1.3, 1.0, 1.7)},
)


def counted(true_factor: float, fortnights: int = 8, lost: float = 0.03, seed: int = 1) -> History:
    """Ten laminations of 100 g a fortnight, and a count at the end of each."""
    rng = np.random.default_rng(seed)
    terms, counts, receipts, shelf = [], [ShelfCount(0.0, "resin", 3000.0)], [], 3000.0
    for number in range(fortnights):
        for job in range(10):
            name = f"{number}-{job}"
            terms.append(Term(name, "lam", number * 14 + job + 1.0, "A", "resin", 100.0))
            shelf -= 100.0 * true_factor * math.exp(rng.normal(0, 0.18)) * (1 + lost)
        if shelf < 2000:
            receipts.append(Receipt(number * 14 + 13.0, "resin", 5000.0))
            shelf += 5000.0
        counts.append(ShelfCount(number * 14 + 14.0, "resin", round(shelf / 10) * 10.0))
    return History(TRADE, tuple(terms), (), tuple(receipts), tuple(counts))


@pytest.mark.parametrize("true_factor", [0.9, 1.3, 2.0, 3.0])
def test_counts_alone_find_the_factor(true_factor):
    figure = fit(counted(true_factor)).state.figure(LAM)
    assert figure.used == pytest.approx(true_factor, rel=0.06)
    assert (figure.logs, figure.counts, figure.own) == (0, 8, None)
    assert figure.sd < 0.06


def test_one_wrong_count_moves_the_factor_by_little():
    history = counted(1.6)
    wrong = replace(history, counts=tuple(
        count._replace(qty=count.qty + 2500.0) if number == 4 else count for number, count in enumerate(history.counts)
    ))  # fmt: skip
    right, bent = fit(history), fit(wrong)
    assert bent.state.figure(LAM).used == pytest.approx(right.state.figure(LAM).used, rel=0.04)
    assert np.abs(bent.span_z[3:5]).min() > 5


def test_a_logged_step_counts_as_it_stands_and_the_rest_is_left_to_the_others():
    """Each fortnight five jobs logged at 200 g, five not, and 2 030 g gone: the five took (2 030 / 1.03 − 1 000) / 500.

    That is their mean; the factor is the middle, exp(½ (0.173² + 0.05²)) below it.
    """
    terms, logs, counts, receipts = [], [], [ShelfCount(0.0, "resin", 3000.0)], []
    for number in range(8):
        for job in range(10):
            step = "lam" if job < 5 else "box"
            terms.append(Term(f"{number}-{job}", step, number * 14 + job + 1.0, "A", "resin", 100.0))
        logs += [Log(f"{number}-{job}", "lam", "resin", 200.0) for job in range(5)]
        receipts.append(Receipt(number * 14 + 13.0, "resin", 2030.0))
        counts.append(ShelfCount(number * 14 + 14.0, "resin", 3000.0))
    history = History(TRADE, tuple(terms), tuple(logs), tuple(receipts), tuple(counts))
    middle = (2030 / 1.03 - 1000) / 500 / math.exp(0.5 * (0.173**2 + 0.05**2))
    assert fit(history).state.figure(Cell("box", "resin")).used == pytest.approx(middle, rel=0.05)


def test_a_week_of_bench_hours_teaches_labour():
    rng = np.random.default_rng(3)
    terms, hours = [], []
    for week in range(10):
        total = 0.0
        for day in range(5):
            terms.append(Term(f"{week}-{day}", "lam", week * 7 + day + 1.0, "A", "minutes", 60.0))
            total += 60.0 * 1.6 * math.exp(rng.normal(0, 0.24))
        hours.append(Hours(week * 7 + 1.0, week * 7 + 5.0, "A", round(total * 1.03 / 5) * 5.0))
    figure = fit(History(TRADE, tuple(terms), hours=tuple(hours))).state.figure(WORK)
    assert figure.used == pytest.approx(1.6, rel=0.06)
    assert figure.counts == 10


def test_hours_of_one_worker_say_nothing_of_anothers():
    terms = tuple(Term(str(day), "lam", float(day), "B", "minutes", 60.0) for day in range(1, 6))
    state = fit(History(TRADE, terms, hours=(Hours(1.0, 5.0, "A", 900.0),))).state
    assert state.figure(WORK).used == pytest.approx(1.15, rel=1e-6)


def test_a_second_worker_is_told_from_the_first():
    """B takes 1.25 times as long as A; both log."""
    rng = np.random.default_rng(8)
    terms, logs = [], []
    for job in range(60):
        worker = "AB"[job % 2]
        use = 60.0 * 1.3 * (1.25 if worker == "B" else 1.0) * math.exp(rng.normal(0, 0.2))
        terms.append(Term(str(job), "lam", job / 10, worker, "minutes", 60.0))
        logs.append(Log(str(job), "lam", "minutes", float(round(use))))
    state = fit(History(TRADE, tuple(terms), tuple(logs))).state
    assert state.layout.base_worker == "A"
    shift = state.x[state.layout.index["worker", "B", "labour"]]
    assert math.exp(shift) == pytest.approx(1.25, rel=0.1)
    assert state.figure(WORK).used == pytest.approx(1.3, rel=0.07)


def test_a_step_done_again_empties_the_shelf_too():
    """The count says 1 560 g for six steps of 100 g × 1.3 and six done again: no reason to think of a larger factor."""
    terms = [Term(str(job), "lam", job + 1.0, "A", "resin", 100.0, again=again) for job in range(6) for again in (0, 1)]
    counts = (ShelfCount(0.0, "resin", 5000.0), ShelfCount(14.0, "resin", 5000.0 - 1560.0 * 1.03))
    figure = fit(History(TRADE, tuple(terms), (), (), counts)).state.figure(LAM)
    assert figure.used == pytest.approx(1.3, rel=0.03)


def test_an_empty_shelf_counted_twice_harms_nothing():
    """Nothing there, nothing came, no step of the scale known: no figure moves and none is lost."""
    trade = Trade({"glue": HistoryMaterial("glue", "g", 0.1)}, {Cell("stick", "glue"): Range(1.2, 1.0, 1.5)})
    empty = History(trade, counts=(ShelfCount(0.0, "glue", 0.0), ShelfCount(14.0, "glue", 0.0)))
    with np.errstate(all="raise"):
        found = fit(empty)
    assert found.state.figure(Cell("stick", "glue")).used == pytest.approx(1.2, rel=1e-12)
    assert found.span_z.tolist() == [0.0]


def test_going_from_span_to_span_is_the_matrix_solve():
    """Readings between two spans are common to both, with opposite signs.

    A span without weight parts its neighbours.
    """
    rows = fit(counted(1.3)).spans
    n, rng = len(rows.used), np.random.default_rng(2)
    found = Balance(rng.normal(size=n), rng.uniform(1, 4, n) * rows.closing_error, rng.normal(size=(n, 3)))
    weight = rng.uniform(0.3, 1.0, n)
    weight[3] = 0.0
    whole = np.diag(rows.opening_error + rows.closing_error)
    for at in range(1, n):
        whole[at - 1, at] = whole[at, at - 1] = -rows.closing_error[at - 1]
    kept = weight > 0
    whole = whole[kept][:, kept] + np.diag((found.variance / np.maximum(weight, 1e-300))[kept])
    slope, left = found.slope[kept], found.left[kept]
    precision, gradient = solved(rows, found, weight)
    assert precision == pytest.approx(slope.T @ np.linalg.solve(whole, slope), rel=1e-10)
    assert gradient == pytest.approx(slope.T @ np.linalg.solve(whole, left), rel=1e-10)
