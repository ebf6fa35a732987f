"""A difference at a count gets the likeliest reason, and an honest word where there is none."""

from __future__ import annotations

from datetime import date
from decimal import Decimal as D

import pytest

from inventory.counting.explaining import Holds, Moved, likeliest

DRUM = Holds(D(20000), "20 kg drum")


def came(quantity: str, day: int) -> Moved:
    return Moved(D(quantity), date(2026, 11, day), f"{quantity} g received on {day} Nov")


def went(quantity: str, day: int = 20) -> Moved:
    return Moved(-D(quantity), date(2026, 11, day), f"{quantity} g used on {day} Nov")


REASONS = [
    # (counted less expected, what moved, the likeliest)
    ("-20000", [came("20000", 3), came("20000", 5)], "20000 g received on 5 Nov may be entered twice."),
    ("-20000", [came("20000", 3)], "20000 g received on 3 Nov may not have come."),
    ("19950", [went("300")], "A delivery of 20 kg drum may not have been entered."),
    ("-20010", [], "A whole 20 kg drum may be used up or gone without an entry."),
    ("281", [went("280")], "280 g used on 20 Nov may be entered twice, or did not happen."),
    # 10 oz are 283.5 g; entered as 10 g, 273.5 g more are gone
    ("-273.5", [went("10")], "10 g used on 20 Nov: ounces may have been read as grams."),
    # 2 kg entered as 2 g: 1998 g more are gone
    ("-1998", [went("2")], "2 g used on 20 Nov: kilograms may have been read as grams."),
    # 20 g taken, entered as 20 oz = 567 g: 547 g more are there
    ("547", [went("566.99")], "566.99 g used on 20 Nov: grams may have been read as ounces."),
    ("-90", [went("5000")], "Within what weighing and cutting scatter over so much use."),
    ("-700", [went("5000")], "No single entry explains it; count it once more."),
    ("0", [went("5000")], ""),
]


@pytest.mark.parametrize(("difference", "moved", "words"), REASONS)
def test_the_likeliest_reason(difference, moved, words):
    assert likeliest(D(difference), "g", moved, [DRUM]) == words


@pytest.mark.parametrize(
    ("difference", "unit", "words"),
    [
        ("450", "piece", "The count may have a nought too many."),  # 500 for 50
        ("-45", "piece", "The count may lack a nought."),  # 5 for 50
        ("-48.24", "g", "The count may be in ounces, not in grams."),  # 50 g are 1.76 oz
        ("-49.95", "g", "The count may be in kilograms, not in grams."),
        ("30", "piece", "No single entry explains it; count it once more."),
    ],
)
def test_a_slip_of_the_count_itself(difference, unit, words):
    assert likeliest(D(difference), unit, [], [], D(50)) == words


def test_a_yard_read_as_a_metre():
    # 50 yd are 45.72 m; entered as 50 m, 4.28 m are missing
    roll = Moved(D(50), date(2026, 11, 1), "50 m received on 1 Nov")
    assert likeliest(D("-4.28"), "m", [roll]) == "50 m received on 1 Nov: yards may have been read as metres."
