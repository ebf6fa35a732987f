"""Recipes that come with the house follow it after an update, until the shop writes versions of its own."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.urls import reverse

from quotes import recipes as book
from quotes.costing import STARTING_RECIPES
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.models import PriceListRow, Recipe, RecipeVersion
from quotes.pricelist import load_starting_rows, price_list
from quotes.recipes.versions import same_words
from shop.models import JournalEntry
from shop.platform.acts import Signed
from shop.platform.updating import bring_up
from tests.conftest import NOW, TODAY
from tests.quotes.bench.test_bench_pages import post
from tests.reading import says

LATER = NOW + timedelta(days=3)
KEY = "paint-repair"


def of_before(key: str = KEY) -> dict:
    """The recipe as a house of before had it: a clear over paint wet-sanded from P400, which is refused now."""
    body = STARTING_RECIPES[key].to_dict()
    for act in body["operations"]:
        if act["settings"].get("title") == "Wet sand the clear":
            act["settings"] = {**act["settings"], "grits": ["P400", "P800"]}
    return {**body, "about": "As it was.", "name": "Paint of before"}


def problems(version: RecipeVersion) -> str:
    core = CoreRecipe.from_dict(version.body)
    return " ".join(one.text for one in core.problems() or core.layer_problems())


@pytest.fixture
def before(versions):
    """A shop whose recipe came with an earlier house."""
    recipe = versions[KEY].recipe
    recipe.versions.update(body=of_before())
    Recipe.objects.filter(pk=recipe.pk).update(name="Paint of before")
    return Recipe.objects.get(pk=recipe.pk)


def test_a_recipe_nobody_touched_follows_the_house_and_the_old_version_stays(before):
    old = before.current
    assert "P400" in problems(old)
    [said] = bring_up(at=LATER)
    assert said == f"1 of the house’s recipes have a new version: {STARTING_RECIPES[KEY].name}."
    before.refresh_from_db()
    new = before.current
    assert (new.number, new.by, new.made_at, before.name) == (2, None, LATER, STARTING_RECIPES[KEY].name)
    assert same_words(new.body, STARTING_RECIPES[KEY])
    assert problems(new) == ""
    assert before.versions.get(number=1).body == old.body
    [entry] = JournalEntry.objects.filter(verb="recipe.renew")
    assert entry.words == f"Recipe {before.name}, version 2: as the house has it now"
    assert list(bring_up(at=LATER)) == [], "done again it does nothing"
    assert Recipe.objects.count() == len(STARTING_RECIPES)
    assert RecipeVersion.objects.count() == len(STARTING_RECIPES) + 1


def test_what_the_shop_wrote_stays_and_its_page_says_that_the_house_moved_on(before, keeper, keeper_client, form_key):
    draft = book.edit_recipe(recipe=before, signed=Signed(keeper, NOW))
    assert list(bring_up(at=LATER)) == [], "a draft in hand would be lost behind a new version"
    body = {**STARTING_RECIPES[KEY].to_dict(), "about": "Ours."}
    draft = book.change_draft(draft=draft, turn=draft.turn, body=body, signed=Signed(keeper, NOW))
    book.save_draft(draft=draft, turn=draft.turn, signed=Signed(keeper, NOW))
    assert list(bring_up(at=LATER)) == []
    assert before.current.body["about"] == "Ours."
    page = reverse("recipe", args=[KEY])
    assert "The house’s own recipe has changed" in says(keeper_client.get(page))
    answer = post(keeper_client, form_key, reverse("recipe-edit", args=[KEY]), do="house")
    assert answer.status_code == 302
    before.refresh_from_db()
    assert same_words(before.draft.body, STARTING_RECIPES[KEY])
    save = book.save_draft(draft=before.draft, turn=before.draft.turn, signed=Signed(keeper, LATER))
    assert save.number == 3
    assert "The house’s own recipe has changed" not in says(keeper_client.get(page))


def test_a_recipe_of_the_shop_and_one_that_the_house_dropped_stay(versions, keeper):
    own = versions["fin-box"]
    RecipeVersion.objects.filter(pk=own.pk).update(by=keeper, body={**own.body, "about": "Ours."})
    gone = Recipe.objects.create(key="gone-from-the-house", name="Gone")
    RecipeVersion.objects.create(recipe=gone, number=1, body=of_before(), made_at=NOW)
    assert list(bring_up(at=LATER)) == []
    assert own.recipe.current.pk == own.pk
    assert gone.current.number == 1


def test_what_the_house_has_more_of_is_added(versions):
    versions["snap"].recipe.versions.all().delete()
    versions["snap"].recipe.delete()
    [said] = bring_up(at=LATER)
    assert said == f"1 recipes are new: {STARTING_RECIPES['snap'].name}."
    assert Recipe.objects.get(key="snap").current.number == 1


def test_before_set_up_an_update_brings_no_recipes(db):
    assert list(bring_up(at=NOW)) == []
    assert not Recipe.objects.exists()


def test_the_price_list_follows_and_a_part_of_a_quote_keeps_its_version(before, keeper):
    load_starting_rows()
    row = PriceListRow.objects.filter(recipe=before).first()
    now = {line.row.pk: [cell.price for cell in line.cells] for line in price_list(day=TODAY).lines}
    list(bring_up(at=LATER))
    after = {line.row.pk: [cell.price for cell in line.cells] for line in price_list(day=TODAY).lines}
    assert all(after[row.pk])
    assert {pk: prices for pk, prices in now.items() if pk != row.pk} == {
        pk: prices for pk, prices in after.items() if pk != row.pk
    }
