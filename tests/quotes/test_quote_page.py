"""What a quote's page offers in each of its states, without a database: for the quote, for each board, for each way."""

from __future__ import annotations

import itertools

import pytest

from quotes.models import Quote
from quotes.views.action import Action
from quotes.views.quote_page import QuotedBoard, QuotedWay, QuotePage
from tests.quotes.actions import loud, sound, words

State = Quote.State
FLAGS = ("lacking", "guesses", "no_papers", "refused", "on_paper", "expired")
ONE, TWO = QuotedWay(11, 1), QuotedWay(12, 2)
WAYS = ((), (ONE,), (ONE, TWO), (QuotedWay(11, 1, priced=False),), (ONE, QuotedWay(12, 2, agreed=True)))


def board(state=State.DRAFT, ways=(ONE, TWO), **more) -> QuotedBoard:
    return QuotedBoard(quoted=4, state=state, ways=ways, **more)


def page(state=State.DRAFT, *ways, **more) -> QuotePage:
    """A quote with one board for each of `ways`."""
    return QuotePage(quote=7, state=state, boards=tuple(board(state, each) for each in ways), **more)


def every_page():
    for state, ways in itertools.product(State, [*((each,) for each in WAYS), (WAYS[0], WAYS[2]), ()]):
        for flags in itertools.product((False, True), repeat=len(FLAGS)):
            yield page(state, *ways, **dict(zip(FLAGS, flags, strict=True)))


def of_quote(one: QuotePage) -> list[Action]:
    alone = (one.work_out_first, one.show_customer, one.open_newer, one.type_prices)
    return [action for action in (*alone, *one.actions) if action]


def of_board(one: QuotedBoard) -> list[Action]:
    ways = itertools.chain.from_iterable(one.way_actions)
    return [action for action in (one.its_job, one.add_way, *ways) if action]


def test_the_row_at_the_foot_has_one_loud_button_at_most_and_it_is_the_primary():
    pages = list(every_page())
    assert len(pages) == len(State) * (len(WAYS) + 2) * 2 ** len(FLAGS)
    for one in pages:
        assert loud(one.actions) == ([one.primary_action] if one.primary_action else []), one
        assert not one.primary_action or one.actions[0] == one.primary_action


def test_whatever_is_pressed_goes_to_one_place():
    for one in every_page():
        assert all(sound(action) for action in of_quote(one)), one
    for state, ways, room, job in itertools.product(State, WAYS, (True, False), (None, 3)):
        one = board(state, ways, room=room, job=job)
        assert len(one.way_actions) == len(ways)
        assert all(sound(action) for action in of_board(one)), one


@pytest.mark.parametrize(
    ("state", "more", "row"),
    [
        (State.SENT, {"on_paper": True}, ["Open the paper", "New version", "Declined"]),
        (State.AGREED, {"on_paper": True}, ["Open the paper"]),
        (State.AGREED, {}, []),  # agreed at the counter, never on paper
        (State.DECLINED, {"on_paper": True}, ["Open the paper", "New version"]),
        (State.DECLINED, {}, ["New version"]),
        (State.REPLACED, {"on_paper": True}, ["Open the paper"]),
    ],
)
def test_what_is_done_with_a_quote_that_went_out(state, more, row):
    one = page(state, (ONE, TWO), **more)
    assert words(one.actions) == row
    assert words(loud(one.actions)) == (["Open the paper"] if state == State.SENT else [])


def test_a_draft_is_sent_once_every_board_has_a_way_and_every_way_a_price():
    rest = ["Payer and note", "One more board", "Drop it"]
    looks = ["Preview the paper", "Work out again"]
    assert words(page(State.DRAFT, (ONE,)).actions) == ["Send: number it for good", *looks, *rest]
    assert words(page(State.DRAFT, (ONE,), lacking=True).actions) == [*looks, *rest]
    assert words(page(State.DRAFT, (ONE,), ()).actions) == [*looks, *rest], "one board has no way yet"
    assert words(page(State.DRAFT, ()).actions) == rest
    assert words(page(State.DRAFT).actions) == rest
    assert not page(State.SENT, (ONE,)).can_send


def test_under_a_refusal_a_draft_is_worked_out_anew_unless_it_is_the_papers_that_lack():
    assert page(refused=True).work_out_first.post == "/quote/7/work-out/"
    assert page().work_out_first is None
    assert page(refused=True, no_papers=True).work_out_first is None
    assert page(State.SENT, refused=True).work_out_first is None


def test_the_screen_is_turned_where_there_is_something_to_see():
    assert page(State.SENT, (ONE,)).show_customer.href == "/quote/7/customer/"
    assert page(State.DRAFT, ()).show_customer is None


def test_a_guessed_price_is_typed_while_the_quote_is_a_draft():
    assert page(guesses=True).type_prices.href == "/quote/7/prices/"
    assert page(State.SENT, guesses=True).type_prices is None
    assert page().type_prices is None


def test_what_was_replaced_leads_to_the_version_after_it():
    newer = page(State.REPLACED, newer=(8, 2)).open_newer
    assert (newer.words, newer.href) == ("Open version 2", "/quote/8/")
    assert page(State.SENT).open_newer is None


def test_a_board_of_a_draft_gets_ways_as_long_as_there_is_room():
    assert board(ways=()).add_way.look == "go"
    assert board().add_way.look == "go plain"
    assert board().add_way.href == "/quote/board/4/way/"
    assert board(room=False).add_way is None
    assert board(State.SENT).add_way is None


def test_ways_of_a_draft_are_changed_and_moved_up():
    first, second = board().way_actions
    assert [(one.words, one.heard) for one in first] == [("Change", " way 1")]
    assert [(one.words, one.heard) for one in second] == [("Change", " way 2"), ("Move up", " way 2")]
    assert (second[1].post, second[1].look) == ("/way/12/up/", "quiet")


def test_a_customer_agrees_to_one_way_of_a_board():
    asked = board(State.SENT, (ONE, QuotedWay(12, 2, priced=False)))
    assert asked.asked
    agree = [each for (each,) in asked.way_actions]
    assert [(one.words, one.heard, one.look) for one in agree] == [
        ("Agree on this", ": way 1", "go"),
        ("Agree on this", ": way 2", "go plain"),
    ]
    agreed = board(State.SENT, (ONE, QuotedWay(12, 2, agreed=True)))
    assert not agreed.asked
    assert agreed.way_actions == ((), ())
    for state in set(State) - {State.SENT, State.DRAFT}:
        assert not board(state).asked
        assert board(state).way_actions == ((), ())


def test_what_was_agreed_became_a_job():
    assert board(State.AGREED, job=3).its_job.href == "/job/3/"
    assert board().its_job is None
