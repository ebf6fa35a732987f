"""Cloth on the roll: every piece is there once, none overlaps, and the length to cut is one a person would cut."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quotes.costing import STARTING_RECIPES, estimate
from quotes.costing.parts.nesting import CutPlan, Piece, cut_plan, cut_plans, pieces_of, strips
from quotes.costing.snapshot import PlannedPieces, PlannedStep
from tests.sample_shop import MATERIALS, PU, SHOP, TWIN_KEELS

INCH = 25.4


def square(length, width, words=""):
    return Piece(length, width, length * width / 100, words)


def step(*pieces, title="Laminate"):
    return PlannedStep(title=title, pieces=pieces)


def cloth(length, width, count=1, *, material="cloth-6oz", shape="rectangle", area=None):
    area = length * width / 100 if area is None else area
    return PlannedPieces(material, length, width, area, count, shape)


def cut_cm2(plan: CutPlan) -> float:
    """Area of the length that is cut off the roll, over its whole width."""
    return plan.length_mm * plan.roll_width_mm / 100.0


def test_two_patches_lie_side_by_side_on_the_roll():
    # 300 + 300 mm side by side on 762 mm; a third would need the next 200 mm
    plan = cut_plan("cloth-6oz", "Cloth 6 oz", [square(200, 300), square(200, 300)], 762)
    assert (plan.length_mm, plan.used_mm, plan.left_mm) == (200, 600, 162)
    assert plan.waste_percent == 0
    assert cut_plan("c", "C", [square(200, 300)] * 3, 762).length_mm in (300, 400)


def test_a_long_patch_is_laid_across_the_roll_where_that_saves_length():
    plan = cut_plan("c", "C", [square(700, 90)], 762)
    assert plan.length_mm == 90


def test_the_corners_of_an_oval_are_waste():
    # an ellipse of 200 × 100 mm is 157.1 of 200 cm²: 21.5 % of its rectangle is cut away
    plan = cut_plan("c", "C", [Piece(200, 100, 157.08, round=True)], 762)
    assert plan.waste_percent == pytest.approx(21.46, abs=0.01)


def test_a_piece_wider_than_the_roll_is_made_of_strips_that_lap():
    # 9 ft wide from 38 in cloth is 3 pieces: boatbuilding supplier's “How much resin and glass”, cabin-top example
    parts = list(strips(square(120 * INCH, 108 * INCH), 38 * INCH, lap_mm=25.4))
    assert len(parts) == 3
    assert all(part.width_mm <= 38 * INCH for part in parts)
    assert sum(part.width_mm for part in parts) - 2 * 25.4 == pytest.approx(108 * INCH)


def test_a_deck_as_wide_as_the_roll_needs_no_seam():
    assert len(list(strips(square(1900, 560), 762))) == 1


def test_a_roll_narrower_than_its_laps_is_refused_in_a_sentence():
    with pytest.raises(ValueError, match="wider than two laps of 50 mm; 90 mm is not"):
        cut_plan("c", "C", [square(200, 200)], 90)


def test_nothing_to_cut_is_no_length():
    plan = cut_plan("c", "C", [square(0, 0)], 762)
    assert (plan.length_mm, plan.laid, plan.waste_percent) == (0, (), 0)


def test_each_cloth_of_a_job_has_its_own_plan_and_a_roll_without_width_is_named():
    steps = [
        step(cloth(200, 100, 2), title="Over the pocket"),
        step(cloth(90, 90, material="cloth-4oz")),
        step(title="Sand"),
    ]
    plans, sentences = cut_plans(steps, {"cloth-6oz": ("Cloth 6 oz", 762.0), "cloth-4oz": ("Cloth 4 oz", None)})
    assert [(plan.name, len(plan.laid)) for plan in plans] == [("Cloth 6 oz", 2)]
    assert plans[0].laid[0].words == "Over the pocket"
    assert sentences == ["“Cloth 4 oz” has no roll width: add it in the store to see how to cut it."]


def test_a_snapshot_from_before_pieces_were_kept_has_no_plan():
    assert pieces_of([PlannedStep.from_json({"title": "Laminate", "materials": []})]) == {}


def test_the_drawing_keeps_the_proportions_of_the_roll():
    drawn = cut_plan("c", "C", [square(381, 762)], 762).drawn(long=300, high=150)
    # 762 mm of roll are 300 units across the page, so 381 mm of length are 150 down it
    assert (drawn["width"], drawn["height"]) == (300, 150)
    assert (drawn["boxes"][0]["mid_x"], drawn["boxes"][0]["mid_y"]) == (150, 75)
    long = cut_plan("c", "C", [square(1524, 762)], 762).drawn(long=300, high=150)
    assert (long["width"], long["height"]) == (300, 150)  # twice as long as wide: it lies along the page


sizes = st.tuples(st.floats(20, 1800), st.floats(20, 700))


@given(st.lists(sizes, min_size=1, max_size=9))
def test_no_piece_overlaps_leaves_the_roll_or_is_forgotten(pieces):
    plan = cut_plan("c", "C", [square(*size) for size in pieces], 762)
    assert len(plan.laid) == len(pieces)
    for one in plan.laid:
        assert one.across >= 0
        assert one.across + one.width <= 762
        assert one.along + one.length <= plan.length_mm
    for index, one in enumerate(plan.laid):
        for other in plan.laid[index + 1 :]:
            apart = (
                one.along + one.length <= other.along
                or other.along + other.length <= one.along
                or one.across + one.width <= other.across
                or other.across + other.width <= one.across
            )
            assert apart, (one, other)
    assert cut_cm2(plan) >= plan.pieces_cm2 - 1


@given(st.lists(sizes, min_size=1, max_size=5), sizes)
def test_one_more_piece_never_makes_the_cut_smaller_than_its_cloth(pieces, more):
    cloth_of = [square(*size) for size in [*pieces, more]]
    assert cut_cm2(cut_plan("c", "C", cloth_of, 762)) >= sum(piece.area_cm2 for piece in cloth_of) - 0.01


@pytest.mark.parametrize("key", ["glass-on-twin", "ding-rail-large", "snap", "buckle", "delamination"])
def test_the_pieces_of_a_job_are_the_cloth_its_estimate_asks_for(key):
    recipe = STARTING_RECIPES[key]
    middle = {m.name: m.default if m.default is not None else (m.low * m.high) ** 0.5 for m in recipe.measures}
    snapshot = estimate(recipe, TWIN_KEELS if key == "glass-on-twin" else middle, SHOP, board=PU).snapshot()
    assert snapshot.problems == ()
    need = {}
    for line in snapshot.lines:
        if line.material and line.material.startswith("cloth"):
            need[line.material] = need.get(line.material, 0) + line.need
    pieces = pieces_of(snapshot.steps)
    assert {cloth: sum(one.area_cm2 for one in cut) / 10_000 for cloth, cut in pieces.items()} == pytest.approx(need)
    rolls = {material.key: (material.name, material.roll_width_mm) for material in MATERIALS.values()}
    plans, sentences = cut_plans(snapshot.steps, rolls)
    assert sentences == []
    assert all(cut_cm2(plan) / 10_000 >= need[plan.material] for plan in plans)
