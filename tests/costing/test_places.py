"""Places by hand: what a tape measures, and what comes of it."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from quotes.costing import CONSTANTS
from quotes.costing.basis.constants import derived, practice
from quotes.costing.basis.places import build_places
from tests.sample_shop import SHOP


def place(shape: str, **sizes: float):
    return build_places({"here": {"shape": shape, **sizes}}, {}, SHOP.figures)["here"]


def test_a_rectangle_and_its_hole():
    here = place("rectangle", length=120, width=80, depth=10)
    assert (here.area_cm2, here.perimeter_mm, here.volume_ml) == (96, 400, 96)
    assert here.grown(25).area_cm2 == pytest.approx(17 * 13)


def test_an_ellipse():
    here = place("ellipse", length=240, width=120)
    assert here.area_m2 == pytest.approx(0.02262, abs=0.00001)
    assert place("ellipse", length=100, width=100).perimeter_mm == pytest.approx(math.pi * 100)


def test_a_rail_is_measured_round_with_the_tape():
    assert place("rail-wrap", length=90, around=70).area_cm2 == pytest.approx(math.pi / 4 * 9 * 7)


def test_a_plug_is_a_round_hole():
    # π/4 × 30² × 20 mm = 14.1 mL
    assert place("plug", diameter=30, depth=20).volume_ml == pytest.approx(14.137, abs=0.001)


def test_a_fin_is_a_trapezium():
    here = place("fin", base=168, height=127, tip=96)
    assert here.area_cm2 == pytest.approx((16.8 + 9.6) / 2 * 12.7)
    assert here.perimeter_mm == pytest.approx(168 + 96 + 2 * math.hypot(127, 36))


def test_a_band_goes_from_rail_to_rail_and_widens_along_the_board_only():
    here = place("band", board_width=500, board_thickness=62, width=250)
    assert here.area_cm2 == pytest.approx(56.2 * 25)
    assert here.grown(20).area_cm2 == pytest.approx(56.2 * 29)


def test_a_deck_is_fuller_in_a_shop_that_says_so():
    own = replace(SHOP, constants={"deck_plan_form": (0.82, 0.75, 0.85)})
    spec = {"here": {"shape": "deck", "length": 1900, "width": 520}}
    assert build_places(spec, {}, SHOP.figures)["here"].area_m2 == pytest.approx(1.9 * 0.52 * 0.78)
    assert build_places(spec, {}, own.figures)["here"].area_m2 == pytest.approx(1.9 * 0.52 * 0.82)


def test_a_place_grows_out_of_another():
    spec = {
        "hole": {"shape": "rectangle", "length": "long", "width": 50, "depth": 20},
        "patch": {"shape": "grown", "of": "hole", "by": 30},
    }
    assert build_places(spec, {"long": 120.0}, SHOP.figures)["patch"].size_words == "180 × 110 mm"


@pytest.mark.parametrize("shape", ["rectangle", "ellipse", "fin", "band", "deck"])
def test_nothing_grows_out_of_nothing(shape: str):
    sizes = {"fin": {"base": 0, "height": 0}, "band": {"board_width": 0, "board_thickness": 0, "width": 0}}
    assert place(shape, **sizes.get(shape, {"length": 0, "width": 0})).grown(25).area_cm2 == 0


# The figures of the trade


def test_every_figure_has_a_unit_a_range_words_and_a_source():
    for constant in CONSTANTS.values():
        assert constant.low <= constant.value <= constant.high
        assert constant.unit, constant.name
        assert constant.words, constant.name
        assert constant.source, constant.name


def test_what_no_publication_stands_behind_is_the_shops_to_set():
    for constant in CONSTANTS.values():
        if constant.source in ("common practice, no source", "from memory"):
            assert constant.adjustable
        if constant.kind == "published" and not constant.data_sheet:
            assert not constant.adjustable


def test_no_address_stands_in_for_a_source():
    assert [c.name for c in CONSTANTS.values() if "http" in c.source or "www." in c.source or ".com" in c.source] == []


def test_a_figure_is_declared_once_and_in_order():
    with pytest.raises(ValueError, match="declared twice"):
        practice("cup_loss_g", 10, 5, 25, "g", "again")
    with pytest.raises(ValueError, match="low ≤ value ≤ high"):
        derived("upside_down", 10, 11, 12, "g", "x", source="y")
    assert "upside_down" not in CONSTANTS
