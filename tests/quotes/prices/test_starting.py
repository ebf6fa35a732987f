"""What a new shop has on its first day fits together: every starting recipe finds its materials."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from inventory.catalogue.starting import STARTING_MATERIALS, load_starting_materials
from inventory.models import Material
from quotes.costing import (
    STARTING_RECIPES,
    Construction,
    CoreMaterial,
    CoreRecipe,
    Given,
    Price,
    Pricing,
    Shop,
    estimate,
)
from quotes.models import Recipe
from quotes.recipes import load_starting_recipes
from tests.conftest import NOW

PU = Construction("pu", "polyester", "glass")
CORE = {
    s.key: CoreMaterial(
        key=s.key,
        name=s.name,
        unit=s.unit.value,
        price=Price(1.0, "a price for the test"),
        density_kg_m3=s.density and float(s.density),
        areal_weight_g_m2=s.areal and float(s.areal),
        roll_width_mm=s.width and float(s.width),
        free_rise_kg_m3=s.rise and float(s.rise),
        facts=s.facts,
        hazard=s.hazard,
    )
    for s in STARTING_MATERIALS
}


@pytest.mark.parametrize("key", sorted(STARTING_RECIPES))
def test_a_starting_recipe_is_priced_with_the_starting_materials_alone(key):
    recipe = STARTING_RECIPES[key]
    middle = {m.name: Given(2.0 if m.dimension == "count" else (m.low * m.high) ** 0.5) for m in recipe.measures}
    shop = Shop(CORE, wage_per_hour=20.0, pricing=Pricing(tax_percent=13.5))
    result = estimate(recipe, middle, shop, board=PU, accepted_odd=list(middle))
    assert [p.text for p in result.problems] == []
    assert result.priced is not None
    assert result.minutes > 0


def test_setting_up_brings_materials_and_recipes_once(db):
    assert len(load_starting_materials()) == len(STARTING_MATERIALS)
    assert load_starting_materials() == []
    assert len(load_starting_recipes(at=NOW)) == len(STARTING_RECIPES)
    assert load_starting_recipes(at=NOW) == []
    assert str(Material.objects.get(key="cloth-6oz").areal_weight_g_m2) == "203.435"
    for recipe in Recipe.objects.all():
        assert CoreRecipe.from_dict(recipe.current.body) == replace(STARTING_RECIPES[recipe.key], version=1)


def test_materials_that_can_hurt_carry_their_caution():
    for start in STARTING_MATERIALS:
        if re.search(r"resin|foam|mekp|hardener|acetone|thinner|clear", start.key):
            assert start.hazard, start.key
