"""A recipe as a repairer reads and writes it: when a step is done, which materials fit it, how one is found."""

from __future__ import annotations

from django.urls import reverse

from inventory.catalogue.starting import STARTING_MATERIALS
from inventory.models import Material
from quotes import recipes as book
from quotes.costing import REGISTRY, STARTING_RECIPES
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.recipes.words import act_settings
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes.prices.test_recipes import laminating


def test_a_step_offers_only_materials_that_fit_and_refuses_another(versions, keeper, keeper_client, form_key):
    draft = book.edit_recipe(recipe=versions["ding-deck-medium"].recipe, signed=Signed(keeper, NOW))
    Material.objects.filter(key__startswith="cloth").update(kind="cloth")
    Material.objects.create(key="cloth-carbon", name="Carbon cloth", kind="cloth", unit="m2")
    Material.objects.create(key="wax-bar", name="Wax bar", kind="counter", unit="piece", shelf="counter")
    url, number, typed = laminating(draft)
    page = keeper_client.get(url).content.decode()
    offered = page.partition('name="plies_1"')[2].partition("</select>")[0]
    assert "Carbon cloth" in offered
    assert "Wax bar" not in offered
    assert "Microspheres" not in offered
    sent = {**typed, "plies_1": "wax-bar", "do": "keep", "submission_key": form_key()}
    answer = keeper_client.post(url, sent)
    assert answer.status_code == 422
    sentence = "must be cloth: Wax bar is kept under counter goods. Pick one of those offered."
    assert sentence in answer.content.decode()
    draft.refresh_from_db()
    assert "wax-bar" not in draft.body["operations"][number - 1]["settings"]["plies"]


def test_every_material_of_the_starting_recipes_is_of_a_kind_that_fits():
    kinds = {start.key: start.kind for start in STARTING_MATERIALS}
    for core in STARTING_RECIPES.values():
        for act in core.acts:
            for setting in REGISTRY[act.operation].settings:
                if not setting.kinds:
                    continue
                said = act.settings.get(setting.name, setting.default)
                for key in [said] if isinstance(said, str) else said:
                    assert not key or kinds[key] in setting.kinds, (core.key, act.operation, key)


def test_when_a_step_is_done_is_said_as_a_repairer_says_it(versions):
    core = CoreRecipe.from_dict(versions["glass-on-fin"].body)
    said = {words for act in core.acts for _, words in act_settings(act, core, {})}
    assert "only when there are pockets to fill" in said
    assert "only when there is paint" in said
    assert not [words for words in said if "not zero" in words]


def test_recipes_are_found_by_words_of_their_name_or_damage(versions, keeper_client):
    page = keeper_client.get(reverse("recipes"), {"q": "leash"}).content.decode()
    assert "<strong>Leash plug</strong>" in page
    assert "<strong>Pressure dent</strong>" not in page
    assert "No recipe has these words." in keeper_client.get(reverse("recipes"), {"q": "kayak"}).content.decode()
