"""Charts: figures where they belong, labels that keep apart, and nothing beyond the picture."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from shop.papers import charts


def test_doubling_is_as_long_as_halving():
    axis = charts.LogAxis.over([0.4, 2.5], 0, 360)
    assert axis.at(2) - axis.at(1) == pytest.approx(axis.at(1) - axis.at(0.5))
    assert 0 < axis.at(0.4) < axis.at(2.5) < 360


def test_a_figure_beyond_the_axis_lies_at_its_end():
    axis = charts.LogAxis.over([1.0], 10, 350)
    assert axis.at(100) == pytest.approx(350)
    assert axis.at(0.001) == pytest.approx(10)


@pytest.mark.parametrize("values", [[1.0], [0.2, 6.0], [0.01, 50.0], [0.9, 1.1]])
def test_labels_keep_apart_and_one_is_among_them(values):
    ticks = charts.LogAxis.over(values, 0, 360).ticks()
    places = [float(tick.at) for tick in ticks]
    assert "1" in [tick.label for tick in ticks]
    assert all(later - earlier >= 33.9 for earlier, later in pairwise(places))


def test_nothing_on_a_log_axis_is_zero():
    with pytest.raises(ValueError, match="above zero"):
        charts.LogAxis.over([1.0, 0.0], 0, 1)


def test_a_strip_knows_whether_its_point_lies_beyond():
    drawn = charts.strips([(0.8, 1.3, 1.0), (0.8, 1.3, 1.6), (0.9, 1.2, 0.5)])
    assert [strip.out for strip in drawn.strips] == [False, True, True]
    xs = [float(strip.x) for strip in drawn.strips]
    assert xs == sorted(xs)
    assert float(drawn.strips[1].y) < float(drawn.strips[0].y) < float(drawn.strips[2].y)  # dearer is higher


def test_bars_start_at_zero_also_below_it():
    drawn = charts.bars([("a", -10.0), ("b", 30.0)], mark=20.0)
    zero = float(drawn.zero[1:].split(",")[0])
    below, above = drawn.bars
    assert below.below
    assert float(below.x) + float(below.width) == pytest.approx(zero, abs=0.11)
    assert float(above.x) == pytest.approx(zero, abs=0.11)
    assert float(above.width) == pytest.approx(3 * float(below.width), abs=0.3)
    assert zero < float(drawn.mark[1:].split(",")[0]) < 360


def test_pairs_stand_from_zero_and_lower_is_closer():
    drawn = charts.pairs([(20.0, 10.0), (5.0, 40.0)], (12.5, 25.0))
    assert [tick.label for tick in drawn.ticks] == ["0 %", "10 %", "20 %", "30 %", "40 %"]
    heights = [float(tick.at) for tick in drawn.ticks]
    assert heights == sorted(heights, reverse=True)
    first, second = drawn.pairs
    assert float(first.after_y) == pytest.approx(heights[1])
    assert float(first.before_y) + 4 == pytest.approx(heights[2])
    assert float(second.after_y) == pytest.approx(heights[4])
    assert float(first.x) < float(second.x)
    assert float(drawn.after_mean.split(",")[1].split("H")[0]) == pytest.approx((heights[2] + heights[3]) / 2)


@pytest.mark.parametrize("most", [0.0, 0.4, 7.0, 49.0, 50.0, 51.0, 333.0, 12345.0])
def test_an_axis_of_per_cent_has_few_round_ticks_and_holds_all(most):
    ticks = charts.pairs([(most, most / 2)], (most, most / 2)).ticks
    assert 2 <= len(ticks) <= 6
    assert float(ticks[-1].label.removesuffix(" %")) >= most


def test_a_log_that_is_far_off_stands_at_the_edge_and_leaves_the_ranges_wide():
    trade, own = (1.15, 0.95, 1.6), (1.15, 0.91, 1.45)
    near = charts.points(trade, own, [(1.2, False)])
    far = charts.points(trade, own, [(1.2, False), (2216.0, True), (0.0001, True)])
    first, last = (float(end) for end in re.findall(r"[MH]([\d.]+)", far.own))
    assert last - first > 0.1 * charts.WIDTH
    dots = [float(dot.x) for dot in far.dots]
    assert min(dots) == dots[2] < first < last < dots[1] == max(dots)
    assert all(0 <= x <= charts.WIDTH for x in dots)
    first, last = (float(end) for end in re.findall(r"[MH]([\d.]+)", near.own))
    assert last - first > 0.3 * charts.WIDTH
