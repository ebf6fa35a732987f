"""Hours of a day as people write them."""

from __future__ import annotations

from datetime import time

import pytest

from shop.text.stretches import WrongStretch, in_order, read_stretches, said

MORNING, AFTERNOON = (time(9), time(13)), (time(14), time(18))


@pytest.mark.parametrize(
    "typed",
    [
        "9:00–13:00, 14:00–18:00",
        "9-13;14-18",
        "09:00 - 13:00 and 14:00 - 18:00",
        "9 to 13, 14 until 18",
        "9am–1pm, 2pm–6pm",
        "9.00–13.00\n14h00–18h",
        "  9 – 13 , 14 – 18 ,",
    ],
)
def test_hours_are_read_however_they_are_written(typed):
    assert read_stretches(typed) == [MORNING, AFTERNOON]


def test_nothing_typed_is_nobody_there():
    assert read_stretches("  ") == []
    assert said([]) == ""


def test_what_is_shown_is_read_again():
    assert read_stretches(said([MORNING, AFTERNOON])) == [MORNING, AFTERNOON]
    assert said([(time(9, 5), time(12, 30))]) == "9:05–12:30"


@pytest.mark.parametrize(
    ("typed", "sentence"),
    [
        ("mornings", "“mornings” is no stretch of the day; write from and to, like 9:00–13:00, 14:00–18:00."),
        ("9", "“9” is no stretch of the day"),
        ("9-13-18", "“9-13-18” is no stretch of the day"),
        ("x-13", "“x-13” is no stretch of the day"),
        ("9-25", "“25” is no time of the day; hours go from 0:00 to 23:59."),
        ("9:75-13", "“9:75” is no time of the day; minutes go from 00 to 59."),
        ("13pm-14", "“13pm” is no time of the day"),
        ("1-2,2-3,3-4,4-5,5-6,6-7,7-8", "at most 6 stretches a day"),
    ],
)
def test_what_cannot_be_hours_is_said(typed, sentence):
    with pytest.raises(WrongStretch) as problem:
        read_stretches(typed)
    assert str(problem.value).startswith(sentence)


def test_stretches_come_in_order_and_may_touch():
    assert in_order([AFTERNOON, MORNING, (time(13), time(14))]) == [MORNING, (time(13), time(14)), AFTERNOON]


def test_an_end_before_the_beginning_and_an_overlap_are_said():
    with pytest.raises(WrongStretch, match="13:00–9:00 ends before it begins"):
        in_order([(time(13), time(9))])
    with pytest.raises(WrongStretch, match="9:00–13:00 and 12:59–15:00 overlap"):
        in_order([(time(12, 59), time(15)), MORNING])
