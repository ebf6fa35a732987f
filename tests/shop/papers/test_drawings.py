"""Drawings: a board is drawn as it was measured, its pins lie on it, and a lay-up says how far a job is."""

from __future__ import annotations

import re
from dataclasses import dataclass
from types import SimpleNamespace

import pytest
from django.template import Context, Template
from django.utils import translation
from hypothesis import given
from hypothesis import strategies as st

from shop.papers import drawings, sections
from shop.papers.drawings import TAILS, Shape
from shop.papers.sections import AHEAD, DONE, NOW

FISH = Shape.measured(1676, 533, 381, 406, "fish")
LONG = Shape.measured(2794, 578, 470, 380, "square")


@dataclass
class Spot:
    number: int
    from_tail_mm: float
    from_stringer_mm: float
    side: str = "deck"


def hull_points(path: str) -> list[tuple[float, float]]:
    """Every point named in a path of absolute M, C and L commands, handles included."""
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", path)]


@st.composite
def shapes(draw):
    length = draw(st.floats(400, 4000))
    width = draw(st.floats(150, min(900, length)))
    nose = draw(st.none() | st.floats(60, 1200))
    tail = draw(st.none() | st.floats(60, 1200))
    return Shape.measured(length, width, nose, tail, draw(st.sampled_from(sorted(TAILS))))


@pytest.mark.parametrize("tail", sorted(TAILS))
def test_a_board_is_as_wide_as_measured_twelve_inches_from_its_ends(tail):
    shape = Shape.measured(1854, 476, 292, 368, tail)
    assert drawings.half_width(shape, 304.8) == pytest.approx(368 / 2, abs=0.05)
    assert drawings.half_width(shape, 1854 - 304.8) == pytest.approx(292 / 2, abs=0.05)


@given(shapes())
def test_a_board_is_nowhere_wider_than_its_width_and_ends_at_its_nose(shape):
    across = [drawings.half_width(shape, shape.length * i / 60) for i in range(61)]
    assert max(across) <= shape.width / 2 + 1e-6
    assert max(across) >= 0.97 * shape.width / 2
    assert across[-1] == pytest.approx(0, abs=1e-3)  # found by halving, so not to the last digit
    assert all(half >= 0 for half in across)


@given(shapes())
def test_the_outline_never_runs_backwards_or_outside_the_board(shape):
    for curve in drawings.half_outline(shape):
        along = [p[0] for p in curve]
        assert along == sorted(along)
        assert all(-1e-9 <= y <= shape.width / 2 + 1e-9 for _, y in curve)


@pytest.mark.parametrize("shape", [FISH, LONG, Shape.measured(2030, 490, None, None, "pin")])
def test_left_and_right_rail_mirror_each_other_about_the_stringer(shape):
    plan = drawings.plan(shape)
    middle = float(plan.middle_y)
    points = {(x, round(y - middle, 1)) for x, y in hull_points(plan.hull)}
    mirrored = {(x, round(-y, 1)) for x, y in points}
    assert all(any(abs(x - a) < 0.11 and abs(y - b) < 0.11 for a, b in mirrored) for x, y in points)


def test_a_hull_fills_the_drawing_and_stays_in_it():
    plan = drawings.plan(FISH, units=360, radius=11)
    xs, ys = zip(*hull_points(plan.hull), strict=True)
    assert (min(xs), max(xs)) == (14, 346)  # 360 less 11 for a pin and 3 to spare on either side
    assert min(ys) >= 14
    assert max(ys) <= float(plan.height) - 14


def test_boards_on_the_rack_are_to_scale_with_each_other():
    def drawn(shape):
        xs = [x for x, _ in hull_points(drawings.plan(shape, units=300, full_mm=3000).hull)]
        return max(xs) - min(xs)

    assert drawn(LONG) / drawn(FISH) == pytest.approx(2794 / 1676, rel=0.005)


def test_a_board_longer_than_the_rack_is_still_drawn_whole():
    plan = drawings.plan(Shape.measured(3700, 700), units=300, full_mm=3050)
    assert max(x for x, _ in hull_points(plan.hull)) <= 300


def test_a_fish_has_a_notch_and_a_pin_tail_has_none():
    assert drawings.notch_half(FISH, 20) > 0
    assert "L" in drawings.plan(FISH).hull
    assert "L" not in drawings.plan(Shape.measured(2030, 490, 300, 330, "pin")).hull


def test_a_tail_nobody_wrote_down_is_drawn_as_a_squash():
    assert Shape.measured(1800, 480, tail_shape="asymmetric").tail_shape == "squash"


def test_a_board_without_size_cannot_be_drawn():
    with pytest.raises(ValueError, match="above zero"):
        Shape.measured(0, 480)


@given(shapes(), st.lists(st.tuples(st.floats(-500, 5000), st.floats(-900, 900)), max_size=6))
def test_every_pin_lies_on_the_board(shape, places):
    spots = [Spot(i + 1, x, y) for i, (x, y) in enumerate(places)]
    plan = drawings.plan(shape, spots)
    k, tail, middle = float(plan.scale), float(plan.tail_x), float(plan.middle_y)
    for pin in plan.pins:
        x, y = (float(pin.x) - tail) / k, (float(pin.y) - middle) / k
        slack = 0.11 / k  # drawing units carry one decimal
        near = [drawings.half_width(shape, min(max(x + d, 0), shape.length)) for d in (-slack, 0, slack)]
        assert 0 <= x <= shape.length
        assert abs(y) <= max(near) + slack


def test_a_damage_right_of_the_stringer_is_drawn_below_it():
    left, right = drawings.plan(FISH, [Spot(1, 700, -150), Spot(2, 700, 150)]).pins
    assert float(left.y) < float(drawings.plan(FISH).middle_y) < float(right.y)


def test_two_damages_in_one_place_get_two_pins_and_a_dot_where_the_second_really_is():
    first, second = drawings.plan(FISH, [Spot(1, 800, 0), Spot(2, 800, 0)], radius=11).pins
    assert abs(float(first.x) - float(second.x)) >= 22
    assert first.dot is None
    assert second.dot == (first.x, first.y)


def test_a_damage_on_the_bottom_has_a_square_pin():
    below, above = drawings.plan(FISH, [Spot(1, 300, 0, "bottom"), Spot(2, 900, 0)]).pins
    assert below.under
    assert not above.under


@pytest.mark.parametrize("place", drawings.PLACES, ids=lambda p: p.key)
@pytest.mark.parametrize("tail", sorted(TAILS))
def test_a_usual_place_lies_on_every_kind_of_board(place, tail):
    shape = Shape.measured(1854, 476, 292, 368, tail)
    x, y = drawings.named_place(shape, place.key)
    assert 0 <= x <= 1854
    assert drawings.notch_half(shape, x) <= abs(y) + 1e-6
    assert abs(y) <= drawings.half_width(shape, x) + 1e-6


def test_numbers_in_a_drawing_never_carry_a_comma_of_the_language():
    board = SimpleNamespace(length_mm=1676, width_mm=533, nose_mm=381.5, tail_mm=None, tail_shape="fish")
    with translation.override("de"):
        html = Template("{% load look %}{% board board spots %}{% layup 3 7 True %}{% patch 3 True %}").render(
            Context({"board": board, "spots": [Spot(1, 230.5, -150.5)]})
        )
    numbers = re.findall(r' (?:x|y|cx|cy|r|width|height|viewBox)="([^"]*)"', html)
    assert len(numbers) > 20
    assert all(re.fullmatch(r"[-\d. ]+", n) for n in numbers)


# ---- the lay-up ----


def test_a_short_job_has_one_sheet_a_step():
    assert sections.stages(3, 6, doing=True) == [DONE, DONE, DONE, NOW, AHEAD, AHEAD]


def test_a_long_job_has_nine_sheets_and_one_is_done_only_when_all_its_steps_are():
    # 18 steps on nine sheets: two steps a sheet; seven steps are three sheets and half of the fourth
    assert sections.stages(7, 18, doing=True) == [DONE] * 3 + [NOW] + [AHEAD] * 5


def test_a_job_that_nobody_has_begun_has_no_sheet_under_way():
    assert sections.stages(0, 4, doing=False) == [AHEAD] * 4
    assert sections.stages(0, 4, doing=True)[0] == NOW


def test_a_finished_job_is_solid_all_through():
    assert sections.stages(23, 23, doing=False) == [DONE] * 9


def test_a_job_without_steps_has_no_sheets():
    assert sections.stages(0, 0, doing=False) == []


@given(st.integers(1, 60), st.data())
def test_sheets_are_solid_below_and_hollow_above_with_at_most_one_under_way(total, data):
    states = sections.stages(data.draw(st.integers(0, total)), total, doing=True)
    assert len(states) == min(total, 9)
    assert states == sorted(states, key=[DONE, NOW, AHEAD].index)
    assert states.count(NOW) <= 1


@pytest.mark.parametrize("count", [1, 5, 9])
def test_sheets_lie_on_the_core_inside_the_drawing_without_touching(count):
    layup = sections.layup([DONE] * count)
    tops = [float(p.y) for p in layup.plies]
    assert tops == sorted(tops, reverse=True)
    assert tops[-1] >= 1
    assert float(layup.plies[0].y) + float(layup.plies[0].height) < float(layup.core_y)
    for lower, upper in zip(layup.plies, layup.plies[1:], strict=False):
        assert float(upper.y) + float(upper.height) < float(lower.y)


def test_only_the_sheet_under_way_is_hatched():
    done, now, ahead = sections.layup([DONE, NOW, AHEAD]).plies
    assert now.hatch.startswith("M")
    assert not done.hatch
    assert not ahead.hatch


def test_a_way_shows_its_layers_each_smaller_than_the_one_below():
    widths = [float(p.width) for p in sections.patch(4, pocket=True).plies]
    assert widths == [60, 55, 50, 45]
    assert len(sections.patch(20, pocket=False).plies) == 6


# ---- the range ----


def test_a_range_puts_its_marks_where_the_figures_are():
    # from 100 to 200: 220 units wide beginning at 10, so 150 stands at 120 and the price of 200 at the end
    bar = sections.span(100, 125, 150, 175, 190, 200)
    assert bar.thin == "M10.0,25H208.0"
    assert bar.thick == "M65.0,25H175.0"
    assert bar.gap == "M120.0,18V32"
    assert (bar.flag, bar.anchor) == ("M230.0,14V35", "end")


def test_a_range_of_one_figure_is_a_point_and_no_division_by_zero():
    assert sections.span(5, 5, 5, 5, 5, 5).flag.startswith("M10.0,")


def test_figures_that_do_not_rise_are_refused():
    with pytest.raises(ValueError, match="rise"):
        sections.span(10, 9, 11, 12, 13, 10)
