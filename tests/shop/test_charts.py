"""Charts: figures where they belong, labels that keep apart, and nothing beyond the picture."""

from __future__ import annotations

from itertools import pairwise

import pytest

from shop import charts


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
