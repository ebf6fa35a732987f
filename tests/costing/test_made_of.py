"""A way's cost put together by material and by operation: every cent of it lies in one row of either."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from quotes.costing import STARTING_RECIPES, CoreDamage, estimate, estimate_board
from quotes.costing.learning.rework import ReworkRate
from quotes.costing.snapshot import Carried, Snapshot
from quotes.costing.why.buildup import AGAIN, HANDS, SHARED, WORKSHOP, by_material, by_operation
from tests.sample_shop import PU, SHOP, TWIN_KEELS

KEELS = estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, SHOP, board=PU).snapshot()


SOME = KEELS.lines[0]


def line(kind, operation, name, takes, cost, *, unit="g", need=None):
    return replace(
        SOME, kind=kind, operation=operation, name=name, step=1, cost_shown=Decimal(cost),
        need=takes if need is None else need, unit=unit, use=takes, expected=takes,
    )  # fmt: skip


def test_two_repairs_by_hand():
    """Worked by hand: 20 g and 30 g of resin for 0.40 and 0.60; 10 and 5 minutes for 3.00 and 1.50, 0.90 overheads."""
    first = [
        line("material", "laminate", "Resin", 20.0, "0.40", need=15.0),
        line("labour", "laminate", "Hands-on time: Laminate", 10.0, "3.00", unit="min"),
        line("overhead", "laminate", "Overhead: Laminate", 10.0, "0.60", unit="min"),
        line("consumable", "laminate", "Rag", 2.0, "0.50", unit="piece"),
    ]
    second = [
        line("material", "hot-coat", "Resin", 30.0, "0.60", need=25.0),
        line("labour", "laminate", "Hands-on time: Laminate again", 5.0, "1.50", unit="min"),
        line("overhead", "laminate", "Overhead: Laminate again", 5.0, "0.30", unit="min"),
    ]
    again = Carried(1, "sand", 0, 0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.07, Decimal("0.07"))
    snapshots = [Snapshot(lines=tuple(first), again=(again,)), Snapshot(lines=tuple(second))]
    materials = [(one.name, one.need, one.takes, one.unit, str(one.cost)) for one in by_material(snapshots)]
    assert materials == [
        ("Resin", 40.0, 50.0, "g", "1.00"), ("Rag", 2.0, 2.0, "piece", "0.50"),
        (HANDS, 15.0, 15.0, "min", "4.50"), (WORKSHOP, 15.0, 15.0, "min", "0.90"), (AGAIN, 0.0, 0.0, "", "0.07"),
    ]  # fmt: skip
    operations = [(one.name, one.minutes, str(one.used), str(one.cost)) for one in by_operation(snapshots)]
    assert operations == [
        ("Laminate", 15.0, "0.40", "5.80"), ("Hot coat", 0.0, "0.60", "0.60"), (SHARED, 0.0, "0.50", "0.50"),
        (AGAIN, 0.0, "0", "0.07"),
    ]  # fmt: skip


@pytest.mark.parametrize("again", [{}, {"sand": ReworkRate("sand", 40, 4, 0.1, 0.0)}])
def test_both_add_up_to_the_cost(again):
    made = estimate(STARTING_RECIPES["glass-on-twin"], TWIN_KEELS, replace(SHOP, again=again), board=PU).snapshot()
    for rows in (by_material([made]), by_operation([made])):
        assert sum(one.cost for one in rows) == Decimal(made.cost)
        assert bool(again) == (rows[-1].name == AGAIN)


def test_the_repairs_of_a_board_add_up_to_the_way():
    dent = {"length": 80, "width": 60, "depth": 4}
    recipe = STARTING_RECIPES["pressure-dent"]
    asked = [CoreDamage("a", "Dent", recipe, dent), CoreDamage("b", "Dent", recipe, dent)]
    made = estimate_board(asked, SHOP, board=PU)
    snapshots = [part.snapshot() for part in made.parts]
    whole = sum(Decimal(one.cost) for one in snapshots)
    for rows in (by_material(snapshots), by_operation(snapshots)):
        assert sum(one.cost for one in rows) == whole


def test_minutes_of_the_operations_are_those_of_the_job():
    minutes = sum(one.minutes for one in by_operation([KEELS]))
    assert minutes == pytest.approx(KEELS.expected_minutes)
    hands = next(one for one in by_material([KEELS]) if one.name == HANDS)
    assert hands.takes == pytest.approx(KEELS.expected_minutes)


def test_what_takes_most_stands_first():
    costs = [one.cost for one in by_material([KEELS]) if one.name not in (HANDS, WORKSHOP)]
    assert costs == sorted(costs, reverse=True)


def test_a_snapshot_of_before_has_no_expected_use_and_nothing_done_again():
    kept = {key: value for key, value in KEELS.to_json().items() if key != "again"}
    for one in kept["lines"]:
        del one["expected"]
    old = Snapshot.from_json(kept)
    assert old.again == ()
    name = next(one.name for one in KEELS.lines if one.material == "resin-lam")
    resin = next(one for one in by_material([old]) if one.name == name)
    used = [one.use for one in KEELS.lines if one.name == name]
    assert resin.takes == pytest.approx(sum(used))
