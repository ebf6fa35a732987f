"""The physics of the bench against numbers published elsewhere, through the functions that the recipes call.

Each check names what was read. `test_every_formula_checked_here_is_one_that_a_recipe_calls` keeps it honest.
"""

from __future__ import annotations

import sys
from types import FrameType
from typing import Any

import pytest

from quotes.costing import CONSTANTS, STARTING_RECIPES, CoreRecipe, estimate
from quotes.costing.basis.going_off import Resin, Slowed, dose
from quotes.costing.basis.places import Rectangle
from quotes.costing.operations.coating import film_g, wax_ml
from quotes.costing.operations.cutting import scarf_mm
from quotes.costing.operations.filling import paste_density
from quotes.costing.operations.fins import fillet_radius_mm, patch_oval, rope_glass_g, rope_length_m
from quotes.costing.operations.foam import foam_mass_g
from quotes.costing.operations.laminating import (
    fibre_fraction,
    glass_share,
    ply_areas,
    ply_thickness_mm,
    styrene_kg_per_tonne,
    wet_out_g,
)
from quotes.costing.operations.mending import injected_ml
from quotes.costing.operations.painting import coverage_m2_per_l, sprayed_l, thinned
from quotes.costing.operations.sanding import GRITS, coarser_again
from quotes.costing.steps import curing
from quotes.costing.steps.mixing import parts
from tests.sample_shop import EPS, PU, SHOP, bench_at, sizes_for

SQ_FT = 0.09290304  # m², exact: NIST SP 811, appendix B.8
US_GALLON = 3.785411784  # L, exact: NIST SP 811, appendix B.8
FL_OZ = US_GALLON * 1000 / 128  # mL
MIL = 0.0254  # mm
OUNCE = 28.349523125  # g


def test_a_laminate_of_equal_weights_is_half_resin():
    """FAA AC 43.13-1B, chapter 3, para 3-3a(2): patches prepared 50 % resin by weight, so as much resin as cloth."""
    assert wet_out_g(86.0, 1.0) == 86.0
    assert glass_share(1.0) == 0.5


def test_a_scarf_is_fifty_times_the_skin():
    """FAA AC 43.13-1B, chapter 3, para 3-3a(1): taper 50 × facing thickness; 0.25 mm → 12.5 mm."""
    assert CONSTANTS["scarf_times_thickness"].value == 50
    assert scarf_mm(0.25, 50) == 12.5


@pytest.mark.parametrize(("resin_to_glass", "glass_percent"), [(2.5, 30), (1.25, 45)])
def test_glass_content_of_mat_and_woven_roving(resin_to_glass: float, glass_percent: float):
    """Practical Action, “Fibreglass boats”, mat 2.5 : 1 by weight (30 % glass), woven roving 1.25 : 1 (45 %)."""
    assert glass_share(resin_to_glass) * 100 == pytest.approx(glass_percent, abs=1.5)


@pytest.mark.parametrize(("fibre_percent", "resin_to_fibre"), [(30, 1.46), (40, 0.94), (50, 0.63), (60, 0.42)])
def test_fibre_volume_from_resin_to_fibre(fibre_percent: float, resin_to_fibre: float):
    """“Composites theory” (web page), table for a density ratio of 1.6: the same pairs, to the table's two decimals."""
    assert fibre_fraction(resin_to_fibre, 1.6) * 100 == pytest.approx(fibre_percent, abs=0.3)


def test_fibre_volume_of_a_weighed_sheet():
    """“Composites theory” (web page), carbon sheet.

    4.24 g fibre with 2.05 g epoxy at a density ratio of 1.6 is 56 %.
    """
    assert fibre_fraction(2.05 / 4.24, 1.6) == pytest.approx(0.56, abs=0.005)


def test_fibre_by_volume_and_by_weight_agree():
    """Online calculator of fibre mass fraction, worked line.

    0.58 by volume at 1.79 and 1.25 g/cm³ is 0.665 by weight.
    """
    resin_to_fibre = 1 / 0.6642 - 1
    assert fibre_fraction(resin_to_fibre, 1.79 / 1.25) == pytest.approx(0.58, abs=0.001)
    assert glass_share(resin_to_fibre) == pytest.approx(0.665, abs=0.002)


def test_thickness_of_a_ply_from_its_weight():
    """Online calculator of prepreg thickness, worked line: 225 g/m² in all, 0.6778 fibre, 1.79/1.25 → 0.143 mm."""
    fibre = 225 * 0.6778
    assert ply_thickness_mm(fibre, (225 - fibre) / fibre, 1790, 1250) == pytest.approx(0.143, abs=0.001)


def test_fifteen_mil_of_gelcoat_on_a_hundred_square_feet():
    """A supplier's “estimating coverage” page: about 1 gal; geometry says 0.935."""
    litres = film_g(100 * SQ_FT, 15 * MIL, 1200) / 1200
    assert litres / US_GALLON == pytest.approx(0.935, abs=0.001)
    assert litres / US_GALLON == pytest.approx(1.0, rel=0.08)


def test_epoxy_under_a_quarter_inch_notched_spreader():
    """T. Monville, Epoxyworks, notched spreader: about 3.2 oz on a square foot, 35 mil thick."""
    assert film_g(SQ_FT, 35 * MIL, 1150) / OUNCE == pytest.approx(3.2, rel=0.06)


def test_three_rolled_epoxy_coats():
    """B. Niederer, “Estimating Epoxy Amounts”, Epoxyworks: 0.0075 gal/ft² for three fill coats, 15 % waste in it."""
    each_g_m2 = 0.0075 * US_GALLON / SQ_FT / 3 * 1150
    net = CONSTANTS["hot_coat_epoxy_g_m2"].value  # the usage factor of a coat has the waste, and has it once
    assert net * CONSTANTS["coat_factor"].value == pytest.approx(each_g_m2, rel=0.005)


def test_spreading_rate_by_volume_solids():
    """“Theoretical Spreading Rate / Coverage” sheet: 65 % solids at 5 mil → 208.52 ft²/gal, at 125 µm → 5.2 m²/L."""
    assert coverage_m2_per_l(0.65, 125) == pytest.approx(5.2, abs=0.05)
    assert coverage_m2_per_l(0.65, 5 * MIL * 1000) * US_GALLON / SQ_FT == pytest.approx(208.52, rel=0.0005)


def test_coverage_with_transfer_efficiency():
    """R. Joseph, paintcenter.org, October 2003: a gallon at 52 % solids, 30 % transfer, 1.5 mil covers 167 ft²."""
    litres = sprayed_l(167 * SQ_FT, 1, 1.5 * MIL * 1000, 0.52, 0.30)
    assert litres / US_GALLON == pytest.approx(1.0, abs=0.003)


def test_thinner_and_loss():
    """A coatings blog's worked line: 50 % solids with 10 % thinner → 45.45; 60 µm → 7.57 m²/L; 30 % loss → 5.30."""
    solids = thinned(0.50, 0.10)
    assert solids * 100 == pytest.approx(45.45, abs=0.01)
    assert coverage_m2_per_l(solids, 60) == pytest.approx(7.57, abs=0.01)
    assert 1 / sprayed_l(1, 1, 60, solids, 0.70) == pytest.approx(5.30, abs=0.01)


def test_a_loss_of_thirty_per_cent_leaves_seventy():
    """Corrosionpedia, practical coverage: 100 less 30 % is 70."""
    assert 1 / sprayed_l(1, 1, 10, 1.0, 0.70) == pytest.approx(70)


@pytest.mark.parametrize("percent", [1, 2, 3, 4])
@pytest.mark.parametrize("resin_g", [500, 1000, 2000, 5000, 10_000])
def test_catalyst_chart(resin_g: float, percent: float):
    """A fibreglass supplier's catalyst chart: 500 g to 10 kg at 1 to 4 % take 5 to 400 mL, a millilitre as a gram.

    The chart checks the arithmetic only: 3 and 4 % are never a dose here (see the refusals).
    """
    assert dose(resin_g, percent, 1000, 17).ml == pytest.approx(resin_g * percent / 100)


@pytest.mark.parametrize(("percent", "cc"), [(0.5, 5), (0.75, 7), (1, 9), (1.5, 14), (2, 18)])
def test_catalyst_for_a_quart(percent: float, cc: float):
    """A shapers' forum thread quoting a surfboard book: a US quart takes 5, 7, 9, 14, 18 cc for ½, ¾, 1, 1½, 2 %."""
    assert dose(US_GALLON / 4 * 1000, percent, 1000, 17).ml == pytest.approx(cc, abs=0.95)


@pytest.mark.parametrize(
    ("wax_oz", "resin_oz", "percent"), [(0.25, 16, 1.5625), (0.5, 32, 1.5625), (2, 128, 1.5625), (4, 128, 3.125)]
)
def test_wax_in_styrene(wax_oz: float, resin_oz: float, percent: float):
    """An additive supplier's dosing page: ¼ oz to a pint, ½ oz to a quart, 2 oz to a gallon, 4 oz to a gallon."""
    resin_g = resin_oz * FL_OZ * 1.13
    assert wax_ml(resin_g, percent, 1130) == pytest.approx(wax_oz * FL_OZ)


def test_styrene_that_evaporates():
    """40 CFR 63 subpart VVVV, table 3, brushed resin at 35 %: 45.6 kg/Mg, just under the 46 kg/Mg of § 63.5714."""
    assert styrene_kg_per_tonne(35) == pytest.approx(45.6, abs=0.1)
    assert styrene_kg_per_tonne(35) < 46


@pytest.mark.parametrize(
    ("grit", "micron"),
    [(120, 125), (240, 58.5), (320, 46.2), (400, 35.0), (600, 25.8), (800, 21.8), (1200, 15.3)],
)
def test_grains_of_the_fepa_scale(grit: int, micron: float):
    """FEPA/ISO 6344 mean grain sizes, as reprinted; the sanding sequence is checked by them."""
    assert GRITS[grit].micron.value == micron
    assert coarser_again(["P1200", f"P{grit}"]) == ("" if grit == 1200 else f"P{grit} is coarser than P1200 before it: "
                                                    "grits go from coarse to fine.")  # fmt: skip


def test_ten_degrees_halve_and_double_the_pot_life_of_epoxy():
    """Two epoxy makers' support pages: every 18 °F (10 °C) halves or doubles gel and cure."""
    at_20, at_30, at_10 = (curing.slowing(bench_at(t), 24.0).hours_at(t) for t in (20.0, 30.0, 10.0))
    assert at_20 / at_30 == pytest.approx(2)
    assert at_10 / at_20 == pytest.approx(2)


def test_four_to_one_by_weight():
    """US Army TM 55-1905-223-SDC, para 8-24: 400 g resin and 100 g hardener make 500 g at 4 : 1."""
    assert parts(500, 4, 1) == (400, 100)


def test_densities_of_eps_blanks():
    """ASTM D6817, types I, VIII, II, IX as printed by a geofoam maker: 14.4, 18.4, 21.6, 28.8 kg/m³ at least."""
    eps = CONSTANTS["core_density_eps"]
    assert (eps.low, eps.value, eps.high) == (14.4, 18.4, 28.8)


def test_gel_of_polyester_as_it_was_seen():
    """Data sheet of a laminating resin (R120 LSE): 2 parts at 25 °C, 20 to 45 min. A seller's guide: 2 % at 20 °C, pot
    life 15 to 20 min. The range on the job sheet overlaps both.
    """
    low, high = curing.hangs_on(bench_at(25.0), "polyester", 15.5).gel_minutes(25.0, 2.0)
    assert low < 45
    assert high > 20
    low, high = curing.hangs_on(bench_at(20.0), "polyester", 15.5).gel_minutes(20.0, 2.0)
    assert low < 15
    assert high > 20


# Worked examples, derived by hand from the figures beside them


@pytest.mark.parametrize(
    ("areal", "ratio", "mm"),
    [(135.6, 1.0, 0.166), (135.6, 1.25, 0.195), (135.6, 1.5, 0.223), (203.4, 1.0, 0.250), (203.4, 1.25, 0.292),
     (203.4, 1.5, 0.334)],
)  # fmt: skip
def test_thickness_of_four_and_six_ounce_plies(areal: float, ratio: float, mm: float):
    """135.6/2540 + 135.6 × r/1200 and the same for 203.4 g/m²; E-glass 2540, cured polyester 1200 kg/m³."""
    assert ply_thickness_mm(areal, ratio, 2540, 1200) == pytest.approx(mm, abs=0.001)


@pytest.mark.parametrize(
    ("resin", "filler", "share", "density"),
    [(1200, 250, 0.10, 870), (1200, 250, 0.15, 764), (1200, 250, 0.20, 682), (1150, 150, 0.10, 690),
     (1150, 150, 0.20, 493), (1150, 150, 0.30, 383)],
)  # fmt: skip
def test_density_of_filler_paste(resin: float, filler: float, share: float, density: float):
    """1/ρ = (1 − w)/ρ_resin + w/ρ_filler, by hand."""
    assert paste_density(resin, filler, share) == pytest.approx(density, abs=0.6)


@pytest.mark.parametrize(("density", "times"), [(32, 37), (56, 21), (64, 19)])
def test_ideal_expansion_of_pour_foam(density: float, times: float):
    """A foam maker: 10 lb/US gal of liquid, 1198 kg/m³; foam of 32, 56, 64 kg/m³ is 37, 21, 19 times its liquid."""
    liquid = foam_mass_g(1000.0, density, 0.0, 1.0) / CONSTANTS["foam_liquid_density"].value * 1000
    assert 1000 / liquid == pytest.approx(times, abs=0.5)


def test_ropes_of_three_small_fins():
    """3 fins of 115 mm, 2 ropes of 2400 tex a side, 25 mm over: 1.98 m, 4.75 g of glass, 7.1 g of resin."""
    length = rope_length_m(3, 2, 115, 25)
    assert length == pytest.approx(1.98)
    glass = rope_glass_g(length, 2400)
    assert glass == pytest.approx(4.75, abs=0.005)
    assert wet_out_g(glass, 1.5) == pytest.approx(7.1, abs=0.05)


def test_ropes_of_one_large_fin():
    """1 fin of 150 mm, 15 strands of 2000 tex a side, 25 mm over: 6.0 m, 12.0 g of glass, 18.0 g of resin."""
    length = rope_length_m(1, 15, 150, 25)
    assert length == pytest.approx(6.0)
    assert rope_glass_g(length, 2000) == pytest.approx(12.0)
    assert wet_out_g(12.0, 1.5) == 18.0


def test_fillet_of_fifteen_strands():
    """15 × 2000 tex / 2540 is 11.8 mm² of glass; at 40 % in (1 − π/4) R² that is R = 11.7 mm."""
    assert fillet_radius_mm(15, 2000, 0.40, 2540) == pytest.approx(11.7, abs=0.05)


def test_fin_side_patches():
    """An oval of 240 × 120 mm is 0.02262 m²; 2 sides × 2 layers of 203.4 g/m² are 18.4 g of glass, 22 g of resin."""
    oval = patch_oval(120, 165, 75, 0)
    assert oval.area_m2 == pytest.approx(0.02262, abs=0.00001)
    glass = oval.area_m2 * 4 * 203.4
    assert glass == pytest.approx(18.4, abs=0.05)
    assert wet_out_g(glass, 1.2) == pytest.approx(22, abs=0.15)


def test_plies_of_a_small_ding():
    """120 × 80 mm with 25 mm, then 35 mm past it: 0.17 × 0.13 and 0.19 × 0.15 m, 6.9 g of 4 oz, 8.2 g of resin."""
    areas = ply_areas(Rectangle(120, 80), 2, 25, 10)
    assert areas == pytest.approx([0.17 * 0.13, 0.19 * 0.15])
    glass = sum(areas) * 135.6
    assert glass == pytest.approx(6.9, abs=0.05)
    assert wet_out_g(glass, 1.2) == pytest.approx(8.2, abs=0.05)
    assert film_g(0.24 * 0.20, 0.25, 1130) == pytest.approx(13.6, abs=0.05)


def test_resin_under_a_lifted_patch():
    """10 × 15 cm with a gap of 0.8 mm is 12 mL; 40 % over is 16.8 mL, 19 g of resin."""
    assert injected_ml(150, 0.8, 0.4) == pytest.approx(16.8)
    assert pytest.approx(19, abs=0.05) == 16.8 * 1.13


# Common practice, no source: what the trade takes for usual, kept as settings that a shop may change


@pytest.mark.parametrize(
    ("name", "value", "low", "high"),
    [
        ("foam_density", 56, 32, 96),
        ("rope_strands_per_side", 15, 6, 20),
        ("rope_overrun_mm", 25, 15, 50),
        ("patch_up_fin", 0.35, 0.30, 0.40),
        ("cant_tolerance_degrees", 1.0, 0.5, 2.0),
        ("least_mix_g", 20, 10, 30),
        ("cup_loss_g", 10, 5, 25),
    ],
)
def test_usual_figures_of_the_trade(name: str, value: float, low: float, high: float):
    """Common practice, no source."""
    constant = CONSTANTS[name]
    assert (constant.value, constant.low, constant.high) == (value, low, high)
    assert constant.source == "common practice, no source"
    assert constant.adjustable


def test_four_and_six_ounce_over_a_filled_cavity():
    """Common practice, no source: 4 + 6 = 10 oz/yd² = 339 g/m² of glass (1 oz/yd² = 33.905 75 g/m², NIST SP 811)."""
    assert SHOP.materials["cloth-4oz"].areal_weight_g_m2 + SHOP.materials[
        "cloth-6oz"
    ].areal_weight_g_m2 == pytest.approx(10 * 33.90575, abs=0.1)


def test_starting_recipes_do_not_pass_the_trades_usual_figures_off_as_their_own():
    """Common practice is 56 kg/m³ foam, 4 + 6 oz, 15 strands, 25 mm over: the glass-on recipes choose otherwise."""
    settings = {act.operation: act.settings for act in STARTING_RECIPES["glass-on-fin"].acts}
    assert settings["pour-foam"]["foam"] == "foam-64"
    assert settings["laminate"]["plies"] == ["cloth-6oz", "cloth-6oz"]
    assert settings["rope-fin"]["strands"] == 12
    assert settings["rope-fin"]["overrun_mm"] == 30


def test_every_formula_checked_here_is_one_that_a_recipe_calls():
    """A formula that only a test calls proves nothing about a price."""
    checked = {
        function.__code__: function.__name__
        for function in (
            dose, Resin.gel_minutes, parts, film_g, wax_ml, scarf_mm, paste_density, fillet_radius_mm, patch_oval,
            rope_glass_g, rope_length_m, foam_mass_g, fibre_fraction, glass_share, ply_areas, ply_thickness_mm,
            styrene_kg_per_tonne, wet_out_g, injected_ml, coverage_m2_per_l, sprayed_l, thinned, Slowed.hours_at,
        )
    }  # fmt: skip
    seen: set[Any] = set()

    def watch(frame: FrameType, event: str, _: Any) -> None:
        if event == "call":
            seen.add(frame.f_code)

    sys.setprofile(watch)
    try:
        for known in STARTING_RECIPES.values():
            # A fresh copy: the one that all share keeps the steps that an earlier estimate worked out.
            recipe = CoreRecipe.from_dict(known.to_dict())
            for board in (PU, EPS):
                sizes = sizes_for(recipe)
                assert estimate(recipe, sizes, SHOP, board=board, accepted_odd=sizes).priced is not None
    finally:
        sys.setprofile(None)
    assert {name for code, name in checked.items() if code not in seen} == set()
    assert [recipe.problems() for recipe in STARTING_RECIPES.values() if recipe.problems()] == []
