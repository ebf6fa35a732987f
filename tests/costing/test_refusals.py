"""What must not be done is refused, with the reason, in one sentence, the same wherever it is asked."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from quotes.costing import (
    REGISTRY,
    STARTING_RECIPES,
    Construction,
    CoreMaterial,
    CoreRecipe,
    Estimate,
    RecipeStep,
    estimate,
)
from quotes.costing.parts.refusals import stuff_of
from quotes.costing.recipes.starting.pieces import length
from quotes.costing.steps.mixing import ladder
from tests.sample_shop import EPS, PU, SHOP, bench_at, sizes_for

PLACES = {
    "hole": {"shape": "rectangle", "length": "length", "width": "width", "depth": "depth"},
    "fin": {"shape": "fin", "base": 120, "height": 110, "tip": 40},
    "edge": {"shape": "grown", "of": "hole", "by": 30},
    "second": {"shape": "rectangle", "length": 60, "width": 40, "depth": 15},
}
MEASURES = (length("length", "Length", 0, 900), length("width", "Width", 0, 900), length("depth", "Depth", 0, 100))
POCKET = {"length": 120.0, "width": 50.0, "depth": 22.0}


def one(operation: str, board: Construction, shop=SHOP, sizes=POCKET, **told: Any) -> Estimate:
    recipe = CoreRecipe("one", "One step", 1, MEASURES, PLACES, (RecipeStep(operation, told),))
    assert recipe.problems() == []
    return estimate(recipe, sizes, shop, board=board)


def refusal(found: Estimate) -> str:
    assert found.priced is None
    assert found.snapshot().price is None
    (problem,) = found.problems
    return problem.text


WITH_RESIN = [
    ("laminate", {"place": "hole", "plies": ["cloth-4oz"]}),
    ("fill", {"place": "hole"}),
    ("hot-coat", {"place": "hole"}),
    ("gloss-coat", {"place": "hole"}),
    ("inject", {"place": "hole"}),
    ("install", {"pocket": "hole"}),
    ("rejoin", {"face": "hole"}),
    ("tack-fin", {"fin": "fin"}),
    ("rope-fin", {"fin": "fin"}),
    ("fin-patches", {"fin": "fin", "plies": ["cloth-6oz"]}),
]


@pytest.mark.parametrize(("operation", "told"), WITH_RESIN)
@pytest.mark.parametrize(
    ("board", "sentence"),
    [
        (EPS, "Polyester melts EPS foam, and this board's core is EPS: use epoxy."),
        (Construction("xps", "epoxy"), "Polyester melts XPS foam, and this board's core is XPS: use epoxy."),
        (Construction(), "This board's core is not known and counts as EPS, which polyester melts: test the core, or use epoxy."),
        (Construction("pu", "epoxy"), "Polyester does not hold on an epoxy skin: use epoxy."),
        (Construction("pu", "unknown"),
         "This board's skin is not known and counts as epoxy, on which polyester does not hold: test it, or use epoxy."),
        (Construction("wood", "polyester"), "Polyester is used on a PU core only, and this board is wood: use epoxy."),
    ],
)  # fmt: skip
def test_polyester_where_it_must_not_go(operation: str, told: dict, board: Construction, sentence: str):
    assert refusal(one(operation, board, **told, system="polyester")) == sentence
    recipe = CoreRecipe("one", "One", 1, MEASURES, PLACES, (RecipeStep(operation, {**told, "system": "polyester"}),))
    assert [p.text for p in recipe.refusals(board)] == [sentence]


@pytest.mark.parametrize(("operation", "told"), WITH_RESIN)
def test_polyester_on_a_polyester_pu_board_and_epoxy_anywhere(operation: str, told: dict):
    assert one(operation, PU, **told, system="polyester").priced is not None
    for board in (PU, EPS, Construction(), Construction("hollow", "epoxy")):
        assert one(operation, board, **told, system="epoxy").priced is not None


def test_by_board_chooses_a_system_that_fits():
    for recipe in STARTING_RECIPES.values():
        for board in (PU, EPS, Construction(), Construction("wood", "epoxy")):
            assert recipe.refusals(board) == []


@pytest.mark.parametrize("percent", [0.9, 2.6, 4.0])
def test_catalyst_outside_the_data_sheets_band(percent: float):
    found = one("laminate", PU, place="hole", plies=["cloth-4oz"], catalyst_percent=percent)
    assert refusal(found) == (
        f"{percent:g} % catalyst is outside the data sheet's 1 to 2.5 %: it may never cure, or crack; "
        "stay inside the band and change the temperature instead."
    )
    assert str(found.problems[0].remedy) == "setting:1:catalyst_percent"


@pytest.mark.parametrize("percent", [1.0, 1.7, 2.5])
def test_catalyst_inside_the_band_is_taken(percent: float):
    found = one("laminate", PU, place="hole", plies=["cloth-4oz"], catalyst_percent=percent)
    assert found.steps[0].mixes[0].percent == percent


@pytest.mark.parametrize("temperature", [15.5, 16, 18, 20, 23, 26, 28, 34])
def test_no_temperature_takes_the_catalyst_out_of_its_band(temperature: float):
    assert 1.0 <= ladder(bench_at(temperature)).percent(temperature) <= 2.5
    for operation in ("laminate", "hot-coat"):
        more = {"plies": ["cloth-4oz"]} if operation == "laminate" else {}
        found = one(operation, PU, replace(SHOP, temperature_c=temperature), place="hole", **more)
        assert 1.0 <= found.steps[0].mixes[0].percent <= 2.5


def test_a_data_sheet_with_its_own_band_is_obeyed():
    sheet = {"catalyst_low": 1.2, "catalyst_high": 1.8}
    resin = replace(SHOP.materials["resin-lam"], facts=sheet)
    shop = replace(SHOP, temperature_c=17.0, materials={**SHOP.materials, "resin-lam": resin})
    found = one("laminate", PU, shop, place="hole", plies=["cloth-4oz"])
    assert found.steps[0].mixes[0].percent == 1.8


def test_a_shop_that_is_too_cold_for_polyester():
    found = one("laminate", PU, replace(SHOP, temperature_c=15.0), place="hole", plies=["cloth-4oz"])
    assert (
        refusal(found)
        == "The shop is at 15 °C, below the 15.5 °C that polyester needs: warm shop, board and resin first."
    )
    assert str(found.problems[0].remedy) == "shop:temperature_c"


def test_a_shop_that_is_too_cold_for_epoxy():
    found = one("laminate", EPS, replace(SHOP, temperature_c=11.0), place="hole", plies=["cloth-4oz"])
    assert "below the 12 °C that epoxy needs" in refusal(found)


def test_the_ratio_of_epoxy_is_the_labels_and_no_recipe_can_change_it():
    for operation in REGISTRY.values():
        assert not [s.name for s in operation.settings if "ratio" in s.name or s.name == "hardener"]
    found = one("laminate", EPS, place="hole", plies=["cloth-4oz"])
    mix = found.steps[0].mixes[0]
    assert mix.hardener_g / mix.resin_g == pytest.approx(0.43)
    asked = CoreRecipe(
        "one",
        "One",
        1,
        MEASURES,
        PLACES,
        (RecipeStep("laminate", {"place": "hole", "plies": ["cloth-4oz"], "ratio": 2}),),
    )
    assert "there is no setting ratio" in asked.problems()[0].text


def test_foam_over_the_safe_batch_is_split_into_pours():
    # 300 × 200 × 40 mm = 2.4 L; 64 kg/m³ × 1.2 / 0.74 = 249 g is one batch, but 40 mm are two layers of 25 mm
    found = one("pour-foam", PU, sizes={"length": 300, "width": 200, "depth": 40}, place="hole", foam="foam-64")
    assert found.steps[0].mixes[0].count == 2
    # 450 × 300 × 25 mm = 3.375 L: 350 g in one layer are two batches of at most 250 g
    found = one("pour-foam", PU, sizes={"length": 450, "width": 300, "depth": 25}, place="hole", foam="foam-64")
    assert found.steps[0].mixes[0].count == 2
    assert found.steps[0].mixes[0].resin_g < 250


def test_the_demos_pocket_is_one_pour():
    found = one("pour-foam", PU, sizes={"length": 134, "width": 50, "depth": 23}, place="hole", foam="foam-64")
    assert found.steps[0].mixes[0].count == 1


def test_a_large_hot_pour_into_eps():
    big = {"length": 300.0, "width": 200.0, "depth": 25.0}
    assert one("pour-foam", EPS, sizes=big, place="hole", foam="foam-32").steps[0].mixes[0].count == 2
    found = one("pour-foam", EPS, sizes=big, place="hole", foam="foam-32", pours=1)
    assert refusal(found) == (
        "92 g of foam in one pour is too hot for EPS: at most 60 g, so 2 pours, or glue in a block of foam."
    )  # 1.5 L × 32 kg/m³ × 1.2 / 0.74 = 77.8 g, × 1.05, and 10 g that stay in the cup


@pytest.mark.parametrize(("board", "foam", "sizes", "pours", "each", "most"), [
    # 152 × 100 × 25 mm = 0.38 L: 0.38 × 64 × 1.2 / 0.74 = 39.4 g, × 1.05 + 10 = 51.4 g
    (EPS, "foam-64", {"length": 152, "width": 100, "depth": 25}, 1, 51.4, 60),
    # 217 × 100 × 25 mm: 56.3 g net would be one pour of 60 g, but 69.1 g as mixed: two of 39.6 g
    (EPS, "foam-64", {"length": 217, "width": 100, "depth": 25}, 2, 39.6, 60),
    # 450 × 207 × 25 mm: 241.7 g net, 263.8 g as mixed: two of 136.9 g
    (PU, "foam-64", {"length": 450, "width": 207, "depth": 25}, 2, 136.9, 250),
])  # fmt: skip
def test_no_pour_as_it_is_mixed_exceeds_the_safe_batch(board, foam, sizes, pours, each, most):
    step = one("pour-foam", board, sizes=sizes, place="hole", foam=foam).steps[0]
    [mix] = step.mixes
    assert mix.count == pours
    assert mix.resin_g == pytest.approx(each, abs=0.05)
    assert mix.resin_g <= most


def test_between_pours_into_one_hole_the_foam_cools():
    """Common practice, no source: 20 min (15 to 40), till it no longer warms; hands are on it for the pours alone."""
    sizes = {"length": 300, "width": 200, "depth": 70}  # three layers of 25 mm
    step = one("pour-foam", PU, sizes=sizes, place="hole", foam="foam-64").steps[0]
    assert step.mixes[0].count == 3
    assert "20 min between pours into one hole, till it no longer warms" in step.instruction
    # of three boards each bears 6 × (1 + 0.35 × 2)/3 = 3.4 min of set-up; one place of 1.5 min
    assert step.minutes == pytest.approx(3.4 + 3 * 4 + 1.5)
    assert step.work.pause_h == pytest.approx(40 / 60)
    two_holes = one("pour-foam", PU, sizes=sizes, place="hole", foam="foam-64", times=2).steps[0]
    assert (two_holes.mixes[0].count, two_holes.work.pause_h) == (6, pytest.approx(40 / 60))
    single = one("pour-foam", PU, sizes={**sizes, "depth": 20}, place="hole", foam="foam-64").steps[0]
    assert (single.work.pause_h, "between pours" in single.instruction) == (0, False)


def test_a_shop_whose_cups_keep_more_than_a_safe_pour_is_told_so():
    shop = replace(SHOP, losses={"foam-32": 7.0})
    found = one("pour-foam", EPS, shop, place="hole", foam="foam-32")
    assert refusal(found).startswith(
        "The largest pour that does not overheat is 60 g, but 70 g of each stay in the cup"
    )


def test_cyanoacrylate_on_foam_that_it_eats():
    for board in (EPS, Construction()):
        assert "eat EPS and XPS foam" in refusal(one("tack-fin", board, fin="fin", glue="cyanoacrylate"))
    assert one("tack-fin", PU, fin="fin", glue="cyanoacrylate").priced is not None


def test_solvent_paint_on_bare_foam():
    assert "glass it first" in refusal(one("spray-colour", EPS, place="hole", over="foam"))
    assert one("spray-colour", EPS, place="hole").priced is not None


def test_heat_on_eps():
    assert refusal(one("dry-out", EPS, room_c=60)) == (
        "60 °C softens EPS and XPS foam (an unknown core counts as EPS): dry it at 50 °C or less."
    )
    assert one("dry-out", PU, room_c=60).priced is not None


def test_sealing_over_a_wet_core():
    wet = replace(PU, wet=True)
    ding = STARTING_RECIPES["ding-deck-medium"]
    sizes = {"length": 92.0, "width": 64.0, "depth": 14.0, "paint": 0.0}
    found = estimate(ding, sizes, SHOP, board=wet)
    assert {p.text for p in found.problems} == {
        "The core is wet, and nothing is sealed over a wet core: put a drying step before this one."
    }
    assert estimate(STARTING_RECIPES["waterlogged"], sizes, SHOP, board=wet).priced is not None


def several(board: Construction, *acts: RecipeStep, shop=SHOP, sizes=POCKET) -> Estimate:
    recipe = CoreRecipe("several", "Several steps", 1, MEASURES, PLACES, acts)
    assert recipe.problems() == []
    return estimate(recipe, sizes, shop, board=board)


CUT, CLOTH, COAT, CLEAR = (
    RecipeStep("cut-back", {"place": "hole"}),
    RecipeStep("laminate", {"place": "hole", "plies": ["cloth-4oz"]}),
    RecipeStep("hot-coat", {"place": "edge"}),
    RecipeStep("spray-clear", {"place": "edge"}),
)


# What is bare and what is not: common practice, no source


DULL = RecipeStep("sand", {"place": "edge", "grits": ["P320"]})  # nothing bonds to a coat before it is sanded


def test_foam_is_bare_from_the_cut_until_cloth_or_a_coat_lies_on_it():
    assert "Two-pack clear eats bare EPS" in refusal(several(EPS, CUT, CLEAR))
    assert several(EPS, CUT, CLOTH, CLEAR).priced is not None
    assert several(EPS, CUT, COAT, DULL, CLEAR).priced is not None
    assert several(PU, CUT, CLEAR).priced is not None
    assert "eats bare EPS" in refusal(several(EPS, CUT, CLOTH, CUT, CLEAR)), "cut open again"


def test_a_second_hole_that_nothing_covers_is_still_bare():
    second = RecipeStep("rout", {"place": "second"})
    covered = RecipeStep("laminate", {"place": "second", "plies": ["cloth-4oz"]})
    assert several(EPS, CUT, second, CLOTH, covered, CLEAR).priced is not None
    assert "eats bare EPS" in refusal(several(EPS, CUT, second, CLOTH, CLEAR, covered))


def test_a_crease_is_covered_by_the_band_laid_over_it():
    crease = RecipeStep("cut-back", {"place": "second"})
    assert several(EPS, crease, CLOTH, CLEAR).priced is not None


def test_every_starting_recipe_is_priced_on_pu_and_on_eps_painted_too():
    for recipe in STARTING_RECIPES.values():
        for board in (
            PU,
            EPS,
            Construction(),
            Construction("pu", "polyester", "carbon"),
            Construction("eps", "epoxy", "sandwich"),
        ):
            assert estimate(recipe, sizes_for(recipe), SHOP, board=board).problems == [], (recipe.key, board)


def test_polyester_does_not_follow_epoxy_in_the_same_place():
    epoxy = RecipeStep("laminate", {**CLOTH.settings, "system": "epoxy"})
    assert "Polyester does not hold on the epoxy" in refusal(several(PU, CUT, epoxy, COAT))
    assert several(PU, CUT, epoxy, RecipeStep("hot-coat", {"place": "second"})).priced is not None
    assert several(PU, CUT, epoxy, RecipeStep("hot-coat", {"place": "edge", "system": "epoxy"})).priced is not None


def test_a_moulded_sandwich_and_a_soft_skin_are_easily_spoiled_whatever_the_core():
    for skin in ("sandwich", "soft"):
        board = Construction("pu", "polyester", skin)
        assert board.soft_foam
        assert "Polyester" in refusal(one("fill", board, place="hole", system="polyester"))
        assert one("fill", board, place="hole").steps[0].mixes[0].system == "epoxy"
        assert "softens" in refusal(one("dry-out", board, room_c=60))


def test_the_least_temperature_of_a_foam_is_its_data_sheets():
    cold = replace(SHOP, temperature_c=17.0)
    assert one("pour-foam", PU, cold, place="hole").priced is not None
    foam = replace(SHOP.materials["foam-56"], facts={"floor_c": 18.0})
    cold = replace(cold, materials={**SHOP.materials, "foam-56": foam})
    found = one("pour-foam", PU, cold, place="hole")
    assert refusal(found) == (
        "The shop is at 17 °C, below the 18 °C that pour foam needs: warm shop, board and foam first."
    )
    assert str(found.problems[0].remedy) == "shop:temperature_c"


@pytest.mark.parametrize(
    ("material", "stuff"),
    [
        (CoreMaterial("x", "Clear casting resin", "g", kind="resin"), ("polyester",)),
        (CoreMaterial("x", "Fast set", "g", kind="resin", facts={"ratio_by_weight": 50.0}), ("epoxy",)),
        (CoreMaterial("x", "Superglue (cyanoacrylate)", "g", kind="resin"), ("cyanoacrylate",)),
        (CoreMaterial("x", "Gun wash", "mL", kind="solvent"), ("solvent",)),
        (CoreMaterial("x", "White lacquer", "mL", kind="paint"), ("solvent paint",)),
        (CoreMaterial("x", "Water-based white", "mL", kind="paint"), ()),
        (CoreMaterial("x", "Polishing compound", "g", kind="paint"), ()),
        (CoreMaterial("x", "Rag", "piece", kind="sundry"), ()),
        (None, ()),
    ],
)
def test_a_shops_own_material_is_known_by_its_kind_its_facts_and_its_name(material: CoreMaterial | None, stuff: tuple):
    assert stuff_of("x", material) == stuff


def test_what_an_allowance_takes_beside_the_board_touches_none():
    for key in ("acetone", "ca-glue", "resin-lam"):
        told = {"material": key, "quantity": 10}
        assert one("allowance", EPS, **told).priced is None
        assert one("allowance", EPS, **told, over="not the board").priced is not None
    assert one("allowance", EPS, material="acetone", quantity=10, over="glass").priced is not None


def test_a_fin_is_laid_up_on_the_bench_whatever_the_board():
    for board in (EPS, replace(EPS, wet=True), Construction("eps", "epoxy", "soft")):
        assert one("make-fin", board, fin="fin").priced is not None


def test_acetone_on_spilt_peroxide_is_no_step_of_a_recipe_so_every_catalysed_mix_warns_of_it():
    for operation, told in WITH_RESIN:
        cautions = one(operation, PU, **told, system="polyester").cautions
        assert any("never near acetone" in caution for caution in cautions), operation


def test_a_box_that_does_not_fit_its_pocket():
    found = one("install", PU, sizes={"length": 100, "width": 25, "depth": 20}, pocket="hole")
    assert refusal(found) == (
        "“Fin box” is 114 × 27 × 21 mm and does not fit a pocket of 100 × 25 × 20 mm, which is 14 mm too short and 2 mm "
        "too narrow and 1 mm too shallow: measure again, rout it out to that size, no other in the store fits."
    )


@pytest.mark.parametrize(
    ("sizes", "wanting"),
    [
        ((113, 60, 40), "1 mm too short"),  # 271 mL hold four boxes of 65 mL, and this one does not go in
        ((300, 26.5, 40), "0.5 mm too narrow"),
        ((300, 90, 20), "1 mm too shallow"),
    ],
)
def test_a_box_goes_in_by_length_width_and_depth_and_not_by_volume(sizes: tuple, wanting: str):
    found = one("install", PU, sizes=dict(zip(("length", "width", "depth"), sizes, strict=True)), pocket="hole")
    assert f"which is {wanting}: measure again" in refusal(found)


def test_a_pocket_of_the_very_size_of_the_box_takes_it():
    found = one("install", PU, sizes={"length": 114, "width": 27, "depth": 21}, pocket="hole")
    assert found.priced is not None


def test_a_box_of_the_store_that_fits_is_offered_and_one_that_is_retired_is_not():
    small = replace(SHOP.materials["fin-box"], key="box-small", name="Small box",
                    facts={"length_mm": 88.0, "width_mm": 24.0, "depth_mm": 18.0})  # fmt: skip
    pocket = {"length": 100, "width": 25, "depth": 20}
    shop = replace(SHOP, materials={**SHOP.materials, "box-small": small})
    said = refusal(one("install", PU, shop, sizes=pocket, pocket="hole"))
    assert said.endswith("or choose “Small box” (88 × 24 × 18 mm), which fits.")
    assert one("install", PU, shop, sizes=pocket, pocket="hole", insert="box-small").priced is not None
    gone = replace(SHOP, materials={**SHOP.materials, "box-small": replace(small, retired=True)})
    assert "no other in the store fits" in refusal(one("install", PU, gone, sizes=pocket, pocket="hole"))


def test_a_plug_must_fit_its_hole_and_a_box_must_not_stand_on_its_corners():
    holes = {"hole": {"shape": "plug", "diameter": "length", "depth": "depth"}}

    def bored(sizes: dict, insert: str) -> Estimate:
        act = RecipeStep("install", {"pocket": "hole", "insert": insert, "kind": "plug"})
        return estimate(CoreRecipe("one", "One", 1, MEASURES, holes, (act,)), sizes, SHOP, board=PU)

    said = refusal(bored({"length": 26, "width": 1, "depth": 40}, "leash-plug"))
    assert said.startswith("“Leash plug” is 27 mm across and 17 mm deep and does not fit a pocket of 26 × 26 × 40 mm")
    assert bored({"length": 27, "width": 1, "depth": 17}, "leash-plug").priced is not None
    # √(114² + 27²) = 117.2 mm from corner to corner
    assert "too round for its corners" in refusal(bored({"length": 117, "width": 1, "depth": 40}, "fin-box"))
    assert bored({"length": 118, "width": 1, "depth": 40}, "fin-box").priced is not None


def test_a_box_whose_size_is_not_on_file():
    box = replace(SHOP.materials["fin-box"], facts={})
    found = one("install", PU, replace(SHOP, materials={**SHOP.materials, "fin-box": box}), pocket="hole")
    assert "has no size" in refusal(found)


# Recipes that are wrong in themselves


def wrong(*acts: RecipeStep, places=PLACES, measures=MEASURES) -> list[str]:
    return [p.text for p in CoreRecipe("one", "My recipe", 1, measures, places, acts).problems()]


@pytest.mark.parametrize(
    ("acts", "sentence"),
    [
        ((), "My recipe has no operations: add at least one."),
        ((RecipeStep("weld", {}),), "Step 1: there is no operation 'weld'; there are"),
        ((RecipeStep("hot-coat", {}),), "Step 1 (Hot coat): where is missing."),
        ((RecipeStep("hot-coat", {"place": "attic"}),), "Step 1 (Hot coat): where names attic, which is no place of this recipe."),
        ((RecipeStep("hot-coat", {"place": "hole", "film_mm": 9}),), "Step 1 (Hot coat): film (0: as is usual for the resin) must be between 0 and 2 mm; it is 9."),
        ((RecipeStep("hot-coat", {"place": "hole", "film_mm": "girth"}),),
         "Step 1 (Hot coat): film (0: as is usual for the resin) names girth, which is no measure of this recipe."),
        ((RecipeStep("hot-coat", {"place": "hole", "film_mm": True}),), "Step 1 (Hot coat): film (0: as is usual for the resin) must be a number"),
        ((RecipeStep("hot-coat", {"place": "hole", "system": "glue"}),),
         "Step 1 (Hot coat): resin system must be one of by board, polyester, epoxy; it is glue."),
        ((RecipeStep("sand", {"place": "hole", "grits": []}),), "Step 1 (Sand through the grits): grits in order must be a list"),
        ((RecipeStep("sand", {"place": "hole", "grits": ["P55"]}),), "Step 1 (Sand through the grits): grits in order: P55 is none of"),
        ((RecipeStep("sand", {"place": "hole", "grits": ["P320", "P120"]}),),
         "Step 1 (Sand through the grits): P120 is coarser than P320 before it"),
        ((RecipeStep("hot-coat", {"place": "hole", "colour": "red"}),), "Step 1 (Hot coat): there is no setting colour"),
        ((RecipeStep("hot-coat", {"place": "hole"}, when="moon"),), "Step 1 (Hot coat): “when” names moon"),
    ],
)  # fmt: skip
def test_a_recipe_that_is_wrong_names_the_step_and_the_field(acts: tuple, sentence: str):
    found = wrong(*acts)
    assert found
    assert found[0].startswith(sentence)
    priced = estimate(CoreRecipe("one", "My recipe", 1, MEASURES, PLACES, acts), POCKET, SHOP, board=PU)
    assert priced.priced is None
    assert priced.problems[0].text == found[0]


@pytest.mark.parametrize(
    ("places", "sentence"),
    [
        ({"a": {"shape": "blob"}}, "The place a has the shape 'blob'"),
        ({"a": {"shape": "ellipse", "length": "length"}}, "The place a lacks width."),
        ({"a": {"shape": "ellipse", "length": "length", "width": "girth"}}, "The place a: width names girth"),
        ({"a": {"shape": "grown", "of": "b", "by": 5}, "b": {"shape": "grown", "of": "a", "by": 5}},
         "grows b, which grows a: a loop."),
    ],
)  # fmt: skip
def test_a_place_that_cannot_be_built(places: dict, sentence: str):
    assert sentence in wrong(RecipeStep("inspect"), places=places)[0]


def test_a_body_that_is_no_recipe():
    with pytest.raises(ValueError, match="lacks 'operations'"):
        CoreRecipe.from_dict({"key": "a", "name": "A"})
    with pytest.raises(ValueError, match="A recipe is an object"):
        CoreRecipe.from_dict({"key": "a", "name": "A", "operations": 7})
    body = {
        "key": "a",
        "name": "A",
        "operations": [],
        "measures": [{"name": "x", "label": "X", "dimension": "smell", "low": 0, "high": 1}],
    }
    with pytest.raises(ValueError, match="must be one of"):
        CoreRecipe.from_dict(body)


@pytest.mark.parametrize(
    ("told", "sentence"),
    [
        ({"material": "resin-lam", "quantity": 12, "per": "job"}, None),
        ({"quantity": 12}, "The allowance has a quantity but no material"),
        ({"material": "moon-dust", "quantity": 12}, "There is no material “moon-dust” in the store: add it."),
    ],
)
def test_an_allowance_names_its_material(told: dict, sentence: str | None):
    found = one("allowance", PU, **told)
    if sentence is None:
        assert found.lines[0].use == 12
    else:
        assert refusal(found).startswith(sentence)


@pytest.mark.parametrize(
    ("per", "amount", "count"),
    [("job", 1, 1), ("piece", 3, 3), ("metre", 2500, 2.5), ("m2", 12_000, 1.2), ("litre", 750, 0.75)],
)
def test_an_allowance_goes_by_its_measure(per: str, amount: float, count: float):
    found = one("allowance", PU, per=per, amount=amount, material="resin-lam", quantity=40, minutes=6, set_up_minutes=5)
    assert found.lines[0].need == pytest.approx(40 * count)
    assert found.minutes == pytest.approx(5 + 6 * count)
