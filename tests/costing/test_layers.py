"""What must not lie on what: glass and coats on a waxed coat, coarse paper on a thin clear."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from quotes.costing import STARTING_RECIPES, CoreRecipe, RecipeStep, Shop, estimate
from quotes.costing.recipes.starting.pieces import count, length
from tests.sample_shop import EPS, PU, SHOP, sizes_for

MEASURES = (length("size", "Size", 0, 900), count("paint", "Paint", 0, 1, 0), count("more", "More", 0, 1, 0))
PLACES = {
    "spot": {"shape": "rectangle", "length": "size", "width": "size", "depth": 10},
    "fin": {"shape": "fin", "base": 120, "height": 110, "tip": 40},
}


def act(operation: str, when: str = "", **told: Any) -> RecipeStep:
    where = {"fin": "fin"} if operation in ("tack-fin", "rope-fin", "fin-patches") else {"place": "spot"}
    return RecipeStep(operation, {**where, **told}, when)


LAMINATE = act("laminate", plies=["cloth-4oz"])
HOT = act("hot-coat")
SAND = act("sand", grits=["P120"])
CLEAR = act("spray-clear", when="paint")
WET = act("sand", grits=["P400", "P600"])
OF_WAX = "on which nothing bonds before it is sanded: put a sanding step between them"


def recipe(*acts: RecipeStep) -> CoreRecipe:
    made = CoreRecipe("one", "One", 1, MEASURES, PLACES, acts)
    assert made.problems() == []
    return made


def said(made: CoreRecipe, shop: Shop = SHOP, board=PU, **measures: float) -> list[str]:
    found = estimate(made, {"size": 200.0, "paint": 0.0, "more": 0.0, **measures}, shop, board=board)
    assert (found.priced is None) == bool(found.problems)
    return [problem.text for problem in found.problems]


@pytest.mark.parametrize("coat", ["hot-coat", "gloss-coat"])
@pytest.mark.parametrize(
    ("operation", "told"),
    [
        ("laminate", {"plies": ["cloth-4oz"]}),
        ("hot-coat", {}),
        ("gloss-coat", {}),
        ("fill", {}),
        ("tack-fin", {}),
        ("rope-fin", {}),
        ("fin-patches", {"plies": ["cloth-6oz"]}),
        ("spray-colour", {}),
    ],
)
@pytest.mark.parametrize("board", [PU, EPS])
def test_whatever_bonds_goes_onto_a_waxed_coat_only_when_it_is_sanded(coat: str, operation: str, told: dict, board):
    """Common practice, no source: over waxed resin it must be sanded first, always."""
    bare = recipe(act(coat), act(operation, **told))
    [sentence] = said(bare, board=board)
    assert sentence.startswith("Step 2 (")
    assert OF_WAX in sentence
    assert [problem.text for problem in bare.layer_problems()] == [sentence]
    assert said(recipe(act(coat), SAND, act(operation, **told)), board=board) == []


def test_what_is_done_in_between_without_sanding_changes_nothing():
    [sentence] = said(recipe(HOT, act("mask"), RecipeStep("inspect", {}), LAMINATE))
    assert sentence.startswith("Step 4 (Laminate) goes onto the hot coat of step 1")


def test_another_face_lies_on_no_coat_and_a_new_laminate_on_a_fresh_one():
    assert said(recipe(HOT, act("laminate", plies=["cloth-4oz"], onto="another face"), HOT)) == []
    assert len(said(recipe(HOT, LAMINATE, LAMINATE))) == 1  # the second lies on the first


def test_a_sanding_that_the_measures_leave_out_parts_nothing():
    only_painted = act("sand", when="paint", grits=["P120"])
    made = recipe(HOT, only_painted, LAMINATE)
    assert said(made, paint=1) == []
    assert len(said(made, paint=0)) == 1
    assert len(made.layer_problems()) == 1
    # all of it hangs on the same measure, so it is never left out alone
    together = recipe(replace(HOT, when="paint"), only_painted, LAMINATE)
    assert together.layer_problems() == []
    assert said(together, paint=0) == said(together, paint=1) == []
    other = recipe(replace(HOT, when="paint"), only_painted, replace(LAMINATE, when="more"))
    assert said(other, paint=1, more=1) == said(other, paint=0, more=1) == []


def test_a_thin_clear_is_wet_sanded_from_p800_up():
    """Common practice, no source: less than 80 µm never with P400. Two coats of 28 µm are 56."""
    made = recipe(CLEAR, WET)
    [sentence] = said(made, paint=1)
    assert sentence == (
        "Step 2 (Sand through the grits) takes P400 and P600 to a clear of 56 µm, which goes through: a clear of less "
        "than 80 µm is wet-sanded from P800 up. Put such a step behind the clear, left out where nothing is cleared, and "
        "this one before the paint."
    )
    assert [problem.text for problem in made.layer_problems()] == [sentence]
    assert said(made, paint=0) == []
    assert said(recipe(CLEAR, act("sand", grits=["P800", "P1200"])), paint=1) == []


@pytest.mark.parametrize(("told", "thin"), [
    ({"coats": 3}, False), ({"coats": 2, "film_um": 39}, True), ({"coats": 2, "film_um": 40}, False), ({"coats": 1}, True),
])  # fmt: skip
def test_the_film_is_that_of_all_coats(told: dict, thin: bool):
    assert bool(said(recipe(act("spray-clear", **told), WET))) == thin


def test_the_shops_own_figures_of_film_and_limit_count():
    made = recipe(act("spray-clear"), WET)
    assert said(made, replace(SHOP, constants={"clear_film_um": (45.0, 40.0, 50.0)})) == []
    assert said(made, replace(SHOP, constants={"clear_thin_um": (50.0, 40.0, 60.0)})) == []


def test_clear_over_clear_adds_up_and_a_new_coat_hides_it():
    assert said(recipe(CLEAR, act("spray-clear"), WET), paint=1) == []
    assert len(said(recipe(CLEAR, act("spray-clear"), WET), paint=0)) == 1
    assert said(recipe(act("spray-clear"), SAND_FINE, HOT, WET)) == []


SAND_FINE = act("sand", grits=["P800"])


@pytest.mark.parametrize("key", sorted(STARTING_RECIPES))
@pytest.mark.parametrize("board", [PU, EPS])
def test_every_starting_recipe_lies_rightly(key: str, board):
    made = STARTING_RECIPES[key]
    assert made.layer_problems() == []
    sizes = sizes_for(made)
    for paint in (0.0, 1.0):
        sizes |= {name: paint for name in sizes if name == "paint"}
        found = estimate(made, sizes, SHOP, board=board, accepted_odd=sizes)
        assert found.problems == []
        sanded = [step.title for step in found.steps if step.title.startswith("Wet sand")]
        if "paint" in sizes:
            assert sanded == ["Wet sand to a satin", *["Wet sand the clear to a satin"] * int(paint)]
