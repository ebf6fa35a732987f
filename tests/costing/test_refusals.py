"""What must not be done is refused, with the reason, in one sentence, the same wherever it is asked."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from quotes.costing import REGISTRY, STARTING_RECIPES, Act, Construction, Estimate, Recipe, estimate
from quotes.costing.mixing import ladder
from quotes.costing.starting.pieces import length
from tests.costing.marram import EPS, PU, SHOP, bench_at

PLACES = {
    "hole": {"shape": "rectangle", "length": "length", "width": "width", "depth": "depth"},
    "fin": {"shape": "fin", "base": 120, "height": 110, "tip": 40},
}
MEASURES = (length("length", "Length", 0, 900), length("width", "Width", 0, 900), length("depth", "Depth", 0, 100))
POCKET = {"length": 120.0, "width": 50.0, "depth": 22.0}


def one(operation: str, board: Construction, shop=SHOP, sizes=POCKET, **told: Any) -> Estimate:
    recipe = Recipe("one", "One step", 1, MEASURES, PLACES, (Act(operation, told),))
    assert recipe.problems() == []
    return estimate(recipe, sizes, shop, board=board)


def refusal(found: Estimate) -> str:
    assert found.priced is None
    assert found.as_dict()["price"] is None
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
    recipe = Recipe("one", "One", 1, MEASURES, PLACES, (Act(operation, {**told, "system": "polyester"}),))
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
    assert found.problems[0].fix == "setting:1:catalyst_percent"


@pytest.mark.parametrize("percent", [1.0, 1.7, 2.5])
def test_catalyst_inside_the_band_is_taken(percent: float):
    found = one("laminate", PU, place="hole", plies=["cloth-4oz"], catalyst_percent=percent)
    assert found.steps[0].mixes[0]["percent"] == percent


@pytest.mark.parametrize("temperature", [15.5, 16, 18, 20, 23, 26, 28, 34])
def test_no_temperature_takes_the_catalyst_out_of_its_band(temperature: float):
    assert 1.0 <= ladder(bench_at(temperature)).percent(temperature) <= 2.5
    for operation in ("laminate", "hot-coat"):
        more = {"plies": ["cloth-4oz"]} if operation == "laminate" else {}
        found = one(operation, PU, replace(SHOP, temperature_c=temperature), place="hole", **more)
        assert 1.0 <= found.steps[0].mixes[0]["percent"] <= 2.5


def test_a_data_sheet_with_its_own_band_is_obeyed():
    sheet = {"catalyst_low": 1.2, "catalyst_high": 1.8}
    resin = replace(SHOP.materials["resin-lam"], facts=sheet)
    shop = replace(SHOP, temperature_c=17.0, materials={**SHOP.materials, "resin-lam": resin})
    found = one("laminate", PU, shop, place="hole", plies=["cloth-4oz"])
    assert found.steps[0].mixes[0]["percent"] == 1.8


def test_a_shop_that_is_too_cold_for_polyester():
    found = one("laminate", PU, replace(SHOP, temperature_c=15.0), place="hole", plies=["cloth-4oz"])
    assert (
        refusal(found)
        == "The shop is at 15 °C, below the 15.5 °C that polyester needs: warm shop, board and resin first."
    )
    assert found.problems[0].fix == "shop:temperature_c"


def test_a_shop_that_is_too_cold_for_epoxy():
    found = one("laminate", EPS, replace(SHOP, temperature_c=11.0), place="hole", plies=["cloth-4oz"])
    assert "below the 12 °C that epoxy needs" in refusal(found)


def test_the_ratio_of_epoxy_is_the_labels_and_no_recipe_can_change_it():
    for operation in REGISTRY.values():
        assert not [s.name for s in operation.settings if "ratio" in s.name or s.name == "hardener"]
    found = one("laminate", EPS, place="hole", plies=["cloth-4oz"])
    mix = found.steps[0].mixes[0]
    assert mix["hardener_g"] / mix["resin_g"] == pytest.approx(0.43)
    asked = Recipe(
        "one", "One", 1, MEASURES, PLACES, (Act("laminate", {"place": "hole", "plies": ["cloth-4oz"], "ratio": 2}),)
    )
    assert "there is no setting ratio" in asked.problems()[0].text


def test_foam_over_the_safe_batch_is_split_into_pours():
    # 300 × 200 × 40 mm = 2.4 L; 64 kg/m³ × 1.2 / 0.74 = 249 g is one batch, but 40 mm are two layers of 25 mm
    found = one("pour-foam", PU, sizes={"length": 300, "width": 200, "depth": 40}, place="hole", foam="foam-64")
    assert found.steps[0].mixes[0]["count"] == 2
    # 450 × 300 × 25 mm = 3.375 L: 350 g in one layer are two batches of at most 250 g
    found = one("pour-foam", PU, sizes={"length": 450, "width": 300, "depth": 25}, place="hole", foam="foam-64")
    assert found.steps[0].mixes[0]["count"] == 2
    assert found.steps[0].mixes[0]["resin_g"] < 250


def test_the_demos_pocket_is_one_pour():
    found = one("pour-foam", PU, sizes={"length": 134, "width": 50, "depth": 23}, place="hole", foam="foam-64")
    assert found.steps[0].mixes[0]["count"] == 1


def test_a_large_hot_pour_into_eps():
    big = {"length": 300.0, "width": 200.0, "depth": 25.0}
    assert one("pour-foam", EPS, sizes=big, place="hole", foam="foam-32").steps[0].mixes[0]["count"] == 2
    found = one("pour-foam", EPS, sizes=big, place="hole", foam="foam-32", pours=1)
    assert refusal(found) == (
        "78 g of foam in one pour is too hot for EPS: at most 60 g, so 2 pours, or glue in a block of foam."
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


def test_a_box_that_does_not_fit_its_pocket():
    found = one("install", PU, sizes={"length": 100, "width": 25, "depth": 20}, pocket="hole")
    assert "does not fit a pocket of 100 × 25 × 20 mm (50 mL)" in refusal(found)


def test_a_box_whose_size_is_not_on_file():
    box = replace(SHOP.materials["fin-box"], facts={})
    found = one("install", PU, replace(SHOP, materials={**SHOP.materials, "fin-box": box}), pocket="hole")
    assert "has no size" in refusal(found)


# Recipes that are wrong in themselves


def wrong(*acts: Act, places=PLACES, measures=MEASURES) -> list[str]:
    return [p.text for p in Recipe("one", "My recipe", 1, measures, places, acts).problems()]


@pytest.mark.parametrize(
    ("acts", "sentence"),
    [
        ((), "My recipe has no operations: add at least one."),
        ((Act("weld", {}),), "Step 1: there is no operation 'weld'; there are"),
        ((Act("hot-coat", {}),), "Step 1 (Hot coat): where is missing."),
        ((Act("hot-coat", {"place": "attic"}),), "Step 1 (Hot coat): where names attic, which is no place of this recipe."),
        ((Act("hot-coat", {"place": "hole", "film_mm": 9}),), "Step 1 (Hot coat): film (0: as is usual for the resin) must be between 0 and 2 mm; it is 9."),
        ((Act("hot-coat", {"place": "hole", "film_mm": "girth"}),),
         "Step 1 (Hot coat): film (0: as is usual for the resin) names girth, which is no measure of this recipe."),
        ((Act("hot-coat", {"place": "hole", "film_mm": True}),), "Step 1 (Hot coat): film (0: as is usual for the resin) must be a number"),
        ((Act("hot-coat", {"place": "hole", "system": "glue"}),),
         "Step 1 (Hot coat): resin system must be one of by board, polyester, epoxy; it is glue."),
        ((Act("sand", {"place": "hole", "grits": []}),), "Step 1 (Sand through the grits): grits in order must be a list"),
        ((Act("sand", {"place": "hole", "grits": ["P55"]}),), "Step 1 (Sand through the grits): grits in order: P55 is none of"),
        ((Act("sand", {"place": "hole", "grits": ["P320", "P120"]}),),
         "Step 1 (Sand through the grits): P120 is coarser than P320 before it"),
        ((Act("hot-coat", {"place": "hole", "colour": "red"}),), "Step 1 (Hot coat): there is no setting colour"),
        ((Act("hot-coat", {"place": "hole"}, when="moon"),), "Step 1 (Hot coat): “when” names moon"),
    ],
)  # fmt: skip
def test_a_recipe_that_is_wrong_names_the_step_and_the_field(acts: tuple, sentence: str):
    found = wrong(*acts)
    assert found
    assert found[0].startswith(sentence)
    priced = estimate(Recipe("one", "My recipe", 1, MEASURES, PLACES, acts), POCKET, SHOP, board=PU)
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
    assert sentence in wrong(Act("inspect"), places=places)[0]


def test_a_body_that_is_no_recipe():
    with pytest.raises(ValueError, match="lacks 'operations'"):
        Recipe.from_dict({"key": "a", "name": "A"})
    with pytest.raises(ValueError, match="A recipe is an object"):
        Recipe.from_dict({"key": "a", "name": "A", "operations": 7})
    body = {
        "key": "a",
        "name": "A",
        "operations": [],
        "measures": [{"name": "x", "label": "X", "dimension": "smell", "low": 0, "high": 1}],
    }
    with pytest.raises(ValueError, match="must be one of"):
        Recipe.from_dict(body)


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
