"""Recipes as the keeper writes them: drafts, versions, copies, and the sentence for each thing that is wrong."""

from __future__ import annotations

import json
import re
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from inventory.models import Material, PackPrice
from quotes import quoting
from quotes import recipes as book
from quotes.costing import REGISTRY, STARTING_RECIPES, Construction
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.estimating import shop_inputs
from quotes.forms.recipes import MeasureForm, PlaceForm
from quotes.forms.steps import StepForm
from quotes.models import Factor, Recipe, RecipeDraft, RecipeVersion
from quotes.pricelist import add_row
from quotes.recipes.drafts import moved, put, without
from quotes.recipes.words import what_changed
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.conftest import refusal
from tests.reading import says

EPS = {"core": "eps", "resin": "epoxy", "skin": "glass"}
POLYESTER_ON_EPS = "Polyester melts EPS foam, and this board's core is EPS: use epoxy."


@pytest.fixture
def draft(versions, keeper):
    return book.edit_recipe(recipe=versions["ding-deck-medium"].recipe, signed=Signed(keeper, NOW))


def change(draft, keeper, **body):
    return book.change_draft(draft=draft, turn=draft.turn, body={**draft.body, **body}, signed=Signed(keeper, NOW))


def save(draft, keeper):
    return book.save_draft(draft=draft, turn=draft.turn, signed=Signed(keeper, NOW))


def step(operation, **settings):
    return {"operation": operation, "settings": settings}


# --- versions ---------------------------------------------------------------------------------------------------------


def test_every_save_is_a_new_version_and_the_old_one_stays_as_it_was(draft, keeper):
    before = json.dumps(draft.recipe.current.body, sort_keys=True)
    draft = change(draft, keeper, about="Ours.")
    version = save(draft, keeper)
    assert (version.number, version.body["about"]) == (2, "Ours.")
    assert json.dumps(version.recipe.versions.get(number=1).body, sort_keys=True) == before
    assert not RecipeDraft.objects.exists()


def test_a_quote_keeps_the_version_it_was_priced_with(quote, versions, keeper, counter):
    keels = quote.boards.get().ways.get(position=2)
    draft = book.edit_recipe(recipe=versions["glass-on-twin"].recipe, signed=Signed(keeper, NOW))
    draft = change(draft, keeper, operations=[*draft.body["operations"], step("inspect", minutes=600.0)])
    assert save(draft, keeper).number == 2
    price = keels.gross
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    keels.refresh_from_db()
    assert keels.parts.get().recipe_version.number == 1
    assert keels.gross == price


def test_saving_what_was_not_changed_is_refused(draft, keeper):
    assert refusal(lambda: save(draft, keeper)) == {"__all__": ["Nothing was changed, so there is no new version."]}


def test_a_page_that_is_no_longer_up_to_date_changes_nothing(draft, keeper):
    change(draft, keeper, about="first window")
    old = RecipeDraft(pk=draft.pk, turn=0, body=draft.body)
    said = refusal(lambda: book.change_draft(draft=old, turn=0, body=draft.body, signed=Signed(keeper, NOW)))
    assert "another window" in said["__all__"][0]
    assert RecipeDraft.objects.get().body["about"] == "first window"


def test_a_copy_is_a_recipe_of_its_own_and_says_where_it_comes_from(versions, keeper):
    draft = book.copy_recipe(version=versions["snap"], name="Snap, our way", signed=Signed(keeper, NOW))
    assert (draft.key, draft.body["name"]) == ("snap-our-way", "Snap, our way")
    made = save(draft, keeper)
    assert (made.recipe.key, made.number, made.copied_from) == ("snap-our-way", 1, versions["snap"])
    assert book.descent(made) == [versions["snap"]]
    assert (
        "name of its own"
        in refusal(
            lambda: book.copy_recipe(version=versions["snap"], name="snap, our way", signed=Signed(keeper, NOW))
        )["name"][0]
    )


def test_a_loop_of_copies_is_named(versions, keeper):
    first, second = versions["snap"], versions["buckle"]
    RecipeVersion.objects.filter(pk=first.pk).update(copied_from=second)
    RecipeVersion.objects.filter(pk=second.pk).update(copied_from=first)
    first.refresh_from_db()
    said = refusal(lambda: book.descent(first))["__all__"][0]
    assert said.startswith("Snapped board, version 1, field “copied from”: it goes back to Snapped board, version 1")


def test_a_recipe_is_retired_not_deleted_and_comes_back(versions, keeper):
    recipe = versions["snap"].recipe
    book.retire_recipe(recipe=recipe, signed=Signed(keeper, NOW))
    assert recipe.pk not in RecipeVersion.objects.current().values_list("recipe", flat=True)
    assert Recipe.objects.filter(pk=recipe.pk).exists()
    assert (
        "retired already"
        in refusal(lambda: book.retire_recipe(recipe=recipe, signed=Signed(keeper, NOW)))["__all__"][0]
    )
    book.bring_back(recipe=recipe, signed=Signed(keeper, NOW))
    assert recipe.pk in RecipeVersion.objects.current().values_list("recipe", flat=True)


def test_a_recipe_on_the_wall_is_not_retired_under_it(versions, keeper):
    recipe = versions["snap"].recipe
    add_row(repair="Snapped in two", size="shortboard", recipe=recipe, only_from=True, signed=Signed(keeper, NOW))
    said = refusal(lambda: book.retire_recipe(recipe=recipe, signed=Signed(keeper, NOW)))["__all__"][0]
    assert "The price list shows Snapped board as “Snapped in two, shortboard”" in said


def test_what_changed_between_two_versions_is_said_in_words():
    old = STARTING_RECIPES["ding-deck-medium"].to_dict()
    laminate = next(i for i, act in enumerate(old["operations"]) if act["operation"] == "laminate")
    acts = [dict(act) for act in old["operations"]]
    acts[laminate] = step("laminate", **{**acts[laminate]["settings"], "overlap_mm": 30.0})
    new = {**old, "about": "Ours.", "operations": [*acts, step("polish", place="hole")]}
    sentences = what_changed(old, new, {})
    assert any(s.startswith("What it is: ") and s.endswith("→ Ours.") for s in sentences)
    assert f"Step {laminate + 1} Laminate, first ply past the damage: as usual → 30 mm" in sentences
    assert f"Step {len(acts) + 1} put in: Polish" in sentences


def test_a_body_means_the_same_when_a_database_sorts_its_keys():
    for core in STARTING_RECIPES.values():
        assert CoreRecipe.from_dict(json.loads(json.dumps(core.to_dict(), sort_keys=True))) == core


# --- what is wrong, in a sentence -------------------------------------------------------------------------------------


def test_a_recipe_without_operations_is_not_saved(draft, keeper):
    draft = change(draft, keeper, operations=[])
    assert refusal(lambda: save(draft, keeper)) == {
        "__all__": ["Open ding on the deck, medium has no operations: add at least one."]
    }


def test_an_unknown_measure_is_named_with_its_operation_and_field(draft, keeper):
    draft = change(draft, keeper, operations=[step("inspect", minutes="moons")])
    assert refusal(lambda: save(draft, keeper)) == {
        "__all__": ["Step 1 (Inspect and dry-wipe): minutes names moons, which is no measure of this recipe."]
    }


def test_places_that_grow_out_of_each_other_are_named(draft, keeper):
    ring = [{"name": n, "shape": "grown", "of": of, "by": 5} for n, of in (("one", "two"), ("two", "one"))]
    draft = change(draft, keeper, places=[*draft.body["places"], *ring])
    said = refusal(lambda: save(draft, keeper))["__all__"]
    assert (
        said[0] == "The place one, “grows”: it grows two, which grows one: a loop. Give one of them sizes of its own."
    )


def test_limits_of_a_measure_the_wrong_way_round_are_named(versions):
    body = versions["delamination"].body
    data = {"label": "Bubble", "dimension": "length", "low": "6 cm", "high": "20 mm", "default": "", "hint": ""}
    form = MeasureForm(data, body=body)
    assert not form.is_valid()
    assert form.errors["high"] == ["The measure Bubble must have low ≤ high; 20 is below 60."]


def test_a_usage_factor_out_of_order_is_refused(db):
    from django.core.exceptions import ValidationError

    with pytest.raises(ValidationError, match="low ≤ value ≤ high"):
        Factor(operation="laminate", material="resin-lam", value=1, low=1.2, high=1.5, source="typed").full_clean()


def problems(version, **reference):
    made = book.on_reference(version.body, reference, shop_inputs(day=TODAY))
    return made.priced, [(REGISTRY[p.operation].name if p.operation else "", p.field, p.text) for p in made.problems]


def test_a_retired_material_leaves_no_price_and_is_named(versions):
    Material.objects.filter(key="microspheres").update(retired_at=NOW)
    priced, said = problems(versions["pressure-dent"])
    assert priced is None
    assert said == [
        ("Thickened filler", "material", "“Microspheres” is retired: choose another material in the recipe.")
    ]


def test_a_material_without_density_where_a_volume_is_asked_leaves_no_price(versions):
    Material.objects.filter(key="acetone").update(unit="g", density_kg_m3=None)
    priced, said = problems(versions["leash-plug"])
    assert priced is None
    sentence = "“Acetone” has no density, needed to count mL in g: add it in the store."
    assert ("density_kg_m3", sentence) in {(field, text) for _, field, text in said}
    assert all(operation for operation, _, _ in said)


def test_polyester_on_an_eps_board_is_refused_in_the_same_words_everywhere(
    versions, draft, keeper, counter, keeper_client, form_key
):
    polyester = [
        step(one["operation"], **{**one["settings"], "system": "polyester"}) if one["operation"] == "laminate" else one
        for one in draft.body["operations"]
    ]
    draft = book.change_draft(
        draft=draft,
        turn=0,
        body={**draft.body, "operations": polyester},
        reference={"board": EPS},
        signed=Signed(keeper, NOW),
    )
    page = says(keeper_client.get(reverse("recipe-edit", args=[draft.key])))
    in_editor = re.findall(r"Polyester melts EPS foam[^<]*", page)

    version = save(draft, keeper)
    takein = quoting.take_in(
        brought_by=seed.customer(), board=seed.fish(core="eps", resin="epoxy"), damages=[seed.rail_ding()],
        checks=seed.checked(), signed=Signed(counter, NOW),
    )  # fmt: skip
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, NOW))
    in_form = refusal(
        lambda: quoting.add_way(
            board=quote.boards.get(), version=version, measures=seed.DING, signed=Signed(counter, NOW)
        )
    )["__all__"]

    told = StringIO()
    with pytest.raises(SystemExit):
        call_command(
            "price", "ding-deck-medium", "--core", "eps",
            *(f"--measure={name}={typed}" for name, typed in seed.DING.items()), stderr=told,
        )  # fmt: skip
    assert [one.replace("&#x27;", "'").strip() for one in set(in_editor)] == [POLYESTER_ON_EPS]
    assert in_form == [POLYESTER_ON_EPS]
    assert told.getvalue().strip() == POLYESTER_ON_EPS


# --- the editor -------------------------------------------------------------------------------------------------------


def entries(form):
    """What a browser sends for a form as it is shown."""
    sent = {}
    for field in form:
        value = field.value()
        if value not in (None, "", False, []):
            sent[field.html_name] = value
    return sent


def test_opening_a_part_and_keeping_it_changes_nothing(versions):
    materials = [(row.key, row.name, row.kind) for row in Material.objects.all()]
    for version in versions.values():
        opened_and_kept(version.body, materials)


def opened_and_kept(body, materials):
    for index, act in enumerate(body["operations"]):
        given = {"body": body, "index": index, "operation": REGISTRY[act["operation"]], "materials": materials}
        form = StepForm(entries(StepForm(None, figures={}, **given)), figures={}, **given)
        assert form.is_valid(), (index, form.errors)
        assert CoreRecipe.from_dict(form.changed()) == CoreRecipe.from_dict(body)
    for kind, part in ((MeasureForm, "measures"), (PlaceForm, "places")):
        for index in range(len(body[part])):
            form = kind(entries(kind(None, body=body, index=index)), body=body, index=index)
            assert form.is_valid(), (part, index, form.errors)
            assert CoreRecipe.from_dict(form.changed()) == CoreRecipe.from_dict(body)


def test_parts_move_and_go():
    body = {"operations": ["a", "b", "c"]}
    assert moved(body, "operations", 2, -1)["operations"] == ["a", "c", "b"]
    assert moved(body, "operations", 0, -1)["operations"] == ["a", "b", "c"]
    assert without(body, "operations", 1)["operations"] == ["a", "c"]
    assert put(body, "operations", "x", 1)["operations"] == ["a", "x", "b", "c"]
    assert put(body, "operations", "x", 1, instead=True)["operations"] == ["a", "x", "c"]
    assert body == {"operations": ["a", "b", "c"]}


def laminating(draft):
    acts = draft.body["operations"]
    number = next(n for n, act in enumerate(acts, 1) if act["operation"] == "laminate")
    settings = acts[number - 1]["settings"]
    plies = {f"plies_{n}": key for n, key in enumerate(settings["plies"], 1)}
    typed = {"place": settings["place"], "system": "by board", "onto": "last coat", "over": "foam", **plies}
    return reverse("recipe-step", args=[draft.key, number]), number, {"turn": draft.turn, **typed}


def test_a_step_is_changed_with_a_typed_unit_and_kept_in_the_draft(draft, keeper_client, form_key):
    url, number, typed = laminating(draft)
    answer = keeper_client.post(url, {**typed, "overlap_mm": "2 in", "do": "keep", "submission_key": form_key()})
    assert answer.status_code == 302
    draft.refresh_from_db()
    assert draft.body["operations"][number - 1]["settings"]["overlap_mm"] == pytest.approx(50.8)  # 2 × 25.4


def test_the_price_is_worked_out_by_a_button_or_on_the_fly_and_nothing_is_kept(draft, keeper_client, form_key):
    url, _, typed = laminating(draft)
    more = {**typed, "overlap_mm": "120", "submission_key": form_key()}
    by_button = keeper_client.post(url, {**more, "do": "price"})
    on_the_fly = keeper_client.post(url, more, headers={"HX-Request": "true", "HX-Target": "price"})
    assert by_button.status_code == on_the_fly.status_code == 200
    assert "in the last version" in says(by_button)
    assert 'value="120"' in says(by_button)
    assert "in the last version" in says(on_the_fly)
    assert "<html" not in says(on_the_fly)
    draft.refresh_from_db()
    assert draft.turn == 0
    assert by_button.context["panel"]["price"] == on_the_fly.context["panel"]["price"]


def test_what_the_operation_refuses_stands_beside_its_box_and_the_entry_stays(draft, keeper_client, form_key):
    url, _, typed = laminating(draft)
    wrong = {**typed, "resin_to_glass": "9", "submission_key": form_key()}
    answer = keeper_client.post(url, {**wrong, "do": "keep"})
    page = says(answer)
    assert answer.status_code == 422
    assert "Error:" in page
    assert "Laminate: resin over glass by weight must be between 0.5 and 4; it is 9." in page
    assert 'value="9"' in page
    on_the_fly = keeper_client.post(url, wrong, headers={"HX-Request": "true", "HX-Target": "price"})
    assert "must be between 0.5 and 4" in says(on_the_fly)
    assert "€" not in says(on_the_fly)


def test_a_step_may_hang_on_a_measure_by_its_label(draft, keeper_client, form_key):
    url, number, typed = laminating(draft)
    keeper_client.post(url, {**typed, "overlap_mm": "depth", "do": "keep", "submission_key": form_key()})
    draft.refresh_from_db()
    assert draft.body["operations"][number - 1]["settings"]["overlap_mm"] == "depth"


def test_a_recipe_is_written_from_nothing(versions, keeper_client, form_key):
    def send(url, **entries):
        draft = RecipeDraft.objects.filter(key="nose-guard").first()
        turn = {"turn": draft.turn} if draft else {}
        answer = keeper_client.post(url, {**entries, **turn, "submission_key": form_key()})
        assert answer.status_code == 302, says(answer)
        return answer

    send(reverse("recipe-new"), name="Nose guard", kinds=["other"])
    edit = reverse("recipe-edit", args=["nose-guard"])
    assert "has no operations" in says(keeper_client.get(edit))
    send(edit + "measure/new/", label="Guards", dimension="count", low="1", high="4", default="1")
    send(edit + "place/new/?shape=rectangle", called="Tip", length="10 cm", width="6 cm")
    send(edit + "step/new/?operation=sand", place="tip", grits=["P120"], sides="one")
    send(
        edit + "step/new/?operation=allowance&after=1",
        per="piece",
        amount="guards",
        minutes="12",
        what="Glue on",
        over="foam",
    )
    send(edit, do="up operations 2")
    send(edit, do="save")
    body = Recipe.objects.get(key="nose-guard").current.body
    assert [act["operation"] for act in body["operations"]] == ["allowance", "sand"]
    assert body["operations"][0]["settings"] == {
        "per": "piece", "amount": "guards", "minutes": 12.0, "what": "Glue on"
    }  # fmt: skip
    page = says(keeper_client.get(reverse("recipe", args=["nose-guard"])))
    assert "no price" not in page


def test_a_draft_that_is_wrong_is_listed_and_not_saved(draft, keeper, keeper_client, form_key):
    draft = change(draft, keeper, operations=[step("sand", grits=["P120"])])
    url = reverse("recipe-edit", args=[draft.key])
    answer = keeper_client.post(url, {"do": "save", "turn": draft.turn, "submission_key": form_key()})
    assert answer.status_code == 422
    assert "Step 1 (Sand through the grits): where is missing." in says(answer)
    assert draft.recipe.current.number == 1


def test_a_double_tap_saves_one_version(draft, keeper, keeper_client, form_key):
    draft = change(draft, keeper, about="Ours.")
    url, sent = (
        reverse("recipe-edit", args=[draft.key]),
        {"do": "save", "turn": draft.turn, "submission_key": form_key()},
    )
    answers = [keeper_client.post(url, sent) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert draft.recipe.versions.count() == 2


PAGES = [f"recipe{end}" for end in ("", "-copy", "-retire", "-versions", "-sure", "-edit", "-words", "-reference")]
NEW_PARTS = ["recipe-step-new", "recipe-place-new", "recipe-measure-new"]


def test_recipes_are_the_keepers(draft, keeper_client, counter_client, bench_client):
    for name in [*PAGES, *NEW_PARTS]:
        url = reverse(name, args=[draft.key])
        assert keeper_client.get(url).status_code == 200, name
        assert counter_client.get(url).status_code == bench_client.get(url).status_code == 403, name


def test_recipes_without_a_price_say_so_in_the_list(versions, keeper_client):
    PackPrice.objects.filter(pack__material__key="leash-plug").delete()
    page = says(keeper_client.get(reverse("recipes")))
    row = re.search(r"<strong>Leash plug</strong>.*?</li>", page, re.DOTALL).group()
    assert "no price" in row
    assert "€" not in row


def test_the_list_asks_the_same_number_of_questions_however_many_recipes(
    versions, keeper_client, django_assert_max_num_queries
):
    with django_assert_max_num_queries(20) as many:
        keeper_client.get(reverse("recipes"))
    Recipe.objects.exclude(key="snap").update(retired_at=NOW)
    with django_assert_max_num_queries(20) as one:
        keeper_client.get(reverse("recipes"))
    assert len(many) == len(one)


def test_the_reference_board_is_kept_with_the_recipe_not_with_its_version(draft, keeper, keeper_client, form_key):
    core = CoreRecipe.from_dict(draft.body)
    usual = book.reference_of(core, {})
    assert usual.board == Construction("pu", "polyester", "glass")
    typed = {f"m_{name}": text for name, text in usual.measures.items()}
    sent = {**typed, "m_length": "11 cm", **EPS, "turn": 0, "submission_key": form_key()}
    keeper_client.post(reverse("recipe-reference", args=[draft.key]), {**sent, "do": "keep"})
    draft.refresh_from_db()
    assert draft.reference["board"] == EPS
    assert draft.reference["measures"]["length"] == "11 cm"
    save(change(draft, keeper, about="Ours."), keeper)
    assert Recipe.objects.get(key=draft.key).reference["measures"]["length"] == "11 cm"
