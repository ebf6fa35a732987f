"""Undoing in the store: what a step, a sale or a count stands on is undone there, and nothing else breaks the books."""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse
from django.utils.text import capfirst

from inventory.counting import counts as counting
from inventory.counting import weighing
from inventory.models import Lot, Material, Movement
from inventory.stock import books as store_books
from inventory.stock import ledger
from inventory.stock.standing import standing
from quotes import bench as work
from quotes import billing
from quotes.bench.steps.corrections import correct_use
from quotes.billing import books as paper_books
from shop.models import Role
from shop.platform.acts import Signed
from tests import walker
from tests.conftest import NOW, logged_in, make_user
from tests.inventory import walk as _store  # noqa: F401
from tests.quotes import walk as _quotes  # noqa: F401
from tests.quotes.conftest import refusal
from tests.reading import says

D = Decimal
STOOD_ON = ("steps_movement", "mixs_movement", "sold_movement", "counted_movement")
NOTHING_ON = ("movement", "delivery_movement")
PAGES = {
    "steps_movement": "step",
    "mixs_movement": "step",
    "sold_movement": "invoice",
    "counted_movement": "count-result",
}


def problems() -> list[str]:
    return [*store_books.problems(), *paper_books.problems()]


@pytest.fixture
def rows(profile):
    return walker.Rows({role: make_user(role) for role in Role.values})


def send(client: Client, movement: Movement):
    address = reverse("movement-reverse", args=[movement.pk])
    return client.post(address, {"submission_key": str(uuid.uuid4())})


def pages_of(client: Client, material: int) -> str:
    """A material's page with all that moved of it, over all its leaves."""
    found, leaf = "", 1
    while True:
        answer = client.get(reverse("material", args=[material]), {"page": leaf})
        found += says(answer)
        if not answer.context["page"].has_next():
            return found
        leaf += 1


def undone_one_by_one(client: Client, movements: list[Movement]) -> Iterator[tuple[Movement, bool, int, list[str]]]:
    """Each movement undone in the store and put back again.

    With it: whether its material's page offers that, the answer's status, and what the books have against it then.
    """
    shown = {pk: pages_of(client, pk) for pk in {movement.material_id for movement in movements}}
    for movement in movements:
        address = reverse("movement-reverse", args=[movement.pk])
        offered = f'href="{address}"' in shown[movement.material_id]
        assert client.get(address).status_code in (200, 403)
        with transaction.atomic():
            before = walker.counts()
            answer = send(client, movement)
            assert (answer.status_code == 302) == (walker.counts() != before), "refused is refused whole"
            found = problems()
            transaction.set_rollback(True)
        yield movement, offered, answer.status_code, found


def check_undoing(client: Client, movements: list[Movement]) -> set[bool]:
    """Undo is offered where it leaves the books right, and taken nowhere else.

    Returns whether it was offered, over all movements.
    """
    seen = set()
    for movement, offered, status, found in undone_one_by_one(client, movements):
        assert found == [], f"{movement.reason or movement}: undone in the store it leaves {found}"
        stands = standing([movement.act]).get(movement.act)
        if stands is not None and stands.room != "count":
            assert (offered, status) == (False, 422), f"{movement.reason or movement} is undone behind {stands.words}"
        elif offered:  # what was used of a delivery since may keep it from being undone, with a sentence
            assert status in (302, 422), f"{movement}: offered, and answers {status}"
        seen.add(offered)
    return seen


def history(rows: walker.Rows) -> list[Movement]:
    """All that can happen on a shelf, one after the other, some of it undone or put right already."""
    for name in (*NOTHING_ON, *STOOD_ON, "question", "container", "tin"):
        rows[name]
    by, moved = rows.keeper, {"signed": Signed(rows.keeper, NOW)}
    resin, lot = rows["material"], rows["lot"]
    ledger.write_off(material=resin, quantity=D(5), reason="gelled in the pot", **moved)
    [out] = ledger.use(material=resin, quantity=D(40), reason="a repair rack", **moved)
    ledger.put_back(movement=out, quantity=D(15), **moved)
    [slip] = ledger.use(material=resin, quantity=D(400), **moved)
    ledger.undo(act=slip.act, **moved)
    ledger.sell(material=resin, quantity=D(30), **moved)
    drum = weighing.add_container(lot=lot, name="drum", tare_g=D(1200), holds=lot.quantity_left - D(60), **moved)
    later = {"signed": Signed(by, NOW + timedelta(hours=1))}
    weighing.weigh_after_use(container=drum, gross_g=D(20_000), **later)
    weighing.weigh_as_check(container=drum, gross_g=D(19_500), signed=Signed(by, NOW + timedelta(hours=2)))
    step = rows["mixing_step"]
    tape = Material.objects.get(key="walk-tape")
    work.record_use(step=step, material=tape, quantity=D(9), signed=Signed(by, NOW))  # more than there is
    wrong = work.record_use(step=step, material=resin, quantity=D(70), signed=Signed(by, NOW + timedelta(minutes=3)))
    correct_use(use=wrong, quantity=D(7), signed=Signed(by, NOW + timedelta(minutes=4)))
    stocking = (
        Movement.objects.filter(kind="receive").order_by("-pk").values_list("pk", flat=True)[5:]
    )  # alike, and there are many
    return list(Movement.objects.exclude(pk__in=list(stocking)).order_by("pk"))


@pytest.mark.parametrize("role", Role.values)
def test_every_movement_is_undone_in_the_store_rightly_or_not_at_all(rows, role):
    movements = history(rows)
    assert problems() == []
    assert {movement.kind for movement in movements} == {
        "receive", "use", "return", "write_off", "difference", "reversal",
    }  # fmt: skip
    assert check_undoing(logged_in(rows.users[role]), movements) == {True, False}


@pytest.mark.parametrize("name", STOOD_ON)
@pytest.mark.parametrize("role", Role.values)
def test_the_store_leads_to_what_stands_on_a_movement(rows, role, name):
    movement, client = rows[name], logged_in(rows.users[role])
    stand = standing([movement.act])[movement.act]
    assert stand.page == PAGES[name]
    where = f'href="{reverse(stand.page, args=[stand.pk])}"'
    material = pages_of(client, movement.material_id)
    page = says(client.get(reverse("movement-reverse", args=[movement.pk])))
    opens = client.get(reverse(stand.page, args=[stand.pk])).status_code == 200
    assert opens == (role != Role.BENCH or name != "sold_movement")
    assert (where in material) == opens
    assert capfirst(stand.words) in material
    assert reverse("movement-reverse", args=[movement.pk]) not in material
    counts_here = name == "counted_movement" and role != Role.BENCH
    assert (where in page) == (opens and not counts_here)
    assert ("Undo it</button>" in page) == counts_here


@pytest.mark.parametrize("name", STOOD_ON)
def test_the_ledger_undoes_what_is_stood_on_only_for_its_room(rows, name):
    movement, moved = rows[name], {"signed": Signed(rows.keeper, NOW)}
    for act in (
        lambda: ledger.undo(act=movement.act, **moved),
        lambda: ledger.undo(act=movement.act, room="another", **moved),
        lambda: ledger.reverse(movement=movement, **moved),
    ):
        [sentence] = refusal(act)["__all__"]
        assert "stands on this entry" in sentence
    if movement.kind == "use":
        assert (
            "stands on this entry"
            in refusal(lambda: ledger.put_back(movement=movement, quantity=D("0.001"), **moved))["__all__"][0]
        )
    assert not Movement.objects.filter(reverses=movement).exists()
    room = standing([movement.act])[movement.act].room
    assert ledger.undo(act=movement.act, room=room, **moved)


def test_what_the_form_before_offers_to_undo_is_never_a_steps(rows):
    movement = rows["steps_movement"]
    page = logged_in(rows.keeper).get(reverse("material", args=[movement.material_id]), {"act": movement.act})
    assert page.context["just_done"] is None


def test_a_step_undoes_its_own(rows):
    use, movement = rows["use"], rows["steps_movement"]
    client = logged_in(rows.users["bench"])
    client.post(reverse("use-undo", args=[use.pk]), {"submission_key": str(uuid.uuid4())})
    assert Movement.objects.filter(reverses=movement).exists()
    assert standing([movement.act]) == {}
    assert problems() == []


def test_goods_come_back_to_the_shelf_once_their_invoice_is_credited(rows):
    invoice, movement, counter = rows["sale"], rows["sold_movement"], logged_in(rows.users["counter"])
    asked = reverse("movement-reverse", args=[movement.pk])
    page = reverse("invoice", args=[invoice.pk])
    assert asked not in says(counter.get(page))
    billing.credit_invoice(
        invoice=invoice,
        amounts={1: D(4)},
        reason="one was broken",
        signed=Signed(rows.users["counter"], NOW),
    )
    assert send(counter, movement).status_code == 422, "half of it still stands"
    billing.credit_invoice(invoice=invoice, reason="and the other", signed=Signed(rows.users["counter"], NOW))
    assert f'href="{asked}"' in says(counter.get(page))
    assert f'href="{asked}"' in pages_of(counter, movement.material_id)
    assert send(counter, movement).status_code == 302
    assert Lot.objects.get(pk=movement.lot_id).quantity_left == 9
    assert "put it back" not in says(counter.get(page))
    assert problems() == []


def test_goods_that_are_back_while_their_invoice_stands_are_told(rows):
    movement = rows["sold_movement"]
    ledger.undo(act=movement.act, room="sale", signed=Signed(rows.keeper, NOW))
    assert problems() == [f"Invoice {rows['sale'].number}: 2 of Bar of wax were sold, but 0 are off the shelf."]


def test_the_difference_of_a_count_is_taken_back_by_those_who_may_book_it(rows):
    count, movement = rows["closed_count"], rows["counted_movement"]
    asked, page = reverse("movement-reverse", args=[movement.pk]), reverse("count-result", args=[count.pk])
    hands, counter = logged_in(rows.users["bench"]), logged_in(rows.users["counter"])
    assert asked not in says(hands.get(page))
    assert send(hands, movement).status_code == 422
    assert Lot.objects.get(pk=movement.lot_id).quantity_left == 490
    assert f'href="{asked}"' in says(counter.get(page))
    assert send(counter, movement).status_code == 302
    assert Lot.objects.get(pk=movement.lot_id).quantity_left == 500
    assert asked not in says(counter.get(page))
    assert "undone" in says(counter.get(page))
    assert send(counter, movement).status_code == 422
    assert problems() == []


def test_only_a_line_that_booked_something_is_taken_back(rows):
    line = rows["count_line"]
    said = refusal(lambda: counting.undo_difference(line=line, signed=Signed(rows.keeper, NOW)))
    assert said == {"__all__": ["Nothing was booked for this line."]}
