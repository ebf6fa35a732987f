"""Work done twice has a rate and a cost of its own; and the tool asks for the log that teaches most."""

from __future__ import annotations

import math

import pytest

from quotes.costing.learning.backtest import ActualUse, backtest_jobs, forecast_error, summary
from quotes.costing.learning.forecast import forecast
from quotes.costing.learning.history import Cell, History, HistoryMaterial, Log, Range, Term, Trade
from quotes.costing.learning.model.fit import fit
from quotes.costing.learning.model.state import untaught
from quotes.costing.learning.questions import questions
from quotes.costing.learning.rework import rework_rates
from quotes.costing.stats.normal import LogNormal
from tests.learning.simulator import HOURLY, TRADE, Plan, make

SHOP = Trade(
    {"foam": HistoryMaterial("foam", "g", 0.05, log_step=1), "resin": HistoryMaterial("resin", "g", 0.02, log_step=1)},
    {
        Cell("pour", "foam"): Range(1.4, 1.1, 1.9),
        Cell("pour", "minutes"): Range(1.1, 0.75, 1.6),
        Cell("lam", "resin"): Range(1.4, 1.1, 1.9),
        Cell("sand", "minutes"): Range(1.2, 0.8, 1.8),
    },
)


def pours(done: int, redone: int) -> tuple[list[Term], list[Log]]:
    terms = [Term(str(job), "pour", float(job), "A", "foam", 40.0) for job in range(done)]
    terms += [Term(str(job), "lam", float(job), "A", "resin", 40.0) for job in range(done)]
    logs = []
    for job in range(redone):
        terms.append(Term(str(job), "pour", float(job), "A", "foam", 40.0, again=True))
        terms.append(Term(str(job), "pour", float(job), "A", "minutes", 20.0, again=True))
        logs.append(Log(str(job), "pour", "foam", 60.0, again=True))
    return terms, logs


def test_one_in_fourteen_pours_is_done_again_at_its_own_cost():
    """2 of 28; each 60 g of foam at 0.05 and 20 min at 45 an hour = 3 + 15 = 18.00."""
    found = rework_rates(*pours(28, 2), SHOP, 45.0)["pour"]
    assert (found.done, found.redone) == (28, 2)
    assert found.cost == pytest.approx(18.0)


def test_the_rate_leans_on_the_shops_own_rate_over_everything():
    """2 of 56 over all, which leans on 20 steps done well: 2/76; (2 + 20 × 2/76) / (28 + 20)."""
    found = rework_rates(*pours(28, 2), SHOP, 45.0)
    assert found["pour"].rate == pytest.approx((2 + 20 * 2 / 76) / 48)
    assert found["lam"].rate == pytest.approx((20 * 2 / 76) / 48)
    assert found["pour"].carried == found["pour"].rate
    assert found["lam"].carried == 0.0


def test_once_of_once_is_not_every_time():
    """1 of 2 over all leans on 20.

    1/22; (1 + 20/22) / (1 + 20) = 1 in 11, and nothing for what never was done again.
    """
    found = rework_rates(*pours(1, 1), SHOP, 45.0)
    assert found["pour"].carried == pytest.approx((1 + 20 / 22) / 21)
    assert found["lam"].rate > 0
    assert found["lam"].carried == 0.0


def test_where_nothing_was_done_again_a_price_carries_nothing():
    found = rework_rates(*pours(5, 0), SHOP, 45.0)["pour"]
    assert (found.done, found.redone, found.rate, found.carried, found.cost) == (5, 0, 0.0, 0.0, 0.0)


def sandings(jobs: int, each: int, redone: int) -> list[Term]:
    """So many jobs of so many sand steps each; the first sanding of the first `redone` steps was done again."""
    steps = [(str(job), f"{job}.{number}") for job in range(jobs) for number in range(each)]
    terms = [Term(job, "sand", 0.0, "A", "minutes", 15.0, step=step) for job, step in steps]
    return terms + [
        Term(job, "sand", 1.0, "A", "minutes", 15.0, again=True, step=f"{step} again") for job, step in steps[:redone]
    ]


def test_steps_are_counted_where_an_operation_stands_several_times_in_a_recipe():
    """20 jobs of 6 sand steps, the first of each done again: 20 of 120; 20/140 over all; (20 + 20 × 20/140) / 140."""
    found = rework_rates(sandings(20, 6, 0) + sandings(120, 1, 20)[120:], (), SHOP, 45.0)["sand"]
    assert (found.done, found.redone) == (120, 20)
    assert found.carried == pytest.approx((20 + 20 * 20 / 140) / 140) == pytest.approx(0.163, abs=0.001)
    assert found.cost == pytest.approx(15.0 * 45 / 60)
    for jobs, each in ((120, 1), (60, 2), (20, 6)):  # however the steps lie in jobs
        alike = rework_rates(sandings(jobs, each, 20), (), SHOP, 45.0)["sand"]
        assert (alike.done, alike.redone, alike.rate) == (found.done, found.redone, found.rate)


def test_what_a_price_carries_over_many_steps_is_what_was_spent_on_doing_them_again():
    """With so many steps that nothing is leant on: rate × cost of all steps is the cost of those done again."""
    terms = sandings(2000, 6, 2000)
    found = rework_rates(terms, (), SHOP, 45.0)["sand"]
    spent = sum(term.need * 0.75 for term in terms if term.again)
    assert found.carried * sum(term.need * 0.75 for term in terms if not term.again) == pytest.approx(spent, rel=0.01)


def test_one_log_of_several_steps_done_again_is_counted_once():
    """Two sandings of one job done again in 50 minutes altogether: 25 each, 18.75 at 45 an hour."""
    found = rework_rates(sandings(1, 6, 2), [Log("0", "sand", "minutes", 50.0, again=True)], SHOP, 45.0)["sand"]
    assert (found.done, found.redone) == (6, 2)
    assert found.cost == pytest.approx(25.0 * 0.75)


def test_what_the_customer_pays_for_is_left_out_step_by_step():
    terms = sandings(1, 6, 2)
    found = rework_rates(terms, (), SHOP, 45.0, charged={"0.0 again"})["sand"]
    assert (found.done, found.redone) == (6, 1)


@pytest.mark.parametrize("comebacks", [1, 3])
def test_what_was_only_ever_done_on_a_comeback_was_done_before(comebacks: int):
    """n of n, not n of 0: n/(n + 20) over all; (n + 20 n/(n + 20)) / (n + 20). Beside 100 steps done well far less."""
    terms = [Term(str(job), "pour", 0.0, "A", "minutes", 20.0, again=True, step=str(job)) for job in range(comebacks)]
    alone = rework_rates(terms, (), SHOP, 45.0)["pour"]
    trusted = comebacks + 20
    assert (alone.done, alone.redone) == (comebacks, comebacks)
    assert alone.carried == pytest.approx((comebacks + 20 * comebacks / trusted) / trusted)
    beside = rework_rates(terms + sandings(100, 1, 0), (), SHOP, 45.0)["pour"]
    assert (beside.done, beside.redone) == (comebacks, comebacks)
    assert beside.carried < alone.carried < 0.25


OPEN = [
    Term("9", "pour", 0.0, "A", "foam", 40.0),
    Term("9", "pour", 0.0, "A", "minutes", 20.0),
    Term("9", "sand", 0.0, "A", "minutes", 60.0),
]


def test_minutes_are_asked_for_before_grams():
    asked = questions(untaught(SHOP), SHOP, OPEN, OPEN, 45.0)
    named = [(question.term.operation, question.term.material) for question in asked]
    assert named == [("sand", "minutes"), ("pour", "minutes"), ("pour", "foam")]


def test_the_promised_narrowing_is_what_a_log_brings():
    """An ordinary log of the first question narrows the cost of the usual jobs as foretold, within a tenth of it."""
    state = untaught(SHOP)
    best = questions(state, SHOP, OPEN, OPEN, 45.0)[0]
    by_hand = math.sqrt(
        sum(
            (price * need * mid) ** 2 * (1.15 * math.log(high / low) / (2 * 1.6448536269514722)) ** 2
            for price, need, (mid, low, high) in (
                (0.05, 40.0, (1.4, 1.1, 1.9)), (0.75, 20.0, (1.1, 0.75, 1.6)), (0.75, 60.0, (1.2, 0.8, 1.8)),
            )
        )
    )  # fmt: skip
    assert best.now == pytest.approx(by_hand, rel=1e-9)
    after = fit(History(SHOP, (best.term,), (Log(best.term.job, "sand", "minutes", 72.0),))).state
    then = questions(after, SHOP, OPEN, OPEN, 45.0)[0].now
    assert best.now - then == pytest.approx(best.narrowing, rel=0.1)


def test_what_is_known_well_is_not_asked_again():
    terms = [Term(str(job), "sand", 0.0, "A", "minutes", 60.0) for job in range(60)]
    logs = [Log(str(job), "sand", "minutes", 70.0 + job % 7) for job in range(60)]
    state = fit(History(SHOP, tuple(terms), tuple(logs))).state
    assert questions(state, SHOP, OPEN, OPEN, 45.0)[0].term.operation == "pour"


def test_nothing_open_is_no_question():
    assert questions(untaught(SHOP), SHOP, [], OPEN, 45.0) == []


def test_looking_back_uses_nothing_that_came_later():
    """Cutting the history at a job's first day changes nothing of how it was foretold."""
    shop = make(51, Plan(jobs=12, logged=1.0, count_every=7.0))
    jobs = list(dict.fromkeys(term.job for term in shop.history.terms))
    real = {job: ActualUse(20.0, 120.0) for job in jobs}
    looked = backtest_jobs(shop.history, real, HOURLY)
    assert [one.job for one in looked] == jobs
    assert looked[0].learned.total == looked[0].trade.total
    eighth = [term for term in shop.history.terms if term.job == jobs[7]]
    known = fit(shop.history.before(min(term.day for term in eighth))).state
    assert looked[7].learned == forecast(known, TRADE, eighth, HOURLY)


def test_material_is_foretold_of_what_was_written_down_and_the_total_of_everything():
    shop = make(51, Plan(jobs=3, logged=1.0, count_every=7.0))
    jobs = list(dict.fromkeys(term.job for term in shop.history.terms))
    last = [term for term in shop.history.terms if term.job == jobs[2]]
    cell = next(Cell(term.operation, term.material) for term in last if term.material != "minutes")
    part = [term for term in last if (term.operation, term.material) == cell]
    assert len(part) < len(last)
    real = {job: ActualUse(5.0, 120.0, stock=20.0, written=frozenset({cell})) for job in jobs}
    looked = backtest_jobs(shop.history, real, HOURLY)[2]
    known = fit(shop.history.before(min(term.day for term in last))).state
    assert looked.learned.material_cost == forecast(known, TRADE, part, HOURLY).material_cost
    assert looked.learned.total == forecast(known, TRADE, last, HOURLY).total
    assert looked.real.total(HOURLY) == 20.0 + 2 * HOURLY
    nothing = {jobs[2]: ActualUse(0.0, 120.0, stock=20.0, written=frozenset())}
    assert backtest_jobs(shop.history, nothing, HOURLY)[0].learned.material_cost.mean == 0
    assert summary(backtest_jobs(shop.history, nothing, HOURLY), HOURLY).material_cost.jobs == 0


def test_what_learning_was_worth_is_said_in_money():
    """Truth 100 twice; foretold 100 and 90 where the trade said 120 and 120: errors 0 + 10 against 20 + 20."""

    def around(median: float) -> LogNormal:
        return LogNormal(
            median * math.exp(0.5 * 0.1**2), median * math.exp(0.5 * 0.1**2) * math.sqrt(math.expm1(0.1**2))
        )

    found = forecast_error([around(100.0), around(90.0)], [around(120.0), around(120.0)], [100.0, 100.0])
    assert (found.error, found.trade_error) == pytest.approx((0.05, 0.2))
    assert (found.within_50, found.within_80, found.within_95) == (0.5, 1.0, 1.0)


def test_over_a_shop_learning_is_worth_something():
    shop = make(52, Plan(jobs=30, logged=1.0, count_every=14.0, wrong_trade=2.0))
    real = {job: ActualUse(*took) for job, took in shop.past.items()}
    found = summary(backtest_jobs(shop.history, real, HOURLY), HOURLY)
    assert found is not None
    assert found.total.jobs == 30
    assert summary([], HOURLY) is None
    assert found.worth > 0
