"""Setting up and working by size are two things: what a shop's jobs taught of the one is not laid on the other.

A shop is made up on the house's own recipes: its minutes are what the recipe's steps take by the trade, set-up and rest
each times the shop's own, with the scatter of a real bench. What is foretold is held against those very minutes.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest

from quotes.costing import CONSTANTS
from quotes.costing.learning.files.csv_rows import Unreadable
from quotes.costing.learning.files.export import write_history, write_terms
from quotes.costing.learning.files.interchange import read_all
from quotes.costing.learning.forecast import forecast
from quotes.costing.learning.history import Cell, History, Log, Range, Term, Trade
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.layout import PACE, SET_UP
from quotes.costing.learning.model.state import State, untaught
from quotes.costing.stats.assumptions import MINUTES, USUAL
from tests.costing.test_whole_jobs import BOX, FIN, PLUG, SNAP, ding, job

GLOSS = ("re-gloss", {"board_length": 1880, "board_width": 480})
MIXED = (("fin-box", BOX), ("leash-plug", PLUG), ("glass-on-fin", FIN), ("snap", SNAP), GLOSS,
         ("ding-deck-small", ding(40, 30, 8)), ("ding-deck-medium", ding(150, 100, 15)))  # fmt: skip
Job = tuple[str, dict[str, float]]


def fins(number: int) -> Job:
    """One of the fin jobs: one to three fins of all sizes."""
    size = 0.7 + 0.06 * (number * 7 % 15)
    fin = {name: FIN[name] * size for name in ("fin_base", "fin_height", "fin_tip")}
    return "glass-on-fin", {**FIN, **fin, "fins": 1 + number % 3}


def alike(number: int) -> Job:
    return "fin-box", BOX


def steps(name: str, asked: Job, *, apart: bool = True) -> list[Term]:
    """The minutes of a job's steps by the trade; with their set-ups told `apart`."""
    found = job(*asked)
    return [
        Term(name, step.operation, float(name), "1", MINUTES, step.standard_minutes, step=str(step.index),
             set_up=step.set_up if apart else 0.0)
        for step in found.steps if step.standard_minutes
    ]  # fmt: skip


def trade(*, apart: bool = True) -> Trade:
    """Every operation's minutes as the trade knows them."""
    by_cell = {}
    for asked in (*MIXED, fins(0)):
        for step in job(*asked).steps:
            usual = CONSTANTS[step.work.time_factor.name]
            by_cell[Cell(step.operation, MINUTES)] = Range(usual.value, usual.low, usual.high)
    return Trade({}, by_cell, set_ups=apart)


def truth(terms: list[Term], set_up: float, rate: float) -> float:
    return sum(rate * (term.need - term.set_up) + set_up * term.set_up for term in terms)


def history(jobs: int, kind: Callable[[int], Job], set_up: float, rate: float, *, scatter: float = 0.0,
            apart: bool = True, seed: int = 1) -> History:  # fmt: skip
    """A shop's finished jobs, all timed; one log for all of an operation in a job."""
    rng = np.random.default_rng(seed)
    terms, logs = [], []
    for number in range(jobs):
        told = steps(str(number), kind(number))
        for operation in dict.fromkeys(term.operation for term in told):
            took = truth([term for term in told if term.operation == operation], set_up, rate)
            logs.append(Log(str(number), operation, MINUTES, took * math.exp(rng.normal(0, scatter))))
        terms += told if apart else [term._replace(set_up=0.0) for term in told]
    return History(trade(apart=apart), tuple(terms), tuple(logs))


def off(state: State, asked: Job, set_up: float, rate: float, *, apart: bool = True) -> float:
    """The forecast's middle over what such a job really takes there, less one."""
    known = forecast(state, trade(apart=apart), steps("99", asked, apart=apart), 45.0)
    return known.minutes.quantile(0.5) / truth(steps("99", asked), set_up, rate) - 1.0


@pytest.mark.parametrize("seed", range(1, 7))
def test_fin_jobs_of_a_shop_slow_at_setting_up_foretell_a_gloss_coat(seed):
    """Set-up 1.75 times the trade's, rate 1.0 times: a single factor on minutes lays the one on the other."""
    known = fit(history(15, fins, 1.75, 1.0, scatter=0.24, seed=seed)).state
    assert abs(off(known, GLOSS, 1.75, 1.0)) <= 0.10
    assert abs(off(known, fins(4), 1.75, 1.0)) <= 0.10


def test_one_factor_on_all_minutes_would_lay_the_set_ups_on_the_deck():
    """So much is at stake: an operation's factor alone misses by more, one of all fin jobs' minutes by far more."""
    known = fit(history(15, alike, 1.75, 1.0)).state
    single = fit(history(15, alike, 1.75, 1.0, apart=False)).state
    box, deck = steps("1", alike(1)), steps("1", GLOSS)
    one = truth(box, 1.75, 1.0) / truth(box, 1.0, 1.0)
    assert one * truth(deck, 1.0, 1.0) / truth(deck, 1.75, 1.0) - 1.0 > 0.15
    assert off(single, GLOSS, 1.75, 1.0, apart=False) > 0.10
    assert abs(off(known, GLOSS, 1.75, 1.0)) < 0.06


def test_nothing_known_is_the_trade_to_the_last_digit():
    nothing, before = untaught(trade()), untaught(trade(apart=False))
    for cell, usual in trade().factors.items():
        shown, was = nothing.figure(cell), before.figure(cell)
        assert shown.used == was.used == usual.mid
        assert (shown.low, shown.high) == (pytest.approx(was.low), pytest.approx(was.high))
    for asked in (GLOSS, fins(3), alike(1)):
        assert off(nothing, asked, 1.0, 1.0) == pytest.approx(off(before, asked, 1.0, 1.0, apart=False), abs=0.02)


def test_terms_that_tell_no_set_ups_are_learned_as_if_there_were_none():
    plain = history(6, fins, 1.3, 1.2, scatter=0.2, apart=False)
    assert PACE not in fit(plain).state.layout.index
    assert SET_UP not in fit(plain).state.layout.index


def test_a_shop_slower_at_everything_is_slower_at_everything():
    """All minutes 1.4 times the trade's: what one factor makes of like jobs stays, and holds for unlike ones too."""
    known = fit(history(15, fins, 1.4, 1.4)).state
    single = fit(history(15, fins, 1.4, 1.4, apart=False)).state
    assert off(known, fins(4), 1.4, 1.4) == pytest.approx(off(single, fins(4), 1.4, 1.4, apart=False), abs=0.01)
    assert abs(off(known, GLOSS, 1.4, 1.4)) < 0.03
    assert math.exp(known.x[known.layout.index[SET_UP]]) == pytest.approx(1.0, abs=0.1)


@pytest.mark.parametrize(("set_up", "rate"), [(1.75, 1.0), (1.0, 1.4), (1.4, 1.4)])
def test_where_jobs_are_all_alike_like_ones_are_right_and_unlike_ones_between(set_up, rate):
    """Nothing tells set-up and rate apart within one operation: the deck lies between all blamed on one or other."""
    known = fit(history(15, alike, set_up, rate)).state
    assert abs(off(known, alike(1), set_up, rate)) < 0.02
    box, deck = steps("1", alike(1)), steps("99", GLOSS)
    more = truth(box, set_up, rate) - truth(box, 1.0, 1.0)
    all_set_up = truth(deck, 1.0 + more / sum(term.set_up for term in box), 1.0)
    all_rate = truth(deck, 1.0, 1.0 + more / sum(term.need - term.set_up for term in box))
    assert all_set_up < forecast(known, trade(), deck, 45.0).minutes.quantile(0.5) < all_rate


def test_unlike_jobs_are_foretold_with_a_wider_range_than_where_all_sizes_were_met():
    def width(kind: Callable[[int], Job]) -> float:
        known = fit(history(14, kind, 1.4, 1.4, scatter=0.2)).state
        unscattered, surely = replace(known, spread=0.0 * known.spread), replace(USUAL, difficulty_labour=0.0)
        return forecast(unscattered, trade(), steps("99", GLOSS), 45.0, surely).minutes.log_sd

    assert width(alike) > 1.3 * width(lambda number: MIXED[number % len(MIXED)])


def errors(seed: int, jobs: int) -> Iterator[tuple[float, float]]:
    """Of a shop drawn anew, by asked job: how far off what was learned is, and the trade."""
    rng = np.random.default_rng(seed)
    set_up, rate = math.exp(rng.normal(0, 0.35)), math.exp(rng.normal(0, 0.15))
    order = rng.integers(0, len(MIXED), size=jobs)
    known = fit(history(jobs, lambda number: MIXED[order[number]], set_up, rate, scatter=0.24, seed=seed)).state
    for asked in MIXED:
        yield abs(off(known, asked, set_up, rate)), abs(off(untaught(trade()), asked, set_up, rate))


@pytest.mark.parametrize("jobs", [1, 4, 15])
def test_over_many_shops_it_is_never_worse_than_the_trade(jobs):
    learned, by_trade = np.array([list(errors(seed, jobs)) for seed in range(16)]).mean(axis=1).T
    gap = learned - by_trade
    assert gap.mean() + 2.0 * gap.std(ddof=1) / math.sqrt(len(gap)) < 0.0


def test_a_shop_that_is_as_the_trade_says_learns_no_more_than_its_scatter():
    learned = [abs(off(fit(history(15, fins, 1.0, 1.0, scatter=0.24, seed=seed)).state, GLOSS, 1.0, 1.0))
               for seed in range(8)]  # fmt: skip
    assert max(learned) < 0.08


def test_what_is_learned_of_set_ups_is_read_back_as_it_was_kept():
    known = fit(history(8, fins, 1.75, 1.0, scatter=0.1)).state
    again = State.from_dict(known.as_dict())
    assert again.digest() == known.digest()
    assert again.x[again.layout.index[SET_UP]] == known.x[known.layout.index[SET_UP]] > 0


def test_what_is_shown_is_the_factor_of_minutes_with_as_much_set_up_as_the_logs_had():
    known = fit(history(15, alike, 1.75, 1.0)).state
    coat = next(term for term in steps("1", alike(1)) if term.operation == "hot-coat")
    shown = known.figure(Cell("hot-coat", MINUTES))
    assert shown.own == pytest.approx(1.0 + 0.75 * coat.set_up / coat.need, rel=0.02)
    assert shown.used == pytest.approx(shown.own, rel=0.03)


def test_the_neutral_form_carries_set_ups_in_a_column_that_may_be_missing():
    found = history(3, fins, 1.5, 1.0)
    texts = write_history(found)
    assert texts["terms.csv"].splitlines()[0].endswith(",brand,set_up")
    again, asked = read_all(texts, write_terms(steps("9", GLOSS), set_ups=True))
    assert again.trade == found.trade
    assert fit(again).state.x == pytest.approx(fit(found).state.x, abs=1e-9)
    assert math.fsum(term.set_up for term in asked) == pytest.approx(math.fsum(x.set_up for x in steps("9", GLOSS)))
    plain = write_history(history(3, fins, 1.5, 1.0, apart=False))
    assert plain["terms.csv"].splitlines()[0].endswith(",brand")
    assert not read_all(plain, write_terms(steps("9", GLOSS)))[0].trade.set_ups


def test_more_set_up_than_need_is_refused_in_a_sentence():
    texts = write_history(history(1, fins, 1.5, 1.0))
    head, first, *rest = texts["terms.csv"].splitlines()
    texts["terms.csv"] = "\n".join([head, first.rpartition(",")[0] + ",999", *rest])
    with pytest.raises(Unreadable, match=r"terms.csv, line 2, set_up: must be no more than the whole need of 6; 999"):
        read_all(texts, write_terms([]))
