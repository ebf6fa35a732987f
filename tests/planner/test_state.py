"""A state of the shop: read with a sentence for whatever is wrong, written back, known by its digest."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from quotes.planner import WrongState, forecast, from_json
from tests.planner.samples import board, certain, in_days, sample, samples, step


def set_to(*path: Any, value: Any) -> Callable[[dict[str, Any]], None]:
    def change(told: dict[str, Any]) -> None:
        here: Any = told
        for part in path[:-1]:
            here = here[part]
        here[path[-1]] = value

    return change


WRONG = [
    (set_to("jobs", 0, "steps", 0, "minutes", value=None), "Job “8”, step “0” has no minutes"),
    (set_to("jobs", 0, "steps", 0, "minutes", value=0), "Job “8”, step “0” has no minutes"),
    (set_to("jobs", 0, "steps", 0, "minutes", value=-3), "“minutes” is -3, not a number"),
    (set_to("jobs", 0, "steps", 0, "minutes", value=float("nan")), "“minutes” is nan, not a number"),
    (set_to("jobs", 0, "steps", 0, "cure_h", value=None), "Job “8”, step “0”: its cure is not known"),
    (set_to("jobs", 0, "steps", value=None), "Job “8”: “steps” is missing"),
    (set_to("jobs", 0, "came", value="yesterday"), "Job “8”: “came” is 'yesterday', not a time"),
    (set_to("jobs", 0, "free_from", value="2024-01-25T10:52+01:00"), "times are local"),
    (set_to("jobs", 0, "promised", value="soon"), "Job “8”: “promised” is 'soon', not a day"),
    (set_to("jobs", 0, "turns_up_after", value=-1), "“turns_up_after” is -1, not a number of steps"),
    (set_to("jobs", 1, "job", value="8"), "Two of them are called job “8”"),
    (set_to("ask", value=["99"]), "Job “99” is asked about, and no such job is on the rack"),
    (set_to("people", 0, "hours", value={}), "Nobody is at work within a year of 2024-01-25"),
    (set_to("people", value=[]), "Nobody is at work within a year"),
    (set_to("people", 0, "hours", "mon", value=[["09:00", "25:00"]]), "a day ends at 24:00"),
    (set_to("people", 0, "hours", "mon", value=[["13:00", "09:00"]]), "the hours of mon do not follow one another"),
    (set_to("people", 0, "hours", "mon", value=["09:00"]), "not a pair"),
    (set_to("people", 0, "hours", "funday", value=[]), "“funday” is no weekday"),
    (set_to("known", value=None), "What is known is missing"),
    (set_to("known", "lost_share", value=1.2), "a share is at most 1"),
    (set_to("known", "arrivals", "kinds", value=[]), "no kind of job has a share"),
    (set_to("now", value=None), "The state: “now” is None, not a time"),
]


@pytest.mark.parametrize(("change", "sentence"), WRONG, ids=[sentence for _, sentence in WRONG])
def test_what_is_wrong_is_said_in_a_sentence(change, sentence):
    told = sample("100-16")
    change(told)
    with pytest.raises(WrongState) as refused:
        from_json(told)
    assert sentence in str(refused.value)
    assert str(refused.value).endswith(".")


def test_what_is_no_object_is_refused():
    for told in (None, [], "state"):
        with pytest.raises(WrongState):
            from_json(told)


def test_a_promise_in_the_past_is_taken_and_said():
    state = from_json(certain([board("late", [step(60)], promised=in_days(-3)), board("fine", [step(60)])]))
    assert state.cautions() == ["Job “late” is promised for 2026-02-27, which is past."]
    assert forecast(state, 5).ready("late").chance == 0


def test_a_step_that_fits_into_no_day_is_said():
    told = certain([board("long", [step(200), step(100)]), board("halts", [step(200, may_stop=True)])])
    told["people"][0]["hours"] = {"mon": [["09:00", "12:00"]]}
    assert from_json(told).cautions() == [
        "Job “long”, step “0” takes longer than any day at the bench: it is never begun."
    ]


def test_what_is_written_reads_as_the_same_state():
    for one in samples()[::10]:
        again = from_json(one.state.to_json())
        assert again.digest() == one.state.digest()
        assert again.to_json() == one.state.to_json()


def test_the_digest_is_that_of_what_is_said_not_of_its_order():
    told = sample("103-26")
    state = from_json(told)
    told["jobs"].reverse()
    told["people"].reverse()
    turned = from_json(told)
    assert turned.digest() == state.digest()
    assert forecast(turned, 20).days == forecast(state, 20).days
    told["jobs"][0]["steps"][0]["minutes"] += 1
    assert from_json(told).digest() != state.digest()


def test_a_board_whose_steps_are_done_is_ready_when_it_has_cured():
    cured = board("cured", [], free_from="2026-03-04T15:00")
    assert forecast(from_json(certain([cured])), 3).ready("cured").q90 == in_days(2)
