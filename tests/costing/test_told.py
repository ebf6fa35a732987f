"""What is told at the bench: parts in the recipe's proportions, and as much in all as is planned and paid for."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from quotes.costing import STARTING_RECIPES, Construction, CoreRecipe, Estimate, RecipeStep, UsageFactor, estimate
from quotes.costing.operations import coating, fins, installing
from quotes.costing.recipes.starting.pieces import length
from quotes.costing.snapshot import PlannedMix
from tests.sample_shop import EPS, PU, SHOP, sizes_for

WASTEFUL = replace(
    SHOP,
    factors={
        (operation, resin): UsageFactor(1.7, 1.2, 2.4, "typed")
        for operation in ("fill", "install", "rejoin", "hot-coat", "tack-fin", "spray-colour", "spray-clear")
        for resin in ("resin-lam", "epoxy-resin", "basecoat", "clear-2k")
    },
    losses={"resin-lam": 1.8, "epoxy-resin": 0.6, "basecoat": 1.4},
)
FILLERS = {
    "fill": "microspheres",
    "install": "milled-fibre",
    "rejoin": "microspheres",
    "tack-fin": "chopped-strand",
    "hot-coat": "wax-styrene",
}
SCALE = 0.5  # half of the last figure that a scale of whole grams shows


def stirred_share(act: RecipeStep) -> float:
    """Filler to a gram of resin as the recipe says it: w/(1 − w) of a paste by weight."""
    told = act.settings
    if act.operation == "fill":
        share = told.get("share", 0.15)
    elif act.operation == "install":
        share = told.get("fibre_share", installing.SET_FIBRE.value)
    elif act.operation == "rejoin":
        share = told.get("share", 0.15)
    elif act.operation == "tack-fin":
        return fins.TACK_CHOP.value / fins.TACK_RESIN.value
    else:
        return coating.WAX_PERCENT.value / 100.0 / 1.13  # mL to a gram of resin of 1.13 kg/L
    return float(share) / (1.0 - float(share))


def figures(words: str, pattern: str) -> list[float]:
    found = re.search(pattern, words)
    assert found is not None, (pattern, words)
    return [float(one) for one in found.groups()]


def uses_of(found: Estimate, step: int) -> dict[str, float]:
    return {line.supply.material: line.use for at, line in found.rows if at == step and line.supply.material}


def told_dose(mix: PlannedMix) -> float:
    """Grams of mixed resin in one cup, as a scale of whole grams reads them; its two parts are in proportion."""
    if mix.system == "polyester":
        resin = round(mix.resin_g)
        share = mix.percent / 100
        assert round(mix.catalyst_g, 1) == pytest.approx(resin * share, abs=0.05 + SCALE * share + 1e-6)
        return resin
    resin, hardener = round(mix.resin_g), round(mix.hardener_g)
    ratio = mix.ratio[1] / mix.ratio[0]
    assert hardener == pytest.approx(resin * ratio, abs=SCALE + SCALE * ratio + 1e-6)
    return resin + hardener


@settings(max_examples=120, deadline=None)
@given(
    key=st.sampled_from(sorted(STARTING_RECIPES)), scale=st.floats(0.3, 6.0), board=st.sampled_from([PU, EPS]),
    shop=st.sampled_from([SHOP, WASTEFUL]), paint=st.sampled_from([0.0, 1.0]),
)  # fmt: skip
def test_told_parts_have_the_recipes_proportions_at_any_size(key, scale, board, shop, paint):
    """In every step of every starting recipe, within the scale's step; and what is told is what is paid for."""
    recipe = STARTING_RECIPES[key]
    fixed = ("fin-box", "leash-plug")
    sizes = {
        m.name: min(
            m.most,
            sizes_for(recipe)[m.name] * (max(scale, 1.0) if key in fixed else scale) ** (m.dimension == "length"),
        )
        for m in recipe.measures
    }
    sizes |= {name: paint for name in sizes if name == "paint"}
    found = estimate(recipe, sizes, shop, board=board, accepted_odd=sizes)
    assert found.problems == []
    acts = [act for act in recipe.acts if not act.when or sizes[act.when]]
    for act, step in zip(acts, found.steps, strict=True):
        check_step(act, step, uses_of(found, step.index), board)


def check_step(act: RecipeStep, step: Any, uses: dict[str, float], board: Construction) -> None:
    words = step.instruction
    for mix in step.mixes:
        resin = uses[mix.resin]
        assert resin == pytest.approx(mix.count * mix.resin_g)
        if mix.system == "pour foam":
            assert mix.resin_g <= (250 if board == PU else 60)
            assert mix.part_a_g == pytest.approx(mix.part_b_g)  # 1 : 1 on this shop's labels
            assert mix.part_a_g + mix.part_b_g == pytest.approx(mix.resin_g)
            continue
        cup = told_dose(mix)
        if act.operation not in FILLERS or (act.operation == "hot-coat" and mix.system == "epoxy"):
            continue
        share, filler = stirred_share(act), FILLERS[act.operation]
        [amount] = figures(words, r"(?:Stir|Wax) ([\d.]+) (?:g|mL)")
        step_of_scale = SCALE if amount >= 10 else 0.05
        assert amount == pytest.approx(cup * share, abs=step_of_scale + 2 * SCALE * share + 1e-6)
        assert uses[filler] == pytest.approx(mix.count * amount, abs=mix.count * step_of_scale + 1e-6)
    if act.operation in ("spray-colour", "spray-clear") and "mL in the cup" in words:
        cup, first, second = figures(words, r"([\d.]+) mL in the cup: ([\d.]+) mL \+ ([\d.]+) mL")
        keys = ("basecoat", "thinner") if act.operation == "spray-colour" else ("clear-2k", "clear-hardener")
        assert [first, second] == pytest.approx([uses[one] for one in keys], abs=SCALE + 1e-6)
        assert cup == pytest.approx(first + second, abs=3 * SCALE)


def alone(operation: str, board=PU, **told: Any) -> Estimate:
    places = {"here": {"shape": "box-pocket", "length": 130, "width": 40, "depth": 25}}
    recipe = CoreRecipe("one", "One", 1, (length("x", "X", 0, 9),), places, (RecipeStep(operation, told),))
    found = estimate(recipe, {"x": 1.0}, SHOP, board=board)
    assert found.problems == []
    return found


def test_the_fibre_of_a_fin_box_goes_with_the_resin_as_mixed():
    """By hand: a pocket of 130 mL less a box of 64.6 mL and 4 mL of rim is 69.4 mL; 15 % of fibre by weight.

    1/ρ = 0.85/1130 + 0.15/2540, so 85.5 g of paste, 72.7 g of resin in it; × 1.1 and 10 g in the cup is 89.9 g of
    resin, to which 0.15/0.85 of it is 15.9 g of fibre, and not the 12.8 g of the net paste.
    """
    found = alone("install", pocket="here")
    assert found.steps[0].mixes[0].resin_g == pytest.approx(89.95, abs=0.05)
    assert "Stir 16 g fibre into each mix" in found.steps[0].instruction
    uses = uses_of(found, 1)
    assert uses["resin-lam"] == pytest.approx(89.95, abs=0.05)
    assert uses["milled-fibre"] / (uses["milled-fibre"] + uses["resin-lam"]) == pytest.approx(0.15)


def test_the_paste_of_a_snapped_board_names_its_filler():
    found = alone("rejoin", face="here")
    [mix] = found.steps[0].mixes
    [filler] = mix.stirred_in
    assert (filler.material, filler.unit) == ("microspheres", "g")
    assert filler.amount == pytest.approx(mix.resin_g * 15 / 85)
    assert "g filler into each mix, after the hardener" in found.steps[0].instruction
    assert any("Microspheres float" in caution for caution in found.cautions)


def test_a_paste_without_filler_names_none():
    assert "Stir" not in alone("rejoin", face="here", share=0).steps[0].instruction


def test_the_smallest_mix_takes_filler_for_all_of_it():
    """The 20 g that can just be metered are all paste: 20 × 0.15/0.85 = 3.5 g of filler, told to a tenth."""
    places = {"here": {"shape": "ellipse", "length": 12, "width": 12, "depth": 3}}
    recipe = CoreRecipe("one", "One", 1, (length("x", "X", 0, 9),), places, (RecipeStep("fill", {"place": "here"}),))
    found = estimate(recipe, {"x": 1.0}, SHOP, board=PU)
    assert found.steps[0].mixes[0].resin_g == 20
    assert "Stir 3.5 g filler" in found.steps[0].instruction
    assert uses_of(found, 1)["microspheres"] == pytest.approx(20 * 0.15 / 0.85)


def test_what_the_shop_learned_of_its_resin_moves_the_filler_with_it():
    plain, wasteful = (estimate(STARTING_RECIPES["ding-deck-small"],
                                {"length": 92.0, "width": 64.0, "depth": 14.0, "paint": 0.0}, shop, board=PU)
                       for shop in (SHOP, WASTEFUL))  # fmt: skip
    for found in (plain, wasteful):
        step = next(one for one in found.steps if one.operation == "fill")
        uses = uses_of(found, step.index)
        assert uses["microspheres"] / uses["resin-lam"] == pytest.approx(0.15 / 0.85)
    assert wasteful.cost_unrounded > plain.cost_unrounded
