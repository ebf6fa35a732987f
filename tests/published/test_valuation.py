"""Stock valuation against an accounting textbook, and the invariant its rounding breaks.

OpenStax, Principles of Accounting, Volume 1: Financial Accounting, section 10.3, Calculate the cost of goods sold and
ending inventory using the perpetual method; figures only. Where the book rounds the unit average to the cent and is a
dollar out, the exact figure is ours, by hand.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from decimal import Decimal

import pytest

from inventory.stock.valuation import Method, ShelfLot, issue_from_lots

D = Decimal
ZERO = D(0)


@dataclass
class Shelf:
    """Buys and sells in order of time, adding up what was bought and what was sold at cost."""

    method: Method
    lots: list[ShelfLot] = field(default_factory=list)
    bought: Decimal = ZERO
    sold: Decimal = ZERO

    def buy(self, quantity: int, unit_cost: int) -> None:
        number = len(self.lots)
        cost = D(quantity * unit_cost)
        self.lots.append(ShelfLot(number, D(quantity), cost, None, date(2026, 7, 1) + timedelta(days=number), number))
        self.bought += cost

    def sell(self, quantity: int) -> Decimal:
        issue = issue_from_lots(self.lots, D(quantity), method=self.method)
        left = {part.lot_id: part for part in issue.left}
        self.lots = [
            lot._replace(quantity=left[lot.lot_id].quantity, value=left[lot.lot_id].value) for lot in self.lots
        ]
        self.sold += issue.value
        return issue.value

    @property
    def quantity(self) -> Decimal:
        return sum((lot.quantity for lot in self.lots), ZERO)

    @property
    def value(self) -> Decimal:
        return sum((lot.value for lot in self.lots), ZERO)


def shop_of_the_section(method: Method) -> Shelf:
    """The section's own data: opening 150 at 21, sell 120, buy 225 at 27, sell 180, buy 210 at 33."""
    shelf = Shelf(method)
    shelf.buy(150, 21)
    shelf.sell(120)
    shelf.buy(225, 27)
    shelf.sell(180)
    shelf.buy(210, 33)
    return shelf


def test_first_in_first_out_gives_the_books_cost_of_goods_sold_and_ending_inventory():
    shelf = shop_of_the_section("fifo")
    assert (shelf.sold, shelf.value, shelf.quantity) == (7200, 8955, 285)
    assert 11_340 - shelf.sold == 4140  # gross margin


def test_first_in_first_out_takes_each_sale_from_the_layers_the_book_shows():
    shelf = Shelf("fifo")
    shelf.buy(150, 21)
    assert shelf.sell(120) == 2520
    shelf.buy(225, 27)
    assert shelf.sell(180) == 630 + 4050


def test_the_moving_average_gives_the_books_figures_to_its_dollar_and_the_exact_ones_to_ours():
    shelf = shop_of_the_section("average")
    assert round(shelf.sold) == 7253
    assert round(shelf.value) == 8902
    assert shelf.sold == D("7252.9412")  # 2520 + 180 × 6705 / 255
    assert shelf.value == D("8902.0588")
    assert shelf.value / shelf.quantity == pytest.approx(D("31.235294"), abs=D("0.000001"))


def test_nothing_is_a_dollar_out_as_it_is_when_the_unit_average_is_rounded_first():
    """With the printed 26.29 the second sale is 4732.20, and cost and closing come to 7252.20 and 8902.80."""
    for method in ("fifo", "average"):
        shelf = shop_of_the_section(method)
        assert shelf.sold + shelf.value == shelf.bought == 16_155
    shelf = Shelf("average")
    shelf.buy(150, 21)
    shelf.sell(120)
    shelf.buy(225, 27)
    assert shelf.sell(180) == D("4732.9412")


@pytest.mark.parametrize(("method", "sold", "left"), [("fifo", "37500", "33700"), ("average", "38142.86", "33057.14")])
def test_two_purchases_then_two_sales(method, sold, left):
    """An exercise of section 10.3: 800 at 50, 600 at 52, sell 400 and 350; answers ours, unit 71 200 / 1400."""
    shelf = Shelf(method)
    shelf.buy(800, 50)
    shelf.buy(600, 52)
    shelf.sell(400)
    shelf.sell(350)
    assert (round(shelf.sold, 2), round(shelf.value, 2)) == (D(sold), D(left))
    assert shelf.quantity == 650


@pytest.mark.parametrize(
    ("method", "sold", "left"), [("fifo", "96260.00", "25300.00"), ("average", "96827.33", "24732.67")]
)
def test_three_purchases_between_three_sales(method, sold, left):
    """An exercise of section 10.3: buy 240 at 100, 520 at 103, 400 at 110, sell after each; answers ours."""
    shelf = Shelf(method)
    for quantity, unit_cost, sale in ((240, 100, 160), (520, 103, 400), (400, 110, 370)):
        shelf.buy(quantity, unit_cost)
        shelf.sell(sale)
    assert (round(shelf.sold, 2), round(shelf.value, 2)) == (D(sold), D(left))
    assert shelf.sold + shelf.value == 121_560
