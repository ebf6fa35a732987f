"""Mixes: what goes into the cup, what stays in it, and how the dose reads at the bench."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from quotes.costing import CoreRecipe, Estimate, RecipeStep, estimate
from quotes.costing.operations.filling import lifts_needed
from quotes.costing.recipes.starting.pieces import length
from tests.sample_shop import EPS, PU, SHOP

MEASURES = (length("length", "Length", 0, 3000), length("width", "Width", 0, 900))
PLACES = {"spot": {"shape": "rectangle", "length": "length", "width": "width", "depth": 8}}


def one(
    operation: str, board=PU, *, size: tuple[float, float] = (120.0, 80.0), temperature: float = 22.0, **told: Any
) -> Estimate:
    recipe = CoreRecipe("one", "One", 1, MEASURES, PLACES, (RecipeStep(operation, {"place": "spot", **told}),))
    found = estimate(
        recipe, dict(zip(("length", "width"), size, strict=True)), replace(SHOP, temperature_c=temperature), board=board
    )
    assert found.problems == []
    return found


def uses(found: Estimate) -> dict[str, float]:
    return {line.supply.material: line.use for line in found.lines if line.supply.material}


def test_no_mix_is_smaller_than_can_be_metered():
    found = one("hot-coat", size=(30.0, 30.0))  # 0.9 g of film
    assert uses(found)["resin-lam"] == 20
    assert found.steps[0].mixes[0].resin_g == 20


def test_a_mix_leaves_its_cup_behind_whatever_its_size():
    small, large = (uses(one("hot-coat", size=(x, 300.0)))["resin-lam"] for x in (400.0, 800.0))
    # the film doubles, the 10 g in the cup do not
    assert large - 10 == pytest.approx(2 * (small - 10))


def test_more_than_one_cup_can_hold_in_time_is_mixed_again():
    found = one(
        "hot-coat", size=(2000.0, 800.0)
    )  # 1.6 m² × 0.25 mm × 1130 = 452 g, 520 g with excess: two of at most 350
    mix = found.steps[0].mixes[0]
    assert mix.count == 2
    assert uses(found)["resin-lam"] == pytest.approx(452 * 1.15 + 2 * 10)
    assert uses(found)["cup"] == uses(found)["stick"] == 2
    assert uses(found)["acetone"] == 40  # once a session


@pytest.mark.parametrize(("temperature", "percent"), [(15.5, 2.2), (17, 2.0), (22, 1.5), (26, 1.25), (28, 1.0)])
def test_catalyst_by_temperature(temperature: float, percent: float):
    """Common practice, no source: 2.0 to 2.5 % from 15.5 °C, 2.0 to 20 °C, 1.5 to 25 °C, 1.0 above 27 °C."""
    mix = one("laminate", temperature=temperature, plies=["cloth-4oz"]).steps[0].mixes[0]
    assert mix.percent == pytest.approx(percent)
    assert mix.catalyst_g == pytest.approx(mix.resin_g * percent / 100)
    assert mix.catalyst_ml == pytest.approx(mix.catalyst_g / 1.1)
    assert mix.drops == round(mix.catalyst_ml * 17)


def test_a_hot_coat_takes_wax_by_volume_of_the_resin_mixed():
    found = one("hot-coat", size=(400.0, 300.0))
    assert uses(found)["wax-styrene"] == pytest.approx(uses(found)["resin-lam"] / 1.13 * 0.03)
    assert "wax-styrene" not in uses(one("hot-coat", EPS, size=(400.0, 300.0)))


def test_epoxy_is_weighed_by_its_label():
    found = one("laminate", EPS, size=(400.0, 300.0), plies=["cloth-6oz"])
    mix = found.steps[0].mixes[0]
    resin, hardener = uses(found)["epoxy-resin"], uses(found)["epoxy-hardener"]
    assert hardener / resin == pytest.approx(0.43)
    assert mix.resin_g + mix.hardener_g == pytest.approx(resin + hardener)
    assert "mekp" not in uses(found)


def test_bare_eps_drinks_more_than_bare_pu():
    # 0.4 × 0.3 m: 100 g/m² on PU is 12 g, 200 on EPS is 24 g
    pu = one("laminate", PU, size=(400.0, 300.0), plies=["cloth-4oz"], system="epoxy")
    eps = one("laminate", EPS, size=(400.0, 300.0), plies=["cloth-4oz"], system="epoxy")
    need = [
        sum(x.need for x in found.lines if x.supply.material in ("epoxy-resin", "epoxy-hardener"))
        for found in (pu, eps)
    ]
    assert need[1] - need[0] == pytest.approx(12)


def test_thick_polyester_filler_is_put_in_by_lifts():
    recipe = CoreRecipe("one", "One", 1, MEASURES, {"hole": {"shape": "ellipse", "length": 90, "width": 60, "depth": 24}},
                    (RecipeStep("fill", {"place": "hole"}),))  # fmt: skip
    lifts = {
        board.core: estimate(recipe, {"length": 1, "width": 1}, SHOP, board=board).steps[0].mixes[0].count
        for board in (PU, EPS)
    }
    assert lifts == {"pu": 3, "eps": 3}  # 102 mL, 24 mm deep: lifts of 10 mm, for it heats itself


def test_a_small_or_shallow_hole_is_filled_in_one_lift():
    """Common practice, no source: to 10 mm deep, or to 60 mL, in one; deeper and larger in lifts of 10 mm."""
    assert lifts_needed(10.0, 400.0, 10.0, 60.0) == 1
    assert lifts_needed(24.0, 60.0, 10.0, 60.0) == 1
    assert lifts_needed(24.0, 61.0, 10.0, 60.0) == 3


def test_a_gun_keeps_its_share_whatever_is_sprayed():
    small, large = (uses(one("spray-clear", size=(x, 200.0))) for x in (200.0, 400.0))
    total = [one["clear-2k"] + one["clear-hardener"] for one in (small, large)]
    assert total[1] - 10 == pytest.approx(2 * (total[0] - 10))


def test_colour_for_a_spot_of_20_cm():
    """Common practice, no source: 20 to 25 µm dry in two or three thin coats; 15 to 20 mL and 10 mL for the gun."""
    found = uses(one("spray-colour", size=(200.0, 157.0)))  # a round of 314 cm²
    assert 25 <= found["basecoat"] + found["thinner"] <= 31


def test_gloves_solvent_and_masks_are_counted_to_the_last_pair():
    found = one("laminate", plies=["cloth-4oz"])
    assert {"gloves", "acetone", "cup", "stick", "rag", "cartridge-set"} <= set(uses(found))
    assert uses(found)["gloves"] == 1
    assert uses(one("hot-coat"))["brush"] == 0.25
    assert "gloves" not in uses(one("sand", grits=["P120"]))


def test_cautions_come_with_the_material():
    polyester, epoxy = (one("laminate", board, plies=["cloth-4oz"]).cautions for board in (PU, EPS))
    assert any("MEKP" in words for words in polyester)
    assert any("sensitises" in words for words in epoxy)
    assert not any("data sheet" in words for words in polyester + epoxy)  # said once, by whoever shows them
