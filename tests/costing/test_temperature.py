"""A stored step told for another temperature: as an estimate made at that temperature, from the snapshot alone."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from quotes.costing import STARTING_RECIPES, estimate
from quotes.costing.snapshot import PlannedMix, Snapshot
from quotes.costing.steps.temperature import told, windows_at
from tests.sample_shop import EPS, PU, SHOP, sizes_for

RECIPES = tuple(STARTING_RECIPES.values())
RESINS = ("polyester", "epoxy")
WORKED = (16.0, 40.0)  # °C at which every resin may be worked


def snapshot(recipe, board, temperature, shop=SHOP):
    made = estimate(recipe, sizes_for(recipe), replace(shop, temperature_c=temperature), board=board)
    return Snapshot.from_json(json.loads(json.dumps(made.snapshot().to_json()))) if not made.problems else None


@pytest.mark.parametrize("board", [PU, EPS], ids=["PU", "EPS"])
@pytest.mark.parametrize("recipe", RECIPES, ids=lambda recipe: recipe.key)
@pytest.mark.parametrize(("quoted", "now"), [(20.0, 27.0), (27.0, 16.5), (18.0, 25.6)])
def test_a_stored_step_is_told_as_an_estimate_made_at_that_temperature_says_it(recipe, board, quoted, now):
    stored, fresh = snapshot(recipe, board, quoted), snapshot(recipe, board, now)
    if stored is None or fresh is None:
        pytest.skip("this recipe is refused on this board")
    for old, new in zip(stored.steps, fresh.steps, strict=True):
        for mix, wanted in zip(old.mixes, new.mixes, strict=True):
            if mix.system in RESINS:
                found, fresh_mix = told(mix, now).mix.to_json(), wanted.to_json()
                assert found.pop("gel_min") == pytest.approx(fresh_mix.pop("gel_min"))
                for name in ("by_temperature", "stirred_in", "ratio"):
                    assert found.pop(name, None) == fresh_mix.pop(name, None)
                assert found == pytest.approx(fresh_mix)
                assert (told(mix, now).for_c, told(mix, now).withheld) == (now, "")
    waits = windows_at(stored.steps, now)
    wanted_waits = [(step.earliest_start_h, step.latest_start_h) for step in fresh.steps]
    for (start, until), (fresh_start, fresh_until) in zip(waits, wanted_waits, strict=True):
        assert start == pytest.approx(fresh_start)
        assert until == (None if fresh_until is None else pytest.approx(fresh_until))


def laminate_mix(board, temperature, **facts):
    resin = replace(SHOP.materials["resin-lam"], facts=facts)
    shop = replace(SHOP, materials={**SHOP.materials, "resin-lam": resin})
    recipe = next(one for one in RECIPES if one.key == "ding-rail-small")
    steps = snapshot(recipe, board, temperature, shop).steps
    return next(step.mixes[0] for step in steps if step.operation == "laminate")


@given(now=st.floats(*WORKED), low=st.floats(0.8, 1.4), width=st.floats(0.2, 1.5))
def test_no_told_catalyst_leaves_the_band_of_its_data_sheet(now, low, width):
    mix = laminate_mix(PU, 20.0, catalyst_low=low, catalyst_high=low + width)
    found = told(mix, now).mix
    assert low - 1e-9 <= found.percent <= low + width + 1e-9
    assert found.catalyst_g == pytest.approx(found.resin_g * found.percent / 100)


@given(cold=st.floats(*WORKED), more=st.floats(0, 10))
def test_it_gels_sooner_in_the_warm_unless_catalyst_is_taken_back(cold, more):
    mix = laminate_mix(EPS, 20.0)
    early, late = (told(mix, t).mix.gel_min for t in (cold, cold + more))
    assert late[0] <= early[0] * (1 + 1e-9)
    assert late[1] <= early[1] * (1 + 1e-9)


def test_every_ten_degrees_halve_the_pot_life_of_epoxy():
    """Every 10 °C (18 °F) halves or doubles: an epoxy maker's note on speed (see `curing.HALVING`), Q 1.7 to 3."""
    mix = laminate_mix(EPS, 22.0)
    low, high = told(mix, 32.0).mix.gel_min
    assert (low, high) == (pytest.approx(20 / 3.0), pytest.approx(45 / 1.7))
    assert told(mix, 32.0).mix.hardener_g == mix.hardener_g  # the ratio is never changed to change the speed


@pytest.mark.parametrize(
    ("board", "now", "floor"), [(PU, 15.0, "15.5 °C that polyester"), (EPS, 11.5, "12 °C that epoxy")]
)
def test_below_the_floor_nothing_is_told_and_it_says_what_to_do(board, now, floor):
    found = told(laminate_mix(board, 20.0), now)
    assert floor in found.withheld
    assert found.withheld.endswith("warm shop, board and resin first.")


def test_the_data_sheets_own_floor_goes_before_the_trades():
    mix = laminate_mix(PU, 22.0, floor_c=18.0)
    assert "18 °C that polyester" in told(mix, 17.0).withheld
    assert not told(mix, 18.0).withheld


def test_a_mix_that_keeps_nothing_is_told_as_it_was_but_not_in_the_cold():
    kept = laminate_mix(PU, 22.0).to_json()
    del kept["told_for_c"], kept["by_temperature"]
    mix = PlannedMix.from_json(kept)
    assert told(mix, 27.0) == (mix, None, "")
    assert "15.5 °C" in told(mix, 14.0).withheld


def test_without_a_temperature_it_is_what_was_quoted():
    mix = laminate_mix(PU, 22.0)
    assert told(mix, None) == (mix, 22.0, "")
