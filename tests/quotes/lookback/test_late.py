"""What made boards late: by worked examples, and from rows written by hand."""

from __future__ import annotations

from datetime import datetime, time, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse
from django.utils import timezone

from inventory.models import Movement
from quotes.lookback import LateFacts, causes_of_all, late_facts, past_promises, what_made_late
from quotes.models import Extra, Job, Promise, Step, StepTime, StepUse
from shop.models import Absence, Profile
from tests.conftest import NOW, TODAY
from tests.reading import says


def test_a_cause_is_named_where_it_makes_up_a_quarter_of_the_delay():
    assert what_made_late(LateFacts(late=4, answer_h=24.0)) == {"answer": 1.0}
    assert what_made_late(LateFacts(late=4, answer_h=23.0)) == {}


def test_several_causes_are_named_what_cost_most_first():
    facts = LateFacts(
        late=4, answer_h=36.0, material_days=3, again_days=1, away_days=0.5, hours_missing=12.0, hours_a_day=5.0
    )
    assert list(what_made_late(facts).items()) == [
        ("material", 3.0), ("elsewhere", 2.4), ("answer", 1.5), ("again", 1.0),
    ]  # fmt: skip


def test_hours_of_which_too_little_is_known_name_nothing():
    assert what_made_late(LateFacts(late=1, hours_missing=None, hours_a_day=5.0)) == {}
    assert what_made_late(LateFacts(late=1, hours_missing=9.0, hours_a_day=0.0)) == {}


def test_causes_over_all_boards_and_those_of_which_nothing_is_known():
    late = [LateFacts(2, answer_h=48.0), LateFacts(1, answer_h=96.0, again_days=1), LateFacts(3)]
    causes, unknown = causes_of_all(late)
    assert [(one.by, one.boards, one.days) for one in causes] == [("answer", 2, 3.0), ("again", 1, 1.0)]
    assert unknown == 1
    assert causes_of_all([]) == ([], 0)


def at(back, hour=12):
    """An hour of a day so many days ago."""
    return datetime.combine(TODAY - timedelta(days=back), time(hour), timezone.get_current_timezone())


@pytest.fixture
def late(job, counter):
    """The keels, promised before promises were kept, twenty days ago for five days ago; ready yesterday."""
    Promise.objects.all().delete()
    Job.objects.update(
        agreed_at=at(20), promised_on=TODAY - timedelta(days=5), state=Job.State.FINISHED, finished_at=at(1)
    )
    job.steps.update(state=Step.State.DONE, started_at=at(1, 10), done_at=at(1, 11))
    job.refresh_from_db()
    return job


def facts():
    return late_facts(past_promises(Profile.objects.get()), Profile.objects.get(), lost=0.5, lost_sd=0.1)


def test_a_job_from_before_promises_were_kept_has_the_day_on_it_without_a_chance(late):
    [found] = past_promises(Profile.objects.get())
    assert (found.late, found.chance, found.stood) == (4, None, TODAY - timedelta(days=5))
    assert found.recipes
    assert past_promises(Profile.objects.get(), NOW) == []


def test_the_promise_that_stood_last_before_it_was_ready_counts(late, counter):
    days = [(20, 9, 0.8), (10, 2, 0.6), (0, -9, 0.99)]  # given so many days ago, for so many days ago
    for given, back, chance in days:
        day = TODAY - timedelta(days=back)
        Promise.objects.create(job=late, day=day, chance=chance, at=at(given), by=counter)
    [found] = past_promises(Profile.objects.get())
    assert (found.first, found.stood) == (TODAY - timedelta(days=9), TODAY - timedelta(days=2))
    assert (found.chance, found.late, found.given_at) == (0.6, 1, at(10))


def test_a_job_stopped_or_done_in_one_go_promised_nothing(late):
    Job.objects.update(state=Job.State.STOPPED)
    assert past_promises(Profile.objects.get()) == []
    Job.objects.update(state=Job.State.PICKED_UP, hands=Job.Hands.WHOLE)
    assert past_promises(Profile.objects.get()) == []


def test_answers_count_from_the_promise_on_and_two_at_once_count_once(late, bench):
    for asked, answered in ((at(30), at(18)), (at(19), at(17)), (at(10, 10), at(10, 16)), (at(9), None)):
        Extra.objects.create(job=late, words="wet foam", found_at=asked, found_by=bench, answered_at=answered)
    assert facts()[0].answer_h == pytest.approx(3 * 24 + 6)


def test_steps_done_again_count_by_days(late):
    first, *rest = late.steps.order_by("position")
    for step, back in zip(rest, (3, 3, 2, 25), strict=False):
        Step.objects.filter(pk=step.pk).update(redo_of=first, done_at=at(back))
    assert facts()[0].again_days == 2  # that of 25 days ago was before the promise


def test_material_that_came_in_while_a_step_was_free_and_was_used_at_once(late, bench):
    step = late.steps.order_by("position")[1]
    lot = Movement.objects.filter(lot__origin="bought").first().lot
    use = StepUse.objects.create(step=step, material=lot.material, used=Decimal(1), at=at(1), by=bench)
    use.movements.add(lot.movements.first())
    late.steps.update(earliest_at=at(8))
    for came, days in ((1, 7), (2, 6), (3, 0), (12, 0)):
        type(lot).objects.filter(pk=lot.pk).update(received_on=TODAY - timedelta(days=came))
        assert facts()[0].material_days == days


def test_a_day_away_counts_where_it_was_written_down_after_the_promise(late, bench):
    open_day = next(day for back in range(3, 9) if (day := TODAY - timedelta(days=back)).weekday() == 2)
    for made_at in (at(30), at(3)):
        Absence.objects.create(person=bench, first=open_day, last=open_day, made_at=made_at, by=bench)
    assert facts()[0].away_days == 1.0


def test_hours_missing_are_those_beyond_usual_luck(late, bench):
    """14 days from the promise to the day before it was ready have ten open ones of 8 h; half of them usually go
    elsewhere, so that 40 h were to be expected less 1.2816 · 0.1 · 8 · √10 h of luck."""
    Job.objects.update(agreed_at=at(16), finished_at=at(1))
    step, days = late.steps.first(), [TODAY - timedelta(days=back) for back in range(15, 1, -1)]
    rates = {"wage_per_hour": 20, "overhead_per_hour": 10}
    for day in days:
        if day.weekday() < 5:
            StepTime.objects.create(step=step, person=bench, day=day, minutes=60, typed=False, **rates)
    [found] = facts()
    assert found.hours_a_day == pytest.approx(4.0)
    assert found.hours_missing == pytest.approx(40 - 10 - 1.2816 * 0.1 * 8 * 10**0.5)
    StepTime.objects.filter(day__gt=days[2]).delete()
    assert facts()[0].hours_missing is None


def test_the_page_says_how_many_were_kept_and_why_not(late, bench, keeper_client):
    Extra.objects.create(job=late, words="wet foam", found_at=at(19), found_by=bench, answered_at=at(12))
    html = says(keeper_client.get(reverse("promises")))
    assert "0 of 1" in html
    assert "4 days" in html
    assert "An answer was waited for" in html
    assert "No chance was said with any of them" in html
    assert "0 of 1 <span" in says(keeper_client.get(reverse("learned")))


def test_a_chance_that_was_said_is_held_against_what_came_of_it(late, counter, keeper_client):
    Promise.objects.create(job=late, day=late.promised_on, chance=0.8, at=at(20), by=counter)
    html = says(keeper_client.get(reverse("promises"), {"of": "all"}))
    assert "8 in 10" in html
    assert "so few say little: a chance of 0 to 97 in 100 keeps so many" in html
    assert "Not known" in html


def test_an_empty_shop_says_so(profile, keeper_client):
    assert "No board with a day promised is ready" in says(keeper_client.get(reverse("promises")))
    html = says(keeper_client.get(reverse("promise-figures")))
    assert "start 15 %, nothing of your own yet" in html
    assert "Nothing known yet" in html


def test_figures_are_shown_with_start_own_and_used(late, bench, keeper_client):
    Extra.objects.create(job=late, words="wet foam", found_at=at(19), found_by=bench, answered_at=at(18))
    html = says(keeper_client.get(reverse("promise-figures")))
    assert "start 15 %, your 1 job 100 %" in html
    assert "<strong>19 %</strong>" in html  # (20 × 0.15 + 1) / 21
    assert "start 8.0 h, your 1 answer 24.0 h" in html


def test_pages_ask_the_same_number_of_questions_however_many_promises(late, keeper_client, counter):
    pages = [reverse("promises"), reverse("promise-figures")]
    first = [_queries(keeper_client, page) for page in pages]
    for number in range(3):
        Promise.objects.create(job=late, day=late.promised_on, chance=0.5 + number / 10, at=at(19), by=counter)
        copy = Job.objects.get(pk=late.pk)
        copy.pk, copy.quoted = None, None
        copy.save()
    assert [_queries(keeper_client, page) for page in pages] == first


def _queries(client, page):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as asked:
        assert client.get(page).status_code == 200
    return len(asked)
