"""Boards done together as the bench shows it: from rows of the shop, offered among its figures, taken over by a tap."""

from __future__ import annotations

from datetime import timedelta
from decimal import Decimal
from itertools import count

import pytest

from quotes import bench as b
from quotes import experience
from quotes.costing.job.session_size import session_size
from quotes.costing.steps.sessions import FURTHER_SHARE, RESIN_BOARDS, part_of_set_up
from quotes.models import Job, Quote, Step
from shop.models import JournalEntry, Profile
from shop.platform.acts import Signed
from tests.conftest import NOW
from tests.quotes.bench.test_bench_pages import post
from tests.quotes.benches import step_of
from tests.quotes.conftest import open_shop, with_stock
from tests.quotes.past import agreed_job
from tests.reading import says

BEGINS = {"stocked": with_stock, "versions": open_shop}
pytestmark = pytest.mark.usefixtures("standing")

RESIN = RESIN_BOARDS.name
SHAPE = [2, 2, 2, 1, 1, 1]
YESTERDAY = NOW - timedelta(days=1)
USE = f"/figures/{RESIN}/seen/"


@pytest.fixture
def jobs(versions, stocked, keeper):
    """Two dings worked side by side yesterday with resin, kind by kind, and today one by itself."""
    found = [agreed_job(versions["ding-deck-small"], keeper, NOW - timedelta(days=2)) for _ in range(3)]
    first, second, third = found
    for at, together in ((YESTERDAY, [first, second]), (NOW - timedelta(hours=4), [third])):
        minutes = count(0, 10)
        for operation in ("fill", "laminate", "hot-coat"):
            for job in together:
                done(step_of(job, operation), keeper, at + timedelta(minutes=next(minutes)))
    return found


def done(step, by, at):
    return b.finish_step(step=step, minutes=Decimal(5), signed=Signed(by, at), rest_as_planned=False)


def resin(*boards):
    """What is seen of that many boards in each session with resin."""
    return {RESIN: session_size(RESIN_BOARDS, boards)}


def test_steps_ticked_off_one_after_the_other_are_sessions(jobs, django_assert_num_queries):
    with django_assert_num_queries(2):
        assert experience.boards_seen(NOW) == resin(*SHAPE)
    assert experience.boards_seen(YESTERDAY) == {}, "nothing is said of fewer than five"
    assert experience.boards_seen(NOW + timedelta(days=370)) == {}, "habits of a year ago are not those of now"


def test_a_step_that_is_not_done_any_more_does_not_count(jobs, keeper):
    b.reopen_step(step=step_of(jobs[2], "hot-coat"), signed=Signed(keeper, NOW))
    assert experience.boards_seen(NOW) == resin(*SHAPE[:-1])


def test_a_cup_that_served_two_boards_is_one_session_until_it_is_undone(jobs, keeper):
    mine, theirs = step_of(jobs[0], "laminate"), step_of(jobs[2], "laminate")
    shares = {mine: Decimal(20), theirs: Decimal(10)}
    mix = b.record_mix(
        step=mine, resin_g=Decimal(40), hardener_g=Decimal("0.8"), shares=shares, signed=Signed(keeper, NOW)
    )
    assert experience.boards_seen(NOW) == resin(2, 3, 2, 1, 1)
    Job.objects.filter(pk=jobs[2].pk).update(hands=Job.Hands.WHOLE)
    assert experience.boards_seen(NOW) == {}, "of a job done in one go only the cup says something: three sessions"
    Job.objects.filter(pk=jobs[2].pk).update(hands=Job.Hands.STEPS)
    b.undo_use(use=mix.uses.first(), signed=Signed(keeper, NOW))
    assert experience.boards_seen(NOW) == resin(*SHAPE)


def test_a_rush_worked_by_itself_does_not_count(jobs):
    Quote.objects.filter(boards__jobs=jobs[2]).update(rush_percent=Decimal(25))
    assert experience.boards_seen(NOW) == {}
    Quote.objects.filter(boards__jobs=jobs[2]).update(rush_percent=Decimal(0))
    Quote.objects.filter(boards__jobs=jobs[0]).update(rush_percent=Decimal(25))
    assert experience.boards_seen(NOW) == resin(*SHAPE), "with another board it is one of two"


def test_plans_of_before_there_were_sessions_go_by_their_operation(jobs):
    for step in Step.objects.all():
        step.plan = {name: said for name, said in step.plan.items() if name != "session"}
        step.save()
    assert experience.boards_seen(NOW) == resin(*SHAPE)


def test_what_was_seen_stands_beside_the_figure_in_use_and_is_taken_over_in_one_tap(jobs, keeper_client, form_key):
    value, low, high = session_size(RESIN_BOARDS, SHAPE).to_tenths
    page = says(keeper_client.get("/figures/"))
    assert f"in use 3, seen here {value:g} (eight in ten {low:g} to {high:g}, from 6 sessions)" in page
    then, now = (round(100 * part_of_set_up(boards, FURTHER_SHARE.value)) for boards in (value, 3))
    assert f"A board then bears {then} % of a set-up, now {now} %: prices rise a little." in page
    assert "boards usually cut back or sanded together</strong><span" not in page.split("As the trade has them")[0]
    assert "seen here" not in says(keeper_client.get("/figures/?q=cup"))
    assert Profile.objects.get().constants == {}, "it is only offered"
    shown = f"{value:g} {low:g} {high:g}"
    assert f'name="shown" value="{shown}"' in page
    assert post(keeper_client, form_key, USE, shown=shown).status_code == 302
    assert Profile.objects.get().constants == {RESIN: [value, low, high]}
    assert JournalEntry.objects.filter(verb="figure.set").count() == 1
    page = says(keeper_client.get("/figures/"))
    assert f"You work by {value:g} now" in page
    assert f"in use {value:g}, seen here {value:g}" in page
    assert f"Use {value:g}" not in page


def test_another_figure_than_was_shown_is_not_taken_over(jobs, keeper_client, form_key):
    for shown in ("1.1 1 1.2", "", "<b>"):
        assert post(keeper_client, form_key, USE, shown=shown).status_code == 302
        assert "is not what was shown here" in says(keeper_client.get("/figures/"))
    assert post(keeper_client, form_key, "/figures/cup_loss_g/seen/", shown="10 5 20").status_code == 302
    assert post(keeper_client, form_key, "/figures/no_such_thing/seen/", shown="").status_code == 404
    assert Profile.objects.get().constants == {}


def test_the_page_of_figures_takes_as_many_queries_with_sessions(jobs, keeper_client, django_assert_max_num_queries):
    with django_assert_max_num_queries(8):
        assert "seen here" in says(keeper_client.get("/figures/"))


def test_the_counter_does_not_take_it_over(jobs, counter_client, form_key):
    assert post(counter_client, form_key, USE, shown="1.7 1.3 2.1").status_code == 403
