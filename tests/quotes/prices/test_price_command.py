"""`manage.py price`: one estimate on the command line, with every line and its source, or a sentence."""

from __future__ import annotations

import json
from decimal import Decimal
from io import StringIO

import pytest
from django.core.management import call_command

from inventory.models import PackPrice
from quotes.costing import STARTING_RECIPES
from shop.models import Profile
from tests import sample_shop
from tests.quotes import seed
from tests.sample_shop import sizes_for


@pytest.fixture
def store(profile):
    sample_shop.stock_the_store()
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


BOARD = {
    "core": "pu",
    "damages": [
        {"name": "Nose", "recipe": "ding-nose-small", "optional": True,
         "measures": {"length": "40 mm", "around": "1 1/2 in", "depth": 8}},
        {"name": "Rail", "recipe": "ding-rail-small", "optional": True,
         "measures": {"length": "60 mm", "around": "40 mm", "depth": "8 mm"}},
        {"name": "Plug", "recipe": "leash-plug", "measures": {"plugs": 1, "hole_diameter": "30 mm", "hole_depth": "20 mm"}},
    ],
}  # fmt: skip


def board_file(tmp_path, **changed) -> str:
    """The board with some of it changed, as a file; `one` changes its first damage."""
    one = changed.pop("one", {})
    first, *others = BOARD["damages"]
    body = {**BOARD, "damages": [{**first, **one}, *others], **changed}
    path = tmp_path / "board.json"
    path.write_text(json.dumps(body), encoding="utf-8")
    return str(path)


@pytest.mark.usefixtures("store")
class TestBoard:
    def test_each_damage_and_each_choice_has_its_price(self, tmp_path):
        found = json.loads(run("--board", board_file(tmp_path), "--json"))
        assert [one["name"] for one in found["damages"]] == ["Nose", "Rail", "Plug"]
        shown = [Decimal(one["with_others"]) for one in found["damages"]]
        assert sum(shown) == Decimal(found["shown"])
        assert all(part < Decimal(one["alone"]) for part, one in zip(shown, found["damages"], strict=True))
        assert [one["damages"] for one in found["choices"]] == [["3"], ["1", "3"], ["2", "3"], ["1", "2", "3"]]
        assert found["choices"][-1]["price"] == found["price"]
        assert float(found["cost"]) == pytest.approx(
            sum(line["cost"] for one in found["damages"] for line in one["part"]["lines"]), abs=0.005
        )
        assert found["damages"][0]["part"]["measures"]["around"]["value"] == pytest.approx(38.1)
        assert found["boards"] == {"resin": 3.0, "sanding": 2.0, "spraying": 2.0}
        assert found["steps"][0]["title"]

    def test_a_choice_costs_what_a_board_of_just_these_costs(self, tmp_path):
        whole = json.loads(run("--board", board_file(tmp_path), "--json"))
        less = json.loads(run("--board", board_file(tmp_path, damages=BOARD["damages"][1:]), "--json"))
        [same] = [one for one in whole["choices"] if one["damages"] == ["2", "3"]]
        assert same["price"] == less["price"]

    def test_for_a_person_it_says_the_same_in_words(self, tmp_path):
        said = run("--board", board_file(tmp_path))
        found = json.loads(run("--board", board_file(tmp_path), "--json"))
        nose = found["damages"][0]
        assert (
            f"{nose['with_others']}  Nose, Open ding on the nose, small, optional; {nose['alone']} if it were alone"
            in said
        )
        assert f"Price {found['price']} EUR" in said
        assert "Hot coat: Nose, Rail, Plug" in said
        assert "With 3 boards in a session with resin" in said

    def test_worked_alone_it_is_dearer_and_says_so(self, tmp_path):
        together, alone = (
            json.loads(run("--board", board_file(tmp_path), "--json", *more)) for more in ([], ["--alone"])
        )
        assert float(alone["price"]) > float(together["price"])
        assert "Worked alone" in run(
            "leash-plug", "--measure=hole_diameter=30mm", "--measure=hole_depth=20mm", "--alone"
        )
        assert "With 3 boards" in run("--list")

    @pytest.mark.parametrize(
        ("changed", "sentence"),
        [
            ({"damages": []}, "“damages” must be a list with at least one damage"),
            ({"damages": {}}, "“damages” must be a list"),
            ({"damages": [3]}, "Damage 1 must be an object"),
            ({"damages": [BOARD["damages"][2]] * 41}, "40 damages at most"),
            ({"core": "cork"}, "“core” must be one of"),
            ({"kore": "pu"}, "A board has no “kore”. Did you mean core?"),
            (
                {"one": {"recipe": "ding-noze-small"}},
                "Damage 1: there is no recipe called ding-noze-small. Did you mean",
            ),
            ({"one": {"recipe": None}}, "Damage 1 lacks its recipe"),
            ({"one": {"measures": [1]}}, "Damage 1: “measures” must be an object"),
            ({"one": {"measures": {"lenght": 40}}}, "has no measure called lenght. Did you mean length?"),
            ({"one": {"measures": {"length": True}}}, "length must be a number or words like 40 mm"),
            ({"one": {"measures": {"length": "ten"}}}, "Nose: Length"),
            ({"one": {"measures": {"length": "40 mm", "around": 35}}}, "Nose: Depth is missing"),
            (
                {"one": {"measures": {"length": "300 mm", "around": 35, "depth": 8}}},
                "If the odd ones are right, add --odd",
            ),
            ({"one": {"optional": "yes"}}, "“optional” must be true or false"),
            ({"one": {"name": ""}}, "“name” must be words"),
            ({"one": {"price": 3}}, "Damage 1 has no “price”"),
        ],
    )
    def test_what_is_wrong_with_a_file_is_a_sentence_and_exit_2(self, tmp_path, changed, sentence):
        said = refused("--board", board_file(tmp_path, **changed))
        assert sentence in said
        assert len(said) < 700

    @pytest.mark.parametrize(
        ("text", "sentence"),
        [("{", "is no JSON: look in line 1"), ("[]", "A board is an object"), ("[" * 9999, "no JSON")],
    )
    def test_what_is_no_board_at_all(self, tmp_path, text, sentence):
        path = tmp_path / "board.json"
        path.write_text(text)
        assert sentence in refused("--board", str(path))

    def test_a_file_that_is_not_there(self, tmp_path):
        assert "cannot be read: it is not there" in refused("--board", str(tmp_path / "no.json"))
        assert "cannot be read: it is a folder" in refused("--board", str(tmp_path))
        (tmp_path / "raw").write_bytes(b"\xff\xfe\x00")
        assert "it is no text" in refused("--board", str(tmp_path / "raw"))
        assert "leave the others out" in refused("leash-plug", "--board", board_file(tmp_path))
