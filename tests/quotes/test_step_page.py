"""What a step's page offers in each of its states, without a database: one loud button, and what else may be done."""

from __future__ import annotations

import itertools

import pytest

from quotes.models import Job, Step
from quotes.views.action import Action
from quotes.views.step_page import StepPage
from tests.quotes.actions import loud, sound, words

FLAGS = ("late", "waits", "refused", "dosed", "mixes", "withheld", "unbooked")


def page(state=Step.State.TODO, job_state=Job.State.OPEN, **more) -> StepPage:
    return StepPage(step=7, job=3, state=state, job_state=job_state, **more)


def every_page():
    for state, job_state in itertools.product(Step.State, Job.State):
        for flags in itertools.product((False, True), repeat=len(FLAGS)):
            yield page(state, job_state, **dict(zip(FLAGS, flags, strict=True)), next_step=(8, "Sand"))


def buttons(one: StepPage) -> list[Action]:
    """Everything a page shows to press."""
    started = [one.primary_action] if one.is_late or not one.open else []
    return [
        action
        for action in (*started, one.early_action, *one.hands, one.timing, *one.booking, *one.other_actions)
        if action
    ]


def test_no_page_has_two_loud_buttons_and_the_loud_one_is_the_primary():
    pages = list(every_page())
    assert len(pages) == len(Step.State) * len(Job.State) * 2 ** len(FLAGS)
    for one in pages:
        assert loud(buttons(one)) == ([one.primary_action] if one.primary_action else []), one


def test_whatever_is_pressed_goes_to_one_place():
    assert all(sound(action) for one in every_page() for action in buttons(one))


@pytest.mark.parametrize(
    ("more", "first", "row"),
    [
        ({}, "Step done", ["Step done"]),
        ({"mixes": True, "dosed": True}, "Mixed as shown", ["Mixed as shown", "Step done"]),
        ({"mixes": True, "dosed": True, "withheld": True}, None, ["Step done"]),
        ({"late": True}, "Sand first", []),
        ({"waits": True}, None, []),
        ({"refused": True, "dosed": True}, None, ["Step done"]),
        ({"refused": True, "late": True}, None, ["Step done"]),
        ({"refused": True, "mixes": True}, "Mixed as shown", ["Mixed as shown", "Step done"]),  # one was typed, wrongly
    ],
)
def test_the_one_thing_to_do_next(more, first, row):
    one = page(**more)
    assert (one.primary_action and one.primary_action.words) == first
    assert words(one.hands) == row


def test_a_step_that_waits_may_be_begun_early_and_says_so():
    early = page(waits=True).early_action
    assert (early.words, early.post, early.also) == ("It is ready, begin now", "/step/7/start/", {"early": "1"})
    assert page(waits=True, late=True).early_action is None, "past its window it is sanded"
    assert page(waits=True, refused=True).early_action is None
    assert page().early_action is None


def test_only_what_was_not_begun_is_timed_from_now():
    assert page().timing.post == "/step/7/start/"
    assert page(Step.State.DOING).timing is None
    assert page(refused=True).timing is None
    assert page(waits=True).timing is None


def test_a_step_that_is_done_leads_to_the_next_and_can_be_taken_back_while_its_job_is_open():
    done = page(Step.State.DONE, next_step=(8, "Sand"), times=((5, "45 min"),))
    assert (done.primary_action.words, done.primary_action.href) == ("Next: Sand", "/step/8/")
    assert words(done.other_actions) == ["Something turned up", "45 min is not right", "Not done yet", "Do it again"]
    finished = page(Step.State.DONE, Job.State.FINISHED, times=((5, "45 min"),))
    assert words(finished.other_actions) == ["Something turned up", "45 min is not right", "Do it again"]
    gone = page(Step.State.DONE, Job.State.PICKED_UP, times=((5, "45 min"),))
    assert words(gone.other_actions) == ["Something turned up"]
    assert gone.booking == ()
    assert gone.primary_action is None


def test_what_was_planned_is_booked_in_one_tap_unless_the_step_is_refused():
    assert words(page(unbooked=True).booking) == ["All as planned", "Book another material"]
    assert words(page(unbooked=True, refused=True).booking) == ["Book another material"]
    assert words(page(Step.State.DONE, unbooked=True).booking) == ["Book another material"]


def test_a_mix_that_should_not_have_been_made_can_be_booked_and_a_step_be_left_out():
    assert page(refused=True, dosed=True).mixed_all_the_same == "/step/7/mix/"
    assert page(refused=True).mixed_all_the_same == ""
    assert page(dosed=True).mixed_all_the_same == ""
    assert words(page().other_actions)[-1] == "This step is not needed"
    assert "This step is not needed" not in words(page(Step.State.DROPPED).other_actions)
