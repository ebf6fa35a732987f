"""Order sizes and reorder points against worked examples of others; which source stands beside each.

Normal quantiles: scipy.stats. Where a source prints z to two decimals, its own z is handed in.
"""

from __future__ import annotations

import math

import pytest
from scipy.stats import norm

from inventory.buying.ordering import economic_order, reorder_point, safety_stock, service_factor, whole_packs


def yearly_cost(quantity: float, per_year: float, order_cost: float, holding: float) -> float:
    """What ordering `quantity` each time costs in a year, goods apart: D/Q orders, and Q/2 kept on average."""
    return order_cost * per_year / quantity + holding * quantity / 2


@pytest.mark.parametrize(
    ("per_year", "order_cost", "holding", "quantity", "cost"),
    [
        # Snyder and Shen, Fundamentals of Supply Chain Theory, example 3.1; figures as the library stockpyl prints them
        # in the documentation of its module eoq.
        (1300, 8, 0.225, 304.0467800264368, 68.41052550594829),
        # Hopp and Spearman, Factory Physics, the example of the economic order quantity (size); the cost is ours,
        # √(2DKh).
        (1000, 500, 35, 169.0309, 5916.08),
        # Documentation of the R package Inventorymodel, the example of its function EOQ: three agents.
        (500, 600, 9.6, 250.0000, 2400.000),
        (300, 600, 11, 180.9068, 1989.975),
        (400, 600, 10, 219.0890, 2190.890),
    ],
)
def test_the_cheapest_order_and_what_it_costs_in_a_year(per_year, order_cost, holding, quantity, cost):
    found = economic_order(per_year, order_cost, holding)
    assert found == pytest.approx(quantity, rel=1e-6)
    assert yearly_cost(found, per_year, order_cost, holding) == pytest.approx(cost, rel=1e-6)
    for other in (0.8, 0.99, 1.01, 1.3):  # and no other size is cheaper
        assert yearly_cost(found * other, per_year, order_cost, holding) > cost * (1 - 1e-6)


def test_reorder_point_of_an_examination():
    """A solved examination question in operations management (stuvia document 600393): 2400 a year, order 5, holding 4,
    deviation 4 a day, 7 days, 98 % (z 2.05): order 77, reserve 21.70, reorder at 68."""
    assert round(economic_order(2400, 5, 4)) == 77
    assert safety_stock(4, 7, 2.05) == pytest.approx(21.70, abs=0.005)
    point = reorder_point(2400 / 365, 4, 7, 2.05)
    assert point == pytest.approx(67.72, abs=0.01)
    assert math.ceil(point) == 68


def test_reorder_point_of_a_calculator():
    """Worked example on the reorder point page of Calculator Factory: 50 a day, deviation 12, 14 days, z 1.65."""
    assert round(safety_stock(12, 14, 1.65)) == 74
    assert round(reorder_point(50, 12, 14, 1.65)) == 774


@pytest.mark.parametrize(("percent", "printed"), [(90, 1.28), (95, 1.65), (98, 2.05), (99, 2.33)])
def test_service_levels_are_the_normal_quantiles_that_tables_print(percent, printed):
    """Printed z: as tables of the normal distribution in textbooks of operations management give them."""
    assert service_factor(percent) == pytest.approx(norm.ppf(percent / 100), abs=1e-9)
    assert service_factor(percent) == pytest.approx(printed, abs=0.006)


def test_an_order_in_packs_holds_at_least_the_order():
    # Rounding an order up to whole packs: common practice, no source.
    assert [whole_packs(q, 5000) for q in (0, 1, 4999, 5000, 5000.0000001, 5001)] == [0, 1, 1, 1, 1, 2]
