"""A board comes in: one record with its tag, or a sentence and nothing stored."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal

import pytest
from django.core.exceptions import PermissionDenied

from quotes import quoting
from quotes.models import Damage, TakeIn
from shop.models import Board, Customer, JournalEntry, NumberSeries
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.conftest import refusal, take_in


def test_a_new_customer_and_a_new_board_are_taken_in_at_once(counter):
    takein = take_in(counter, damages=[seed.crushed_box(), seed.rail_ding()], needed_by=TODAY + timedelta(days=9))
    assert (takein.tag, takein.board.owner, takein.brought_by.name) == ("001", takein.brought_by, "Niamh Brennock")
    assert [(d.number, d.kind) for d in takein.damages.all()] == [(1, "box"), (2, "ding")]
    assert not JournalEntry.objects.filter(words__contains="Brennock").exists()


def test_tags_follow_each_other(counter):
    assert [take_in(counter).tag for _ in range(3)] == ["001", "002", "003"]


def test_a_known_board_keeps_its_owner_when_somebody_else_brings_it(counter):
    school = seed.customer("Old Harbour Surf School")
    school.save()
    board = seed.fish(school)
    board.save()
    takein = take_in(counter, board=board, brought_by=seed.customer("Eoin"), payer=school)
    assert (takein.board.owner, takein.brought_by.name, takein.who_pays) == (school, "Eoin", school)


def test_who_brings_it_pays_unless_somebody_else_does(counter):
    takein = take_in(counter)
    assert takein.payer is None
    assert takein.who_pays == takein.brought_by


def test_a_line_of_the_check_is_ticked_or_explained(counter):
    checks = seed.checked()
    checks[3] = {"line": checks[3]["line"], "ok": False, "reason": " "}
    said = refusal(lambda: take_in(counter, checks=checks))
    assert list(said) == ["checks.3"]
    assert "Fins tried in their boxes" in said["checks.3"][0]
    checks[3]["reason"] = "no fins left with it"
    assert take_in(counter, checks=checks).checks[3]["reason"] == "no fins left with it"


@pytest.mark.parametrize(
    ("tail", "stringer", "field", "says"),
    [
        ("2500", "0", "damages.0.from_tail", "1676.4 mm long; 2500 mm"),
        ("500", "-300", "damages.0.from_stringer", "533.4 mm wide; 300 mm"),
    ],
)
def test_a_damage_off_the_board_is_refused_and_nothing_is_stored(counter, tail, stringer, field, says):
    damage = seed.crushed_box(from_tail_mm=Decimal(tail), from_stringer_mm=Decimal(stringer))
    said = refusal(lambda: take_in(counter, damages=[damage]))
    assert says in said[field][0]
    assert not TakeIn.objects.exists()
    assert not Board.objects.exists()
    assert not Customer.objects.exists()
    assert NumberSeries.objects.get(key="tag").next_number == 1


def test_a_board_is_not_taken_in_twice(counter, takein):
    said = refusal(lambda: take_in(counter, board=takein.board, brought_by=takein.brought_by))
    assert "already here, with tag 001" in said["board"][0]


def test_a_board_that_went_home_may_come_again(counter, takein):
    quoting.hand_back(takein=takein, signed=Signed(counter, NOW))
    assert take_in(counter, board=takein.board, brought_by=takein.brought_by).tag == "002"


def test_it_can_not_be_needed_before_today(counter):
    said = refusal(lambda: take_in(counter, needed_by=TODAY - timedelta(days=1)))
    assert "lies in the past" in said["needed_by"][0]


def test_the_bench_does_not_take_boards_in(bench):
    with pytest.raises(PermissionDenied):
        take_in(bench)


def test_what_is_seen_later_is_added_to_the_record(counter, takein):
    quoting.edit_take_in(
        takein=takein, checks=seed.checked(), signed=Signed(counter, NOW), wants="for the weekend", wet=True
    )
    takein.refresh_from_db()
    assert (takein.wants, takein.wet) == ("for the weekend", True)


def test_damages_are_added_changed_and_taken_off(counter, takein):
    ding = quoting.add_damage(takein=takein, damage=seed.rail_ding(), signed=Signed(counter, NOW))
    assert ding.number == 2
    ding.words = "runs under the glass"
    quoting.edit_damage(damage=ding, signed=Signed(counter, NOW))
    assert Damage.objects.get(pk=ding.pk).words == "runs under the glass"
    quoting.remove_damage(damage=ding, signed=Signed(counter, NOW))
    assert takein.damages.count() == 1


def test_a_damage_in_a_quote_stays(counter, quote):
    damage = quote.boards.get().takein.damages.get()
    assert "part of a quote" in str(refusal(lambda: quoting.remove_damage(damage=damage, signed=Signed(counter, NOW))))


def test_the_record_of_a_board_that_left_is_closed(counter, takein):
    quoting.hand_back(takein=takein, signed=Signed(counter, NOW))
    said = refusal(lambda: quoting.add_damage(takein=takein, damage=seed.rail_ding(), signed=Signed(counter, NOW)))
    assert "has left the shop" in str(said)
