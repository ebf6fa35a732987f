"""Unknown lines of a supplier's price list are tied to materials, with a guess by name, several at once or none."""

from __future__ import annotations

from decimal import Decimal as D

import pytest
from django.core.exceptions import PermissionDenied
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inventory.catalogue.materials import NOT_SAID
from inventory.models import Material, Pack, PackPrice, PriceList, Supplier
from inventory.receiving.naming import Names, pack_words, tokens
from inventory.receiving.pricelist import PricedArticle, read_list
from inventory.receiving.supplier_prices import compare, keep_list, take_over
from inventory.receiving.tying import AT_ONCE, Strangers, TiedArticle, tie
from shop.models import Profile
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY

OURS = {
    1: "Polyester laminating resin", 2: "Epoxy resin", 3: "E-glass cloth 4 oz", 4: "E-glass cloth 6 oz",
    5: "Sanding discs 80 grit", 6: "Acetone", 7: "Nitrile gloves, pair",
}  # fmt: skip
# made up for this test
MEANT = [
    ("POLYESTER LAMINATING RESIN, clear, 20 kg drum", 1),
    ("Laminating resin (polyester) 5 kg", 1),
    ("Epoxy resin + hardener 6 kg kit", 2),
    ("Glass cloth E 4 oz 30 in x 50 m roll", 3),
    ("E-Glass cloth, 6 oz, 50 m", 4),
    ("Sanding disc 80 grit box of 50", 5),
    ("Acétone 5 L", 6),
    ("Nitrile glove box of 50 pairs", 7),
    ("E-glass cloth 8 oz", None),  # another weight is another cloth
    ("Sanding discs 120 grit", None),
    ("Resin", None),  # two fit alike
    ("Fin plug", None),
    ("", None),
    ("🏄 12", None),
]


@pytest.mark.parametrize(("words", "meant"), MEANT)
def test_a_material_is_guessed_by_its_name(words, meant):
    assert Names(OURS).meant(words) == meant


def test_words_are_compared_without_case_accents_and_plural():
    assert tokens("Glass CLOTHS 4oz, Härter") == {"glass", "cloth", "4", "oz", "harter"}


@pytest.mark.parametrize(
    ("words", "name", "left"),
    [
        ("Polyester laminating resin, clear, 20 kg drum", "Laminating resin", "20 kg drum"),
        ("Acetone 5 L", "Acetone", "5 L"),
        ("Acetone", "Acetone", ""),
        ("Glass cloth 4 oz 30 in x 50 m roll", "Glass cloth, 4 oz", "30 in x 50 m roll"),
        ("Glass cloth 4 oz, 4 m", "Glass cloth, 4 oz", "4 m"),
        ("Hardener no 5, 2.5 kg, 3/5 full", "Hardener 5", "2.5 kg, 3/5 full"),
        ("Acetone ½½ ½ L 5 L", "Acetone", "5 L"),
        ("Sanding disc box of 50 discs", "Sanding discs", "50"),
    ],
)
def test_what_a_pack_holds_is_read_beside_the_name(words, name, left):
    assert pack_words(words, name) == left


def test_a_list_may_say_what_its_articles_are_called():
    reading = read_list("Price;Description;Code\n9,50;Acetone 5 L;AC5\n3;;X\n1;Y\n", currency="EUR")
    assert [(one.article, one.words) for one in reading.priced] == [("AC5", "Acetone 5 L"), ("X", "")]
    assert reading.problems == ["Line 4 has 2 cells; the price is missing."]


TEXT = (
    "article;price;name\n"
    "LR-20;99,50;Laminating resin 20 kg drum\n"
    "LR-5;30,00;Laminating resin in tins of 5 kg\n"
    "AC-5;18,00;Acetone, 5 L can\n"
    "ZZ;1,00;Wax comb\n"
)


@pytest.fixture
def acetone(profile):
    return Material.objects.create(
        key="acetone", name="Acetone", kind="solvent", unit="mL", facts={}, density_kg_m3=D(790)
    )


@pytest.fixture
def drum(shelf):
    return shelf.price("20 kg drum", "20000", "96.00")


@pytest.fixture
def price_list(shelf, drum, acetone) -> PriceList:
    return keep_list(supplier=drum.supplier, name="l.csv", text=TEXT, from_day=TODAY, signed=Signed(shelf.by, NOW))


def sent(form_key, **changed):
    return {"submission_key": form_key(), **changed}


def test_lines_are_tied_on_one_page_and_count_as_known(price_list, shelf, drum, acetone, keeper_client, form_key):
    assert len(compare(price_list).strangers) == 4
    where = reverse("supplier-price-list-tie", args=[price_list.pk])
    assert where in keeper_client.get(reverse("supplier-price-list", args=[price_list.pk])).content.decode()
    page = keeper_client.get(where).content.decode()
    assert f'<option value="p{drum.pk}" selected>' in page  # the shop's own pack, which has no article yet
    assert f'<option value="m{acetone.pk}" selected>' in page
    assert 'value="5 L can"' in page
    typed = sent(form_key, what_2=f"p{drum.pk}", what_4=f"m{acetone.pk}", pack_4="5 L can", what_5="", pack_5="")
    first, second = (keeper_client.post(where, typed) for _ in range(2))
    assert first.url == second.url == reverse("supplier-price-list", args=[price_list.pk])
    seen = compare(price_list)
    assert [one.article for one in seen.strangers] == ["LR-5", "ZZ"]
    can = Pack.objects.get(supplier_code="AC-5")
    assert (can.content, can.preferred, can.supplier) == (5000, True, drum.supplier)
    assert {(change.pack, change.before, change.after) for change in seen.changes} == {
        (drum, D(96), D("99.5")), (can, None, D(18)),
    }  # fmt: skip
    assert not can.prices.exists()  # nothing counts before the list is taken over
    take_over(price_list=price_list, signed=Signed(shelf.by, NOW))
    assert PackPrice.objects.in_force(TODAY).get(pack=can).price == 18


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({}, "Nothing is chosen"),
        ({"what_4": "m{acetone}", "pack_4": ""}, "AC-5: say what a pack of it holds"),
        ({"what_4": "m{acetone}", "pack_4": "a can"}, "Pack of AC-5"),
        ({"what_4": "m999999", "pack_4": "5 L"}, "pick one of those offered"),
        ({"what_2": "p{drum}", "what_3": "p{drum}"}, "a pack has one article"),
    ],
)
def test_what_can_not_be_tied_is_said_and_nothing_kept(
    price_list, drum, acetone, keeper_client, form_key, changed, words
):
    typed = {name: text.format(acetone=acetone.pk, drum=drum.pk) for name, text in changed.items()}
    answer = keeper_client.post(reverse("supplier-price-list-tie", args=[price_list.pk]), sent(form_key, **typed))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert words in page
    if typed.get("pack_4"):
        assert f'value="{typed["pack_4"]}"' in page
    assert not Pack.objects.exclude(supplier_code="").exists()


def test_all_are_tied_or_none(price_list, shelf, drum, acetone, bench):
    ours, other = compare(price_list).strangers[:2]
    with pytest.raises(Refused, match="tied already"):
        tie(
            price_list=price_list,
            ties=[TiedArticle(ours, pack=drum), TiedArticle(ours, pack=drum)],
            signed=Signed(shelf.by, NOW),
        )
    assert not Pack.objects.exclude(supplier_code="").exists()
    with pytest.raises(PermissionDenied):
        tie(price_list=price_list, ties=[TiedArticle(other, pack=drum)], signed=Signed(bench, NOW))
    tie(price_list=price_list, ties=[TiedArticle(ours, pack=drum)], signed=Signed(shelf.by, NOW))
    take_over(price_list=price_list, signed=Signed(shelf.by, NOW))
    with pytest.raises(Refused, match="taken over already"):
        tie(price_list=price_list, ties=[TiedArticle(other, pack=drum)], signed=Signed(shelf.by, NOW))


def test_a_new_pack_is_the_usual_one_where_nobody_said_whom_it_was_bought_from(price_list, shelf, acetone):
    unsaid = Supplier.objects.create(name=NOT_SAID)
    guessed = Pack.objects.create(material=acetone, supplier=unsaid, words="1 L", content=D(1000), preferred=True)
    can = next(one for one in compare(price_list).strangers if one.article == "AC-5")
    tie(price_list=price_list, ties=[TiedArticle(can, None, acetone, "5 L can", D(5000))], signed=Signed(shelf.by, NOW))
    guessed.refresh_from_db()
    assert not guessed.preferred
    assert Pack.objects.get(supplier_code="AC-5").preferred


def test_lines_are_searched_for_and_long_lists_ask_as_often(shelf, drum, keeper_client):
    def asked(many: int) -> int:
        text = "article;price;name\n" + "".join(f"A{n};1,00;Thing {n}\n" for n in range(many))
        row = keep_list(supplier=drum.supplier, name="l.csv", text=text, from_day=TODAY, signed=Signed(shelf.by, NOW))
        with CaptureQueriesContext(connection) as seen:
            page = keeper_client.get(reverse("supplier-price-list-tie", args=[row.pk])).content.decode()
        assert page.count("<legend>") == min(many, AT_ONCE)
        found = keeper_client.get(reverse("supplier-price-list-tie", args=[row.pk]), {"q": "thing 1"}).content.decode()
        assert "A1: Thing 1" in found
        return len(seen)

    assert asked(2) == asked(2000)


def test_a_guess_is_asked_of_everything_at_once(price_list, profile):
    strangers = Strangers(price_list, Profile.objects.get())
    strangers.lines += [
        PricedArticle(9, "LR-25", D(1), "Laminating resin 25 kg drum"),
        PricedArticle(8, "LR", D(1), "Laminating resin"),
    ]
    guesses = {one.article: strangers.guess(one) for one in strangers.lines}
    assert guesses["LR-20"].pack is not None
    assert guesses["LR-5"].material is not None
    assert guesses["LR-25"].pack is None  # another size than the shop's own drum, so not that pack
    assert guesses["LR-25"].words == "25 kg drum"
    assert guesses["LR"].pack is None
    assert guesses["LR"].words == ""
    assert guesses["ZZ"] == (None, None, "")
