"""What a job's page says and offers in each of its states, without a database: one loud button, and what else."""

from __future__ import annotations

import itertools
from decimal import Decimal as D

import pytest

from quotes.bench import Spent
from quotes.lookback import Truth
from quotes.models import Job
from quotes.views.action import Action
from quotes.views.job_page import JobMoney, JobPage
from tests.quotes.actions import loud, sound, words

FLAGS = ("keeper", "finishable", "waits", "stopped")
NOTHING = Spent(D(0), D(0), D(0), D(0), D(0))
SPENT = Spent(materials=D(30), labour=D(44), overhead=D(18), bought=D(0), minutes=D(120))


def truth(**more) -> Truth:
    own = {"net": D(200), "quoted_cost": D(90), "quoted_minutes": D(110), "quoted_per_hour": 60.0}
    return Truth(**{**own, "real": SPENT, "comebacks": NOTHING, "currency": "EUR", **more})


def money(**more) -> JobMoney:
    return JobMoney(**{"lines": (("Glass-on keels", D(240)),), "gross": D(240), "left": D(240), **more})


MONEYS = (
    None,
    money(),
    money(on_account=D(80), left=D(160), truth=truth()),
    money(on_account=D(240), left=D(0)),
    money(invoice=(9, "Invoice 2026-0031"), paid=D(100), left=D(140), truth=truth(hands_known=False)),
    money(lines=(), gross=D(0), left=D(-80), on_account=D(80)),
)


def page(state=Job.State.OPEN, **more) -> JobPage:
    return JobPage(**{"job": 3, "board": 5, "state": state, **more})


def every_page():
    for state, kind, following in itertools.product(Job.State, MONEYS, (None, (8, "Sand"))):
        for flags in itertools.product((False, True), repeat=len(FLAGS)):
            yield page(state, money=kind, next_step=following, **dict(zip(FLAGS, flags, strict=True)))


def buttons(one: JobPage) -> list[Action]:
    """Everything a page shows to press."""
    alone = (one.primary_action, one.comes_back, one.step_by_step)
    return [action for action in (*alone, *one.other_actions, *one.money_actions, *one.changes) if action]


def test_no_page_has_two_loud_buttons_and_the_loud_one_is_the_primary():
    pages = list(every_page())
    assert len(pages) == len(Job.State) * len(MONEYS) * 2 * 2 ** len(FLAGS)
    for one in pages:
        assert loud(buttons(one)) == ([one.primary_action] if one.primary_action else []), one
        assert all(sound(action) for action in buttons(one))


def test_who_does_not_see_money_is_offered_nothing_of_it():
    for one in every_page():
        if one.money is None:
            assert (one.money_actions, one.changes, one.comes_back, one.another_day) == ((), (), None, "")
            assert one.primary_action is None or one.open


@pytest.mark.parametrize(
    ("more", "first", "href"),
    [
        ({"next_step": (8, "Sand")}, "Go on: Sand", "/step/8/"),
        ({"next_step": (8, "Sand"), "waits": True}, "Look at the next step", "/step/8/"),
        ({"next_step": (8, "Sand"), "finishable": True}, "Release check", "/job/3/release/"),
        ({"finishable": True}, "Release check", "/job/3/release/"),
        ({}, None, None),
        ({"state": Job.State.FINISHED}, None, None),  # the bench does not hand over
        ({"state": Job.State.FINISHED, "money": money()}, "Hand the board over", "/job/3/pick-up/"),
        ({"state": Job.State.STOPPED, "money": money()}, "Hand the board over", "/job/3/pick-up/"),
        ({"state": Job.State.PICKED_UP, "money": money()}, None, None),
    ],
)
def test_the_one_thing_to_do_next(more, first, href):
    action = page(**more).primary_action
    assert (action and action.words, action and action.href) == (first, href)


def test_the_page_says_where_the_work_stands():
    assert page(next_step=(8, "Sand"), done=2, total=6).standing == "Sand"
    assert page(next_step=(8, "Sand"), window="From 14:10").standing == "Sand. From 14:10"
    assert page().standing == "Every step is done"
    assert page(Job.State.FINISHED, next_step=(8, "Sand")).standing == ""
    assert page(done=2, total=6).counted == "2 of 6 steps done"
    assert page(done=1, total=1, stopped=True).counted == "1 step done, the others left out"
    assert page(done=0, total=0, stopped=True).counted == "0 steps done, the others left out"


def test_what_stands_between_a_job_and_its_release_check_is_said_once_hardly_a_step_is_ahead():
    lacking = "“A soft spot” has no answer yet."
    assert page(lacking=lacking, shown_ahead=1).why_not_yet == lacking
    assert page(lacking=lacking, shown_ahead=2).why_not_yet == ""
    assert page(Job.State.FINISHED, lacking=lacking).why_not_yet == ""
    assert page(finishable=True).why_not_yet == ""


def test_something_turns_up_on_the_bench_only_and_the_sheet_is_printed_at_any_time():
    assert words(page().other_actions) == ["Something turned up", "Job sheet"]
    sheet = page(Job.State.PICKED_UP).other_actions
    assert [(one.words, one.post, one.by_browser) for one in sheet] == [("Job sheet", "/job/3/sheet/", True)]


def test_what_was_agreed_is_changed_while_the_job_is_open():
    assert words(page(money=money()).changes) == ["Promise another day", "Another way instead", "Stop the work"]
    assert page(money=money()).changes[-1].look == "go alarm"
    assert page(Job.State.FINISHED, money=money()).changes == ()
    assert page(money=money()).another_day == "/job/3/promise/"


def test_a_board_comes_back_once_its_job_has_left_the_bench():
    assert page(money=money()).comes_back is None
    assert page(Job.State.PICKED_UP, money=money()).comes_back.href == "/take-in/new/?board=5"


@pytest.mark.parametrize(
    ("state", "kind", "said"),
    [
        (Job.State.OPEN, money(), ["Take a deposit"]),
        (Job.State.FINISHED, money(), ["Take a deposit"]),
        (Job.State.STOPPED, money(), []),
        (Job.State.PICKED_UP, money(), []),
        (Job.State.OPEN, money(on_account=D(240), left=D(0)), []),  # all of it is there
        (Job.State.FINISHED, money(invoice=(9, "Invoice 2026-0031")), ["Invoice 2026-0031"]),
    ],
)
def test_a_deposit_is_taken_before_there_is_an_invoice(state, kind, said):
    assert words(page(state, money=kind).money_actions) == said


def test_sundries_that_were_not_booked_are_booked_with_the_release_check():
    assert page().sundries_ahead == "Booked with the release check"
    assert page(Job.State.STOPPED).sundries_ahead == "Not booked"


def test_the_keeper_reads_quoted_and_real_step_by_step_once_the_job_ended():
    assert page(Job.State.FINISHED, keeper=True).step_by_step.href == "/learned/job/3/"
    assert page(Job.State.FINISHED).step_by_step is None
    assert page(keeper=True).step_by_step is None


def test_the_sums_say_what_was_agreed_and_what_is_still_due():
    part = money(on_account=D(80), left=D(160))
    assert part.sums == (("Glass-on keels", D(240)), ("In all, with tax", D(240)), ("Taken already", D(80)))
    assert part.due == ("Left to pay", D(160))
    nothing = money(lines=(), gross=D(0), left=D(-80), on_account=D(80))
    assert nothing.sums[0] == ("Nothing is charged for this job", D(0))
    assert nothing.due == ("To be paid back", D(80))
    invoiced = money(invoice=(9, "Invoice 2026-0031"), paid=D(100), left=D(140))
    assert invoiced.sums[-1] == ("Paid on Invoice 2026-0031", D(100))
    assert money(invoice=(9, "Invoice 2026-0031")).sums[-1] == ("In all, with tax", D(240))


def test_what_it_cost_is_named_by_what_is_known_of_it():
    assert page(money=money(truth=truth())).cost_words == "It cost so far"
    assert page(Job.State.FINISHED, money=money(truth=truth())).cost_words == "It really cost"
    assert page(money=money(truth=truth(hands_known=False))).cost_words == "Cost, hands as planned"
    plain = ["Materials, at what their lots cost", "Hands", "Overheads", "Bought in"]
    assert [what for what, _ in money(truth=truth()).spent] == plain
    assert money(truth=truth(comebacks=SPENT)).spent[-1] == ("Comebacks", D(92))  # 30 + 44 + 18
    assert money().spent == ()
