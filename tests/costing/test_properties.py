"""What holds for every size: more never costs less, nothing leaves only the set-up, parts make the whole."""

from __future__ import annotations

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from quotes.costing import REGISTRY, STARTING_RECIPES, CoreRecipe, Estimate, RecipeStep, cost_tree, estimate
from quotes.costing.basis.places import SHAPES, build_places
from quotes.costing.parts.measures import Measure
from quotes.costing.recipes.starting.pieces import length
from shop.measures.apportion import whole_numbers
from tests.sample_shop import EPS, PU, SHOP, sizes_for

FEW = settings(max_examples=40)
SIZES = st.floats(min_value=5, max_value=400)
PLACES = {
    "spot": {"shape": "ellipse", "length": "length", "width": "width", "depth": "depth"},
    "fin": {"shape": "fin", "base": "length", "height": "width", "tip": 40},
}
MEASURES = (
    length("length", "Length", 0, 5000),
    length("width", "Width", 0, 5000),
    length("depth", "Depth", 0, 400),
    Measure("times", "Times", "count", 0, 20, default=1.0),
)
# one act for every operation that works on a place, with what it must be told
ON_A_PLACE = {
    "rout": {"place": "spot"},
    "cut-back": {"place": "spot"},
    "level": {"place": "spot"},
    "pour-foam": {"place": "spot", "foam": "foam-64"},
    "fill": {"place": "spot"},
    "laminate": {"place": "spot", "plies": ["cloth-4oz", "cloth-6oz"]},
    "hot-coat": {"place": "spot"},
    "gloss-coat": {"place": "spot"},
    "sand": {"place": "spot", "grits": ["P120", "P400"]},
    "mask": {"place": "spot", "band_mm": 300},
    "spray-colour": {"place": "spot"},
    "spray-clear": {"place": "spot"},
    "polish": {"place": "spot"},
    "inject": {"place": "spot"},
    "make-fin": {"fin": "fin"},
    "tack-fin": {"fin": "fin"},
    "rope-fin": {"fin": "fin"},
    "fin-patches": {"fin": "fin", "plies": ["cloth-6oz"]},
    "sand-fillet": {"fin": "fin", "grits": ["P120", "P400"]},
}
BOARDS = [PU, EPS]


def alone(operation: str, sizes: dict[str, float], board=PU, **more) -> Estimate:
    act = RecipeStep(operation, {"times": "times", **ON_A_PLACE[operation], **more})
    recipe = CoreRecipe("one", "One step", 1, MEASURES, PLACES, (act,))
    assert recipe.problems() == []
    found = estimate(recipe, sizes, SHOP, board=board)
    assert found.problems == []
    return found


@FEW
@given(
    operation=st.sampled_from(sorted(ON_A_PLACE)), board=st.sampled_from(BOARDS), long=SIZES, wide=SIZES,
    deep=st.floats(1, 60), more=st.floats(0, 200), which=st.sampled_from(["length", "width", "depth"]),
)  # fmt: skip
def test_a_larger_place_never_costs_less(operation, board, long, wide, deep, more, which):
    sizes = {"length": long, "width": wide, "depth": deep}
    larger = {**sizes, which: sizes[which] + more}
    small, large = (alone(operation, one, board) for one in (sizes, larger))
    assert large.cost_unrounded >= small.cost_unrounded - 1e-9
    assert large.minutes >= small.minutes - 1e-9


@FEW
@given(operation=st.sampled_from(sorted(ON_A_PLACE)), board=st.sampled_from(BOARDS), times=st.integers(0, 8))
def test_one_more_of_them_never_costs_less(operation, board, times):
    sizes = {"length": 160.0, "width": 110.0, "depth": 12.0}
    fewer, more = (alone(operation, {**sizes, "times": n}, board) for n in (times, times + 1))
    assert more.cost_unrounded >= fewer.cost_unrounded - 1e-9


@FEW
@given(operation=st.sampled_from(sorted(ON_A_PLACE)), board=st.sampled_from(BOARDS))
def test_none_of_them_leaves_only_the_set_up(operation, board):
    nothing = alone(operation, {"length": 160.0, "width": 110.0, "depth": 12.0, "times": 0}, board)
    small = alone(operation, {"length": 160.0, "width": 110.0, "depth": 12.0, "times": 1}, board)
    stock = [x.name for x in nothing.lines if x.kind in ("material", "consumable")]
    assert [name for name in stock if name not in ("Mask cartridges, set", "Extractor bag")] == []
    assert nothing.steps[0].mixes == ()
    assert nothing.minutes <= small.minutes
    assert nothing.added_weight_g == 0


@pytest.mark.parametrize(
    ("operation", "setting", "less", "more"),
    [
        ("laminate", "plies", ["cloth-4oz"], ["cloth-4oz", "cloth-4oz"]),
        ("laminate", "plies", ["cloth-4oz", "cloth-4oz"], ["cloth-4oz", "cloth-4oz", "cloth-6oz"]),
        ("laminate", "resin_to_glass", 1.0, 1.4),
        ("rope-fin", "strands", 8, 12),
        ("rope-fin", "strands", 12, 20),
        ("rope-fin", "overrun_mm", 20, 45),
        ("fin-patches", "plies", ["cloth-6oz"], ["cloth-6oz", "cloth-4oz"]),
        ("hot-coat", "coats", 1, 2),
        ("hot-coat", "film_mm", 0.2, 0.3),
        ("gloss-coat", "coats", 1, 3),
        ("spray-colour", "coats", 2, 4),
        ("spray-clear", "coats", 1, 2),
        ("pour-foam", "overfill", 0.1, 0.3),
        ("polish", "passes", 1, 2),
        ("sand", "grits", ["P120"], ["P120", "P240"]),
    ],
)
@pytest.mark.parametrize("board", BOARDS)
def test_more_layers_strands_and_coats_cost_more(operation, setting, less, more, board):
    sizes = {"length": 210.0, "width": 160.0, "depth": 22.0}
    cheap, dear = (alone(operation, sizes, board, **{setting: value}) for value in (less, more))
    assert dear.cost_unrounded > cheap.cost_unrounded


def test_every_operation_is_tried_here_or_in_a_starting_recipe():
    used = {act.operation for recipe in STARTING_RECIPES.values() for act in recipe.acts}
    assert set(REGISTRY) - used - set(ON_A_PLACE) == {"allowance", "clean-up"}


@FEW
@given(key=st.sampled_from(sorted(STARTING_RECIPES)), scale=st.floats(0.6, 1.6), board=st.sampled_from(BOARDS))
def test_the_root_is_the_rounded_sum_of_the_leaves_and_the_cents_add_up(key, scale, board):
    recipe = STARTING_RECIPES[key]
    sizes = {
        m.name: value * (scale if m.dimension == "length" and key not in ("fin-box", "leash-plug") else 1)
        for m, value in ((m, sizes_for(recipe)[m.name]) for m in recipe.measures)
    }
    snapshot = estimate(recipe, sizes, SHOP, board=board, accepted_odd=sizes).snapshot()
    assert snapshot.problems == ()
    tree = cost_tree(snapshot)
    exact = math.fsum(leaf.cost for leaf in tree.leaves())
    assert abs(Decimal(snapshot.cost) - Decimal(str(exact))) <= Decimal("0.0050001")
    assert sum(Decimal(leaf.shown) for leaf in tree.leaves()) == Decimal(snapshot.cost)
    for leaf in tree.leaves():
        assert abs(float(leaf.shown) - leaf.cost) < 0.01 + 1e-9
    assert math.fsum(step.weight_g for step in snapshot.steps) == pytest.approx(snapshot.added_weight_g)
    assert math.fsum(step.minutes for step in snapshot.steps) == pytest.approx(snapshot.minutes)


@given(st.lists(st.floats(0, 5000), min_size=1, max_size=60))
def test_cents_spread_over_lines_add_up_and_stay_within_a_cent(costs):
    total = round(math.fsum(costs) * 100)
    shown = whole_numbers([cost * 100 for cost in costs], total)
    assert sum(shown) == total
    assert all(abs(cents - cost * 100) < 1 + 1e-6 for cents, cost in zip(shown, costs, strict=True))


@given(long=SIZES, wide=SIZES, by=st.floats(0, 100), shape=st.sampled_from(sorted(SHAPES)))
def test_a_place_that_grows_is_never_smaller(long, wide, by, shape):
    spec = {"shape": shape}
    for size in SHAPES[shape][1]:
        spec[size] = {"depth": 20, "tip": min(40, long)}.get(
            size, wide if size in ("width", "around", "height") else long
        )
    place = build_places({"here": spec}, {}, SHOP.figures)["here"]
    grown = place.grown(by)
    assert grown.area_cm2 >= place.area_cm2
    assert grown.perimeter_mm >= place.perimeter_mm * (1 - 1e-12)  # grown by less than a float can hold
    assert place.grown(0).area_cm2 == pytest.approx(place.area_cm2)


@given(st.floats(0.01, 500), st.floats(0.1, 3), st.floats(0, 300))
def test_both_parts_of_a_mix_make_the_mix(mixed, a, more):
    from quotes.costing.steps.mixing import parts

    first, second = parts(mixed, a, a + more)
    assert first + second == pytest.approx(mixed)
    assert first >= 0
    assert second >= 0


@FEW
@given(temperature=st.floats(16, 34))
def test_a_warmer_shop_never_waits_longer_nor_takes_more_catalyst(temperature):
    from quotes.costing.steps import curing, mixing
    from tests.sample_shop import bench_at

    cool, warm = bench_at(temperature), bench_at(temperature + 1)
    assert mixing.ladder(warm).percent(temperature + 1) <= mixing.ladder(cool).percent(temperature)
    for system in ("polyester", "epoxy"):
        for before, after in zip(curing.cure(cool, system)[:4], curing.cure(warm, system)[:4], strict=True):
            assert after <= before


@FEW
@given(k=st.floats(0.5, 2.5))
def test_a_larger_factor_never_costs_less(k):
    from quotes.costing import UsageFactor

    sizes = {"length": 210.0, "width": 160.0, "depth": 22.0}
    recipe = CoreRecipe(
        "one", "One", 1, MEASURES, PLACES, (RecipeStep("laminate", {"place": "spot", "plies": ["cloth-4oz"]}),)
    )
    low, high = (
        estimate(
            recipe,
            sizes,
            replace(SHOP, factors={("laminate", "resin-lam"): UsageFactor(x, x / 2, x * 2, "typed")}),
            board=PU,
        )
        for x in (k, k * 1.1)
    )
    assert high.cost_unrounded >= low.cost_unrounded
