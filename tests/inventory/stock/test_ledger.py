"""What comes in, what goes out and what it was worth, one verb at a time."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal as D

import pytest
from django.core.exceptions import PermissionDenied

from inventory.models import Lot, Movement, StockQuestion
from inventory.stock import books, ledger
from shop.models import JournalEntry
from shop.platform.acts import Refused
from tests.conftest import NOW, TODAY, in_words


def plain(words: str) -> str:
    """Words with the ordinary blank where a number is joined to its unit."""
    return words.replace("\u00a0", " ").replace("\u202f", " ")


def sentence(refusal: pytest.ExceptionInfo[Refused]) -> str:
    return plain(refusal.value.messages[0])


def test_a_delivery_lies_on_the_shelf_at_what_it_cost(shelf):
    lot = shelf.receive("20000", "96.00", delivery_note="LS-4471", brand="House brand")
    assert (shelf.on_hand, shelf.value) == (D(20000), D(96))
    assert (lot.quantity_left, lot.value_left, lot.delivery_note) == (D(20000), D(96), "LS-4471")
    assert plain(JournalEntry.objects.get().words) == "Received 20 000 g of Laminating resin"
    assert books.problems() == []


def test_shelf_life_dates_a_delivery_that_says_nothing(shelf):
    shelf.material.shelf_life_days = 180
    shelf.material.save()
    assert shelf.receive("100", "1", received_on=TODAY).good_until == TODAY + timedelta(days=180)
    assert shelf.receive("100", "1", use_by=TODAY + timedelta(days=67)).good_until == TODAY + timedelta(days=67)


def test_first_in_goes_out_first_at_its_own_cost(shelf):
    shelf.receive("1000", "5.00", received_on=TODAY - timedelta(days=55))
    shelf.receive("1000", "8.00", received_on=TODAY - timedelta(days=24))
    # 1000 g of the first at 0.005 and 200 g of the second at 0.008
    assert shelf.cost_of_use("1200") == D("6.60")
    assert (shelf.on_hand, shelf.value) == (D(800), D("6.40"))


def test_what_goes_off_first_goes_out_first(shelf):
    later = shelf.receive("1000", "5.00", received_on=TODAY - timedelta(days=55), use_by=TODAY + timedelta(days=188))
    sooner = shelf.receive("1000", "8.00", received_on=TODAY - timedelta(days=24), use_by=TODAY + timedelta(days=68))
    [out] = shelf.use("300")
    assert out.lot == sooner
    later.refresh_from_db()
    assert later.quantity_left == 1000


def test_under_average_all_lots_are_one_pool(shelf, averaging):
    shelf.receive("1000", "5.00")
    shelf.receive("1000", "8.00")
    assert shelf.cost_of_use("500") == D("3.25")  # 13.00 over 2000 g
    assert (shelf.on_hand, shelf.value) == (D(1500), D("9.75"))
    assert books.problems() == []


def test_a_cost_that_does_not_divide_leaves_no_dust(shelf):
    shelf.receive("3", "1.00")
    costs = [shelf.cost_of_use("1") for _ in range(3)]
    assert sum(costs) == 1
    assert (shelf.on_hand, shelf.value) == (0, 0)


def test_real_use_beyond_the_shelf_is_booked_and_asked_about(shelf):
    shelf.price("20 kg drum", "20000", "100.00")  # 0.005 a gram
    shelf.receive("200", "0.80")
    cost = shelf.cost_of_use("280")
    assert cost == D("1.20")  # 0.80 for the 200 g that were there, 80 g at today's 0.005
    assert (shelf.on_hand, shelf.value) == (0, 0)
    found = Movement.objects.get(kind="difference")
    assert (found.quantity, found.value) == (D(80), D("0.40"))
    question = StockQuestion.objects.get()
    assert plain(question.words) == (
        "280 g of Laminating resin went out, but the shelf held only 200 g. Where did 80 g come from?"
    )
    assert books.problems() == []


def test_use_of_what_was_never_received_is_booked_on_a_lot_that_was_found(shelf):
    shelf.is_counted_out()
    assert shelf.cost_of_use("50") == 0  # no price is known
    lot = Lot.objects.get()
    assert (lot.origin, lot.quantity_left) == ("found", 0)
    assert books.problems() == []


def test_shortfall_under_average_empties_the_pool(shelf, averaging):
    shelf.price("1 kg tin", "1000", "10.00")
    shelf.receive("100", "0.70")
    shelf.receive("100", "0.90")
    assert shelf.cost_of_use("250") == D("2.10")
    assert (shelf.on_hand, shelf.value) == (0, 0)
    assert books.problems() == []


def test_more_out_of_a_named_lot_than_it_held_leaves_the_other_lots_alone(shelf):
    shelf.price("1 kg tin", "1000", "10.00")
    named, other = shelf.receive("100", "0.70"), shelf.receive("100", "0.90")
    assert shelf.cost_of_use("150", lot=named) == D("1.20")
    other.refresh_from_db()
    assert (other.quantity_left, other.value_left) == (D(100), D("0.90"))


@pytest.mark.parametrize("valuation", ["fifo", "average"])
def test_stock_past_its_date_waits_until_nothing_else_is_left(shelf, profile, valuation):
    profile.valuation = valuation
    profile.save()
    stale = shelf.receive("500", "1.00", received_on=TODAY - timedelta(days=324), use_by=TODAY - timedelta(days=1))
    fresh = shelf.receive("500", "1.00", use_by=TODAY + timedelta(days=364))
    [out] = shelf.use("400")
    assert out.lot == fresh
    assert not StockQuestion.objects.exists()
    assert {out.lot for out in shelf.use("300")} == {fresh, stale}
    assert StockQuestion.objects.get().words.endswith(
        f"used past its date, {in_words(TODAY - timedelta(days=1), weekday=False)}. Was it tested first?"
    )
    assert books.problems() == []


def test_opening_shortens_what_is_left_of_its_life(shelf):
    shelf.material.opened_life_days = 30
    shelf.material.save()
    lot = shelf.receive("500", "1.00", use_by=TODAY + timedelta(days=364))
    [out] = shelf.use("10")
    lot.refresh_from_db()
    assert (lot.opened_on, lot.good_until) == (TODAY, TODAY + timedelta(days=30))
    shelf.undo(out)
    lot.refresh_from_db()
    assert (lot.opened_on, lot.good_until) == (None, TODAY + timedelta(days=364))


def test_a_counter_sale_is_refused_for_want_of_stock_in_date(shelf, keeper):
    shelf.receive("100", "1.00", received_on=TODAY - timedelta(days=324), use_by=TODAY - timedelta(days=177))
    shelf.receive("100", "1.00")
    with pytest.raises(Refused) as refusal:
        ledger.sell(material=shelf.material, quantity=D(101), signed=shelf.signed(keeper))
    assert sentence(refusal) == "The shelf holds 100 g of Laminating resin, not 101 g; another 100 g is out of date."
    ledger.sell(material=shelf.material, quantity=D(60), signed=shelf.signed(keeper))
    ledger.sell(material=shelf.material, quantity=D(40), signed=shelf.signed(keeper))
    assert shelf.on_hand == 100
    assert Movement.objects.filter(kind="use").count() == 2


def test_a_batch_gelled_in_the_pot_is_an_expense_with_a_reason(shelf, keeper):
    # Abnormal waste is no cost of the job: IAS 2 Inventories, paragraph 16; 0.300 kg at 26.00 a kg is 7.80.
    shelf.receive("5000", "130.00")
    with pytest.raises(Refused, match="Reason is empty"):
        ledger.write_off(material=shelf.material, quantity=D(300), reason=" ", signed=shelf.signed(keeper))
    [out] = ledger.write_off(
        material=shelf.material, quantity=D(300), reason="gelled in the pot", signed=shelf.signed(keeper)
    )
    assert (out.kind, out.value) == ("write_off", D("-7.80"))
    [flow] = books.flows()
    assert (flow.received, flow.written_off, flow.closing) == (
        (D(5000), D(130)),
        (D(300), D("7.80")),
        (D(4700), D("122.20")),
    )


def test_what_was_not_needed_goes_back_at_the_value_it_left_with(shelf, keeper):
    shelf.receive("3000", "10.00")
    [out] = shelf.use("1000")  # 3.3333
    for quantity, value in (("300", "1.0000"), ("300", "1.0000"), ("400", "1.3333")):
        back = ledger.put_back(movement=out, quantity=D(quantity), signed=shelf.signed(keeper))
        assert back.value == D(value)
    assert (shelf.on_hand, shelf.value) == (D(3000), D(10))
    with pytest.raises(Refused, match="Only 0"):
        ledger.put_back(movement=out, quantity=D(1), signed=shelf.signed(keeper))
    assert books.problems() == []


def test_a_use_with_a_return_is_undone_whole(shelf, keeper):
    shelf.receive("3000", "10.00")
    [out] = shelf.use("1000")
    ledger.put_back(movement=out, quantity=D(300), signed=shelf.signed(keeper))
    with pytest.raises(Refused, match="undo that first"):
        shelf.reverse(out)
    assert len(shelf.undo(out)) == 2
    assert (shelf.on_hand, shelf.value) == (D(3000), D(10))
    with pytest.raises(Refused, match="already undone"):
        shelf.undo(out)


@pytest.mark.parametrize("valuation", ["fifo", "average"])
def test_undoing_a_use_brings_back_quantity_value_shortfall_and_question(shelf, profile, valuation):
    profile.valuation = valuation
    profile.save()
    shelf.price("20 kg drum", "20000", "100.00")
    shelf.receive("200", "0.80")
    shelf.receive("100", "0.70")
    outs = shelf.use("500")
    shelf.undo(outs[0])
    assert (shelf.on_hand, shelf.value) == (D(300), D("1.50"))
    assert not StockQuestion.objects.open().exists()
    assert StockQuestion.objects.get().answer == "The entry was undone."
    assert books.problems() == []


def test_a_movement_is_reversed_once_and_a_reversal_never(shelf):
    shelf.receive("200", "0.80")
    [out] = shelf.use("50")
    back = shelf.reverse(out)
    assert (back.lot, back.quantity, back.value, back.reverses) == (out.lot, D(50), D("0.20"), out)
    with pytest.raises(Refused, match="already undone"):
        shelf.reverse(out)
    with pytest.raises(Refused, match="stays undone"):
        shelf.reverse(back)


@pytest.mark.parametrize("valuation", ["fifo", "average"])
def test_a_delivery_is_undone_only_while_it_is_untouched(shelf, profile, valuation):
    profile.valuation = valuation
    profile.save()
    shelf.receive("1000", "5.00")
    second = shelf.receive("1000", "8.00").movements.get()
    outs = shelf.use("1500")
    with pytest.raises(Refused, match="Undo those uses first"):
        shelf.reverse(second)
    shelf.undo(outs[0])
    shelf.reverse(second)
    assert (shelf.on_hand, shelf.value) == (D(1000), D(5))
    assert books.problems() == []


def test_a_count_books_more_at_the_lot_s_own_cost_and_less_at_what_it_was_worth(shelf, keeper):
    lot = shelf.receive("1000", "5.00")
    more = ledger.book_difference(lot=lot, quantity=D(100), reason="counted", signed=shelf.signed(keeper))
    less = ledger.book_difference(lot=lot, quantity=D(-300), reason="counted", signed=shelf.signed(keeper))
    assert (more.value, less.value) == (D("0.50"), D("-1.50"))
    with pytest.raises(Refused, match="This lot holds only"):
        ledger.book_difference(lot=lot, quantity=D(-801), reason="counted", signed=shelf.signed(keeper))
    assert (shelf.on_hand, shelf.value) == (D(800), D(4))


def test_quantities_are_kept_to_the_step_of_their_unit(shelf):
    shelf.receive("10.0004", "1.00")
    assert shelf.on_hand == D("10.000")
    with pytest.raises(Refused, match="above zero"):
        shelf.use("0.0004")


REFUSED_DELIVERIES = [
    ({"quantity": "0"}, "Quantity must be above zero."),
    ({"quantity": "-1"}, "Quantity must be above zero."),
    ({"value": "-0.01"}, "Price must be zero or more."),
    ({"received_on": TODAY + timedelta(days=1)}, "Received on must not lie in the future."),
    ({"use_by": TODAY - timedelta(days=1)}, "Use by must not lie before the day it was received."),
    ({"happened_at": NOW + timedelta(days=1), "recorded_at": NOW}, "When it happened must not lie in the future."),
    ({"origin": "customer"}, "The customer's own material stays with the job; it is not taken into the store."),
]


@pytest.mark.parametrize(("entries", "words"), REFUSED_DELIVERIES)
def test_a_delivery_that_can_not_be_is_refused_and_nothing_is_stored(shelf, entries, words):
    with pytest.raises(Refused) as refusal:
        shelf.receive(**{"quantity": "1", "value": "1", **entries})
    assert sentence(refusal) == words
    assert not Lot.objects.exists()
    assert not Movement.objects.exists()
    assert not JournalEntry.objects.exists()


def test_who_may(shelf, bench, keeper):
    shelf.receive("100", "1.00")
    receipt = Movement.objects.get()
    shelf.by = bench
    [out] = shelf.use("10")
    shelf.undo(out)
    for forbidden in (lambda: shelf.receive("1", "1"), lambda: shelf.reverse(receipt)):
        with pytest.raises(PermissionDenied):
            forbidden()


def test_a_movement_is_never_changed_or_deleted(shelf):
    movement = shelf.receive("100", "1.00").movements.get()
    for forbidden in (
        movement.save,
        movement.delete,
        Movement.objects.all().delete,
        lambda: Movement.objects.update(value=D(0)),
    ):
        with pytest.raises(TypeError, match="reverse it"):
            forbidden()


def test_valuation_stays_once_something_moved(shelf, profile):
    ledger.may_switch_valuation()
    profile.valuation = "average"
    profile.save()
    shelf.receive("100", "1.00")
    with pytest.raises(Refused, match="no longer be changed"):
        ledger.may_switch_valuation()
    profile.valuation = "fifo"
    with pytest.raises(Refused, match="no longer be changed"):
        profile.save()
    profile.refresh_from_db()
    assert profile.valuation == "average"
    profile.name = "Another name"
    profile.save()
