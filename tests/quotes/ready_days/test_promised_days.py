"""Ready days of ways, what a yes does to others, promises kept and worked out again."""

from __future__ import annotations

from datetime import timedelta

import pytest

from quotes import bench as b
from quotes import quoting
from quotes.models import Job, KeptState, Promise, Way
from quotes.planner import forecast, from_json
from quotes.planner.promise import TO_PROMISE
from quotes.ready_days.promises import worked_out_again
from shop.models import ClosedDay, Profile
from shop.platform.acts import Signed
from tests.conftest import NOW, TODAY
from tests.quotes import seed
from tests.quotes.conftest import refusal, take_in

DRAWS = 60


@pytest.fixture(autouse=True)
def _enough_draws(settings):
    settings.READY_DAY_DRAWS = DRAWS


def first_way(quote):
    return quote.boards.get().ways.get(position=1)


def another_quote(counter, versions, name="Tomás", at=NOW):
    takein = take_in(counter, brought_by=seed.customer(name), board=seed.fish(), at=at)
    quote = quoting.start_quote(takeins=[takein], signed=Signed(counter, at))
    keels = {"version": versions["glass-on-twin"], "measures": seed.KEELS, "damage": takein.damages.get()}
    return quoting.add_way(board=quote.boards.get(), signed=Signed(counter, at), **keels)


def test_a_way_keeps_its_days_its_chance_and_the_state(quote, counter):
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    way = first_way(quote)
    kept = way.ready
    assert kept["even"] <= kept["likely"] <= kept["nine"]
    assert way.ready_on.isoformat() == kept["likely"]
    assert kept["chance"] >= TO_PROMISE
    assert (kept["draws"], len(kept["digest"]), kept["touched"]) == (DRAWS // 2, 32, [])


def test_the_same_bench_gives_the_same_day_to_the_letter(quote, counter):
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    before = [way.ready for way in Way.objects.order_by("pk")]
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    assert [way.ready for way in Way.objects.order_by("pk")] == before


def test_a_day_by_hand_stays_and_says_its_chance(quote, counter):
    way = first_way(quote)
    early, late = TODAY + timedelta(days=1), TODAY + timedelta(days=60)
    chances = []
    for day in (early, late):
        way = quoting.edit_way(way=way, signed=Signed(counter, NOW), title=way.title, ready_on=day)
        assert way.ready_on == day
        chances.append(way.ready["chance"])
    assert chances[0] < 0.5
    assert chances[1] == 1.0


def test_a_yes_that_touches_another_promise_says_so(job, versions, counter):
    Profile.objects.update(bench_hours_per_day=1)
    Job.objects.filter(pk=job.pk).update(promised_on=TODAY + timedelta(days=9))
    way = another_quote(counter, versions)
    quoting.edit_quote(quote=way.board.quote, signed=Signed(counter, NOW), note="", rush_percent=25)
    way.refresh_from_db()
    (touched,) = way.ready["touched"]
    assert (touched["job"], touched["tag"]) == (job.pk, job.takein.tag)
    assert touched["before"] - touched["after"] >= 0.1


def test_a_way_is_priced_and_shown_where_the_bench_can_not_be_played(quote, counter, client):
    ClosedDay.objects.bulk_create(ClosedDay(day=TODAY + timedelta(days=n)) for n in range(400))
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    way = first_way(quote)
    assert way.ready_on is None
    assert way.gross is not None
    assert "Nobody is at work within a year" in way.ready["trouble"]
    job = b.accept_way(way=way, signed=Signed(counter, NOW), how="by phone", spoken=True)
    assert (job.promised_on, Promise.objects.count()) == (None, 0)


def test_a_yes_keeps_the_promise_with_the_state_it_rests_on(sent, counter):
    way = first_way(sent)
    job = b.accept_way(way=way, signed=Signed(counter, NOW), how="by phone")
    promise = job.promises.get()
    assert (promise.day, promise.by_hand, promise.because) == (job.promised_on, False, "agreed")
    assert promise.chance >= TO_PROMISE
    assert promise.draws == DRAWS
    ready = worked_out_again(promise)
    assert (ready.q50, ready.q80, ready.q90) == (promise.even_on, promise.likely_on, promise.nine_on)
    assert (ready.promised, ready.chance) == (promise.day, promise.chance)
    assert from_json(promise.state.told).digest() == promise.state.digest


def test_a_yes_after_the_day_said_does_not_hold_any_more_is_promised_later_and_said(sent, counter, keeper, versions):
    way = first_way(sent)
    said = way.ready_on
    others = [another_quote(counter, versions, name) for name in ("Tomás", "Eoin", "Róisín")]
    Profile.objects.update(bench_hours_per_day=1)
    for other in others:
        other = b.accept_way(way=other, signed=Signed(counter, NOW), how="here", spoken=True)
        Job.objects.filter(pk=other.pk).update(promised_on=said - timedelta(days=1))
    job = b.accept_way(way=way, signed=Signed(counter, NOW), how="by phone")
    assert job.promised_on > said
    assert job.promises.get().chance >= TO_PROMISE


def test_a_day_given_with_the_yes_is_by_hand_and_has_its_chance(sent, counter):
    day = TODAY + timedelta(days=1)
    Profile.objects.update(bench_hours_per_day=1)
    job = b.accept_way(way=first_way(sent), signed=Signed(counter, NOW), how="by phone", promised_on=day)
    promise = job.promises.get()
    assert (promise.day, promise.by_hand) == (day, True)
    assert promise.chance < TO_PROMISE
    assert promise.likely_on > day


def test_another_day_is_another_promise(job, counter):
    day = job.promised_on + timedelta(days=20)
    b.promise_another_day(job=job, day=day, how="by phone", signed=Signed(counter, NOW))
    first, second = job.promises.order_by("pk")
    assert (second.day, second.because, second.chance) == (day, "day", 1.0)
    assert first.day == job.promised_on
    assert worked_out_again(second).chance == second.chance


def test_promises_of_one_state_share_it(sent, counter):
    job = b.accept_way(way=first_way(sent), signed=Signed(counter, NOW), how="by phone")
    assert KeptState.objects.count() == 1
    for more in (30, 31):
        day = job.promised_on + timedelta(days=more)
        b.promise_another_day(job=job, day=day, how="by phone", signed=Signed(counter, NOW))
    assert job.promises.count() == 3


def test_one_more_board_never_changes_the_draws_of_another(job, versions, counter):
    promise = job.promises.get()
    state = from_json(promise.state.told)
    alone = forecast(state, DRAWS)
    way = another_quote(counter, versions)
    b.accept_way(way=way, signed=Signed(counter, NOW), how="here", spoken=True)
    from quotes.ready_days.rack_state import bench_now

    both = bench_now(NOW).state
    assert {one.job for one in both.boards} > {one.job for one in state.boards}
    longer = forecast(both, DRAWS)
    own = job.takein.tag
    assert sum(abs(a - c) for a, c in zip(alone.days[own], longer.days[own], strict=True)) / DRAWS < 3


def test_a_quote_goes_out_with_its_day_while_it_holds_and_not_after(quote, counter, versions):
    way = first_way(quote)
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    later = NOW + timedelta(days=12)
    assert "the ready day is no longer the one" in str(
        refusal(lambda: quoting.send_quote(quote=quote, signed=Signed(counter, later)))
    )
    soon = NOW + timedelta(minutes=5)
    quoting.recompute(quote=quote, signed=Signed(counter, NOW))
    way.refresh_from_db()
    assert quoting.send_quote(quote=quote, signed=Signed(counter, soon)).number
    assert first_way(quote).ready_on == way.ready_on
