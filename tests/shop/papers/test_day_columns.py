"""Columns of hours: as high as the day is open, and what does not fit stands as high as it is."""

from __future__ import annotations

import pytest

from shop.papers.day_columns import FOOT, TOP, WIDTH, DayHours, day_columns
from shop.text.formats import in_ten

WED = ("Wed", "25")


def test_the_three_boxes_of_a_day_stand_on_each_other():
    (day,) = day_columns([DayHours(WED, 8.0, 6.0, 4.0)]).columns
    per_hour = (FOOT - TOP) / 8
    assert float(day.planned) == pytest.approx(4 * per_hour)
    assert float(day.free) == pytest.approx(2 * per_hour)
    assert float(day.elsewhere) == pytest.approx(2 * per_hour)
    assert float(day.planned_y) + float(day.planned) == pytest.approx(FOOT)
    assert float(day.free_y) + float(day.free) == pytest.approx(float(day.planned_y))
    assert float(day.elsewhere_y) == pytest.approx(TOP)
    assert day.above == "2.0"


def test_more_planned_than_hands_are_there_leaves_nothing_free():
    (day,) = day_columns([DayHours(WED, 8.0, 6.0, 9.0)]).columns
    assert (float(day.free), float(day.elsewhere), day.above) == (0, 0, "0.0")
    assert float(day.planned_y) == pytest.approx(TOP)


def test_a_day_with_a_note_has_no_figure():
    (day,) = day_columns([DayHours(WED, 0.0, 0.0, 0.0, "closed")]).columns
    assert (day.note, day.above) == ("closed", "")


@pytest.mark.parametrize("hours", [0.0, 0.5, 7.6, 24.0, 90.0, 400.0])
def test_nothing_lies_beyond_the_picture_and_lines_are_few(hours):
    drawn = day_columns([DayHours(WED, hours, hours, 0.0)] * 7)
    assert 2 <= len(drawn.ticks) <= 6
    assert drawn.ticks[0] == (f"{FOOT:.1f}", "0 h")
    assert all(TOP - 0.1 <= float(tick.at) <= FOOT for tick in drawn.ticks)
    assert all(0 <= float(day.x) <= WIDTH - float(drawn.width) for day in drawn.columns)
    assert all(float(day.above_y) > 10 for day in drawn.columns)


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        (0.0, "less than 1 in 10"), (0.04, "less than 1 in 10"), (0.05, "1 in 10"), (0.49, "4 in 10"), (0.5, "even"), (0.55, "6 in 10"),
        (0.74, "7 in 10"), (0.75, "8 in 10"), (0.86, "9 in 10"), (0.94, "9 in 10"), (0.95, "more than 9 in 10"),
        (1.0, "more than 9 in 10"),
    ],
)  # fmt: skip
def test_a_chance_is_said_in_tenths_and_never_as_certain(chance, words):
    assert in_ten(chance) == words
