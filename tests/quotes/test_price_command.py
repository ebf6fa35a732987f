"""`manage.py price`: one estimate on the command line, with every line and its source, or a sentence."""

from __future__ import annotations

import json
from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import PackPrice
from quotes.costing import STARTING_RECIPES
from shop.models import Profile
from tests.costing.marram import sizes_for
from tests.quotes import seed


@pytest.fixture
def store(profile):
    seed.stock_the_store()
    seed.recipes()


def run(*args: str) -> str:
    out = StringIO()
    call_command("price", *args, stdout=out)
    return out.getvalue()


def refused(*args: str) -> str:
    said = StringIO()
    with pytest.raises(SystemExit) as ended:
        call_command("price", *args, stderr=said, stdout=StringIO())
    assert ended.value.code == 2
    return said.getvalue()


def measures(**changed: str) -> list[str]:
    typed = {**seed.KEELS, **changed}
    return [word for name, value in typed.items() if value for word in ("--measure", f"{name}={value}")]


@pytest.mark.usefixtures("store")
class TestPrice:
    def test_lines_add_up_and_each_has_its_source(self):
        found = json.loads(run("glass-on-twin", *measures(fin_base="168mm", fin_tip="9.6 cm"), "--json"))
        asked = "recipe currency measures lines cost price_before_tax tax price minutes earliest_ready_days "
        assert set(f"{asked}added_weight_g cautions".split()) <= set(found)
        one = "operation kind name need formula factor mixes use unit_cost cost"
        for line in found["lines"]:
            assert set(one.split()) <= set(line)
            assert line["kind"] in ("material", "labour", "overhead", "consumable")
            assert line["factor"]["source"]
            assert line["unit_cost"]["source"]
            assert line["formula"]
        assert float(found["cost"]) == pytest.approx(sum(line["cost"] for line in found["lines"]), abs=0.005)
        shown = sum(int(line["cost_shown"].replace(".", "")) for line in found["lines"])
        assert shown == int(found["cost"].replace(".", ""))
        net, tax, gross = (float(found[name]) for name in ("price_before_tax", "tax", "price"))
        assert net + tax == pytest.approx(gross)
        assert found["measures"]["fin_tip"]["value"] == 96.0

    @pytest.mark.parametrize("key", sorted(STARTING_RECIPES))
    def test_every_recipe_that_ships_is_listed_and_priced_with_every_leaf_explained(self, key):
        assert f"{key}  " in run("--list")
        typed = [f"--measure={name}={value:g}" for name, value in sizes_for(STARTING_RECIPES[key]).items()]
        found = json.loads(run(key, *typed, "--odd", "--json"))
        assert float(found["price"]) > 0
        for line in found["lines"]:
            assert line["need"]["unit"]
            assert line["formula"]
            assert line["factor"]["source"]
            assert line["unit_cost"]["source"]

    def test_for_a_person_it_says_the_same_in_words(self):
        said = run("glass-on-twin", *measures())
        found = json.loads(run("glass-on-twin", *measures(), "--json"))
        assert f"Price {found['price']} EUR" in said
        assert "Pour foam 64" in said

    def test_the_list_names_recipes_and_what_to_measure(self):
        said = run("--list")
        assert "glass-on-fin  Glass-on fin" in said
        assert "    fin_base  Fin base in mm, along the board" in said

    @pytest.mark.parametrize(
        ("args", "sentence"),
        [
            (["glas-on-fin"], "Did you mean glass-on-fin?"),
            ([], "Say which recipe"),
            (["glass-on-twin", "--measure", "finbase=120"], "Did you mean fin_base?"),
            (["glass-on-twin", "--measure", "fin_base"], "NAME=VALUE"),
            (["glass-on-twin", *measures(), "--measure", "paint=1"], "paint is given twice"),
            (["glass-on-twin", *measures(fin_base="132 g")], "Fin base"),
            (["glass-on-twin", *measures(fin_base="-132")], "Fin base"),
            (["glass-on-twin", *measures(fin_base="ten")], "Fin base"),
            (["glass-on-twin", *measures(fin_base="1,500")], "Fin base"),
            (["glass-on-twin", *measures(fin_base="9**9**9 m")], "Fin base"),
            (["glass-on-twin", *measures(fin_base="9" * 10_000)], "Fin base"),
            (["glass-on-twin", *measures(fin_base="")], "Fin base is missing"),
            (["glass-on-twin", *measures(fin_base="3 m")], "usual is 40 to 260 mm"),
        ],
    )
    def test_what_is_wrong_is_a_sentence_and_exit_2(self, args, sentence):
        said = refused(*args)
        assert sentence in said
        assert len(said) < 700
        assert "Traceback" not in said

    def test_a_fin_base_of_three_metres_is_priced_when_it_is_said_to_be_right(self):
        found = json.loads(run("glass-on-twin", *measures(fin_base="3 m"), "--odd", "--json"))
        assert found["measures"]["fin_base"]["value"] == 3000.0

    def test_a_material_without_a_price_is_named(self):
        PackPrice.objects.filter(pack__material__key="roving").delete()
        assert "1 price missing: Roving 2000 tex." in refused("glass-on-twin", *measures())


@pytest.mark.django_db
def test_without_a_shop_it_says_what_to_do():
    assert not Profile.objects.exists()
    assert "no shop in this database yet" in refused("glass-on-fin")
