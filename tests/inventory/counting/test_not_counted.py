"""Not counted yet is not none: used and priced, nothing asked, warned of or ordered, until a delivery or a count."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.urls import reverse

from inventory.buying.buy_list import buy_list
from inventory.buying.out_of_line import state_of
from inventory.buying.planning import Want, outlooks, reserve, wanted
from inventory.counting import counts as counting
from inventory.counting import opening
from inventory.models import Container, Count, Kind, Lot, Material, StockQuestion
from inventory.stock import books, ledger
from shop.platform.acts import Refused, Signed
from tests import form_contract
from tests.conftest import NOW, TODAY
from tests.reading import says
from tests.walker import new_key


def watched(shelf) -> bool:
    return Material.objects.filter(pk=shelf.material.pk).watched().exists()


def is_quiet(shelf) -> bool:
    """Nothing is asked, warned of or ordered where a job wants 300 g tomorrow."""
    reserve(wants=[Want(shelf.material, D(300), TODAY + timedelta(days=1))], at=NOW)
    short = [one for one in wanted(TODAY) if one.short]
    return not (short or buy_list(TODAY) or StockQuestion.objects.exists())


def test_it_is_used_at_its_price_without_a_question_and_stays_not_counted(shelf):
    shelf.price("1 kg tin", "1000", "10.00")
    for _ in range(3):
        assert shelf.cost_of_use("40") == D("0.40")
    assert is_quiet(shelf)
    assert not watched(shelf)
    assert Lot.objects.get().origin == "uncounted"
    assert books.problems() == []


def test_what_is_put_back_of_it_or_undone_says_nothing_either(shelf):
    shelf.price("1 kg tin", "1000", "10.00")
    [used] = shelf.use("40")
    ledger.put_back(movement=used, quantity=D(15), signed=shelf.signed())
    assert (shelf.on_hand, watched(shelf)) == (15, False)
    [other] = shelf.use("40")
    shelf.undo(other)
    assert is_quiet(shelf)
    assert books.problems() == []


def test_the_first_delivery_ends_it_and_one_taken_back_does_not(shelf):
    shelf.use("40")
    lot = shelf.receive("1000", "6.00")
    assert watched(shelf)
    shelf.reverse(lot.movements.get())
    assert not watched(shelf)
    shelf.receive("100", "0.60")
    assert not is_quiet(shelf)
    shelf.use("300")
    assert StockQuestion.objects.open().count() == 1


@pytest.mark.parametrize("there", ["0", "250"])
def test_the_opening_count_ends_it_and_all_is_as_before(shelf, there):
    shelf.use("40")
    opening.opening_count(there={shelf.material: D(there)}, untracked=[], signed=Signed(shelf.by, NOW))
    assert (shelf.on_hand, watched(shelf)) == (D(there), True)
    assert not is_quiet(shelf)
    shelf.use("400")
    assert StockQuestion.objects.open().get().words.startswith("400")
    assert books.problems() == []
    with pytest.raises(Refused):
        opening.opening_count(there={shelf.material: D(1)}, untracked=[], signed=Signed(shelf.by, NOW))


def test_the_opening_count_takes_what_a_correction_put_back_as_there(shelf):
    [used] = shelf.use("40")
    ledger.put_back(movement=used, quantity=D(15), signed=shelf.signed())
    opening.opening_count(there={shelf.material: D(10)}, untracked=[], signed=Signed(shelf.by, NOW))
    assert (shelf.on_hand, watched(shelf)) == (10, True)
    assert books.problems() == []


def test_an_opening_count_taken_back_leaves_it_not_counted(shelf):
    count = opening.opening_count(there={shelf.material: D(250)}, untracked=[], signed=Signed(shelf.by, NOW))
    counting.undo_difference(line=count.lines.get(), signed=Signed(shelf.by, NOW))
    assert (shelf.on_hand, watched(shelf)) == (0, False)


def test_what_is_not_tracked_is_never_asked_about_though_it_was_delivered(shelf):
    shelf.receive("100", "1.00")
    Material.objects.update(not_tracked=True)
    shelf.use("400")
    assert is_quiet(shelf)
    assert books.problems() == []


def test_pages_say_so_and_nothing_else(shelf, keeper_client):
    reserve(wants=[Want(shelf.material, D(300), TODAY)], at=NOW)
    shelf.use("40")
    pages = {"store": [], "material": [shelf.material.pk], "material-use": [shelf.material.pk]}
    for name, args in pages.items():
        assert "not counted yet" in says(keeper_client.get(reverse(name, args=args))), name
    assert "not counted" in says(keeper_client.get(reverse("plan")))
    for name, args in {**pages, "plan": [], "buy-list": [], "questions": []}.items():
        page = says(keeper_client.get(reverse(name, args=args)))
        for word in ("none left", "Used up", "not enough", "will be missing", "note warning", "Where did"):
            assert word not in page, (name, word)
    assert outlooks(TODAY)[0].first_short is None
    assert keeper_client.get(reverse("store"), {"look": "1"}).context["page"].paginator.count == 0


def test_one_page_counts_all_by_shelf_and_leaves_what_is_empty(shelf, keeper_client):
    rag = Material.objects.create(key="rag", name="Rag", kind=Kind.SUNDRY, unit="piece", shelf="B")
    cup = Material.objects.create(key="cup", name="Cup", kind=Kind.SUNDRY, unit="piece", shelf="B")
    page = keeper_client.get(reverse("opening-count"))
    assert [shelf_name for shelf_name, _ in page.context["form"].shelves()] == ["A1", "B"]
    sent = {"submission_key": new_key(), f"there_{shelf.material.pk}": "2.4 kg", f"untracked_{rag.pk}": "on"}
    assert keeper_client.post(reverse("opening-count"), sent).status_code == 302
    assert shelf.on_hand == 2400
    states = {one.key: state_of(one, TODAY)[1] for one in Material.objects.with_stock().with_counted()}
    assert states == {"resin": "on the shelf", "rag": "not tracked", "cup": "not counted yet"}
    left = keeper_client.get(reverse("opening-count")).context["form"].materials
    assert left == [cup]
    assert Count.objects.get().closed_at is not None


def test_questions_about_one_material_are_one_line_answered_once(shelf, keeper_client):
    shelf.receive("10", "0.10")
    for _ in range(3):
        shelf.use("50")
    page = says(keeper_client.get(reverse("questions")))
    assert page.count("Where did") == 1
    assert "And 2 more like it." in page
    assert "1 question between shelf and bench" in says(keeper_client.get(reverse("store")))
    newest = StockQuestion.objects.open().last()
    form = keeper_client.get(reverse("question-answer", args=[newest.pk])).context["form"]
    assert form["alike"].value() is True
    sent = {"submission_key": new_key(), "answer": "A tin was not entered.", "alike": "on"}
    keeper_client.post(reverse("question-answer", args=[newest.pk]), sent)
    assert not StockQuestion.objects.open().exists()


def test_a_question_that_no_movement_asked_can_be_answered(shelf, keeper_client):
    asked = StockQuestion.objects.create(material=shelf.material, words="Counts do not go with jobs.", asked_at=NOW)
    assert keeper_client.get(reverse("question-answer", args=[asked.pk])).status_code == 200


def test_the_opening_count_keeps_to_the_contract_of_forms(shelf, keeper_client):
    assert shelf.material
    assert form_contract.check(keeper_client, reverse("opening-count")) == []


@pytest.mark.parametrize(
    ("typed", "there"),
    [
        ("1.240 kg gross, 120 g tare", 1120),
        ("1.24 kg gross less 0.12 kg", 1120),
        ("1240 gross - 120 tare", 1120),
        ("1.240 kg gross", 940),  # its own container weighs 300 g
        ("300 g gross", 0),
    ],
)
def test_a_container_is_weighed_gross_less_tare_at_the_opening_count(shelf, keeper_client, typed, there):
    shelf.use("40")
    Container.objects.create(lot=Lot.objects.get(), name="tin", tare_g=D(300))
    page = says(keeper_client.get(reverse("opening-count")))
    assert "300 g empty" in page.replace("\xa0", " ").replace("&nbsp;", " ")
    sent = {f"there_{shelf.material.pk}": typed, "submission_key": new_key()}
    assert keeper_client.post(reverse("opening-count"), sent).status_code == 302
    assert (shelf.on_hand, watched(shelf)) == (there, True)
    assert books.problems() == []


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ("1.24 kg gross", "nobody has said what its container weighs empty"),
        ("100 g gross, 120 g tare", "gross is at least what is empty"),
        ("gross", "there"),
        ("1.24 kg gross, some tare", "there"),
        ("2 L gross, 120 g tare", "there"),
    ],
)
def test_what_cannot_be_weighed_is_refused_and_nothing_is_counted(shelf, keeper_client, typed, said):
    sent = {f"there_{shelf.material.pk}": typed, "submission_key": new_key()}
    answer = keeper_client.post(reverse("opening-count"), sent)
    assert answer.status_code == 422
    assert said in answer.context["form"].errors[f"there_{shelf.material.pk}"][0]
    assert typed in says(answer)
    assert not watched(shelf)
