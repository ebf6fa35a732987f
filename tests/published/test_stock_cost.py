"""What stock costs and may stand at, against the standard's rules.

IAS 2 Inventories: paragraphs 10 and 11 (cost of purchase), 9 and 28 to 34 (net realisable value). The rules are the
standard's; the figures are ours, worked by hand.
"""

from __future__ import annotations

from decimal import Decimal as D

import pytest

from inventory.receiving.landed import landed
from inventory.stock.worth import net_realisable, write_down


def test_freight_and_duty_belong_to_the_cost_and_a_discount_lowers_it():
    # 5 kg of resin: 120.00, freight 15.00, duty that is not given back 5.00, discount 10.00, so 26.00 a kg
    [cost] = landed([D("120.00")], D("15.00") + D("5.00") - D("10.00"))
    assert cost == D("130.00")
    assert cost / 5 == D("26.00")


@pytest.mark.parametrize(("price", "realisable", "down"), [("22.00", "20.50", "0"), ("17.00", "15.50", "10.00")])
def test_goods_stand_at_the_lower_of_cost_and_what_they_still_bring_in(price, realisable, down):
    # 4 fins that cost 18.00 each; selling one costs 1.50
    assert net_realisable(D(price), D("1.50")) == D(realisable)
    assert write_down(D(4), D("18.00"), D(price), D("1.50")) == D(down)


def test_below_zero_is_refused():
    with pytest.raises(ValueError, match="zero or more"):
        write_down(D(4), D(18), D(-1), D(0))
