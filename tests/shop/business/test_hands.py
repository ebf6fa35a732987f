"""Hours of the week and days away: whose they are to enter, what is refused, and who is told."""

from __future__ import annotations

from datetime import time, timedelta

import pytest
from django.core.exceptions import PermissionDenied
from django.urls import reverse

from shop.business import hands, shop_settings, staff
from shop.models import Absence, BenchShift, JournalEntry, Role
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY, logged_in
from tests.reading import says

MORNING, AFTERNOON = (time(9), time(13)), (time(14), time(18))
A_DAY = timedelta(days=1)


def refusal(act) -> dict[str, list[str]]:
    with pytest.raises(Refused) as said:
        act()
    return said.value.message_dict if hasattr(said.value, "error_dict") else {"__all__": said.value.messages}


@pytest.fixture
def told():
    """The moments at which the rooms above were told that hours are others."""
    moments = []

    def hear(sender, at, **_):
        moments.append(at)

    hands.hours_changed.connect(hear)
    yield moments
    hands.hours_changed.disconnect(hear)


def set_hours(by, person, week):
    return hands.set_hours(person=person, week=week, signed=Signed(by, NOW))


def away(by, person=None, first=TODAY, days=1, **more):
    last = first + (days - 1) * A_DAY
    return hands.add_absence(person=person, first=first, last=last, signed=Signed(by, NOW), **more)


# --- hours ------------------------------------------------------------------------------------------------------------


def test_hours_are_kept_by_weekday_and_written_down(keeper, bench, told):
    set_hours(keeper, bench, {0: [AFTERNOON, MORNING], 4: [MORNING]})
    assert hands.weeks_of([bench, keeper]) == {bench.pk: {0: [MORNING, AFTERNOON], 4: [MORNING]}, keeper.pk: {}}
    entry = JournalEntry.objects.get(verb="hours.set")
    assert entry.words == "Hours of Bench Person at the bench: 12 h on 2 days"
    assert entry.details == {"Monday": "9:00–13:00, 14:00–18:00", "Friday": "9:00–13:00"}
    assert told == [NOW]


def test_the_same_hours_again_are_no_news_and_none_take_them_away(keeper, bench, told):
    set_hours(keeper, bench, {0: [MORNING]})
    set_hours(keeper, bench, {0: [MORNING], 1: []})
    assert JournalEntry.objects.filter(verb="hours.set").count() == len(told) == 1
    set_hours(keeper, bench, {})
    assert not BenchShift.objects.exists()
    assert JournalEntry.objects.filter(verb="hours.set").first().words.endswith("at the bench: none")


def test_hours_are_the_keepers(counter, bench):
    for other in (counter, bench):
        with pytest.raises(PermissionDenied):
            set_hours(other, bench, {0: [MORNING]})


def test_hours_that_cannot_be_are_refused_beside_their_day(keeper, bench):
    set_hours(keeper, bench, {0: [MORNING]})
    said = refusal(lambda: set_hours(keeper, bench, {2: [MORNING, (time(12), time(15))]}))
    assert said == {"week.2": ["Wednesday: 9:00–13:00 and 12:00–15:00 overlap; let one end before the next begins."]}
    said = refusal(lambda: set_hours(keeper, bench, {6: [(time(18), time(9))]}))
    assert said["week.6"][0].startswith("Sunday: 18:00–9:00 ends before it begins")
    assert hands.weeks_of([bench])[bench.pk] == {0: [MORNING]}


def test_who_no_longer_works_here_has_no_hours(keeper, bench):
    staff.change_login(person=bench, name="Bench Person", role=Role.BENCH, is_active=False, signed=Signed(keeper, NOW))
    said = refusal(lambda: set_hours(keeper, bench, {0: [MORNING]}))
    assert said == {"__all__": ["Bench Person no longer works here: pick somebody who may log in."]}


# --- days away --------------------------------------------------------------------------------------------------------


def test_days_away_are_kept_and_the_journal_does_not_say_why(keeper, bench, told):
    row = away(keeper, bench, days=3, reason="dentist")
    assert (row.person, row.first, row.last, row.by) == (bench, TODAY, TODAY + 2 * A_DAY, keeper)
    entry = JournalEntry.objects.get(verb="absence.add")
    assert entry.words == f"Bench Person away from {TODAY} to {TODAY + 2 * A_DAY}"
    assert "dentist" not in entry.words + str(entry.details)
    assert told == [NOW]


def test_everybody_enters_their_own_days_away_and_the_keeper_all(keeper, bench, counter):
    assert away(bench).person == bench
    said = refusal(lambda: away(bench, counter))
    assert said == {"person": ["Days away of others are the keeper’s to enter; your own you may."]}
    row = away(keeper, counter)
    assert "the keeper’s" in str(refusal(lambda: hands.take_absence_back(absence=row, signed=Signed(bench, NOW))))
    hands.take_absence_back(absence=row, signed=Signed(counter, NOW))
    assert not Absence.objects.filter(pk=row.pk).exists()


def test_days_away_that_cannot_be_are_refused(keeper, bench):
    assert refusal(lambda: away(keeper, bench, days=0)) == {
        "last": ["The last day away must not lie before the first."]
    }
    assert away(keeper, bench, first=TODAY + 500 * A_DAY, days=366)
    assert "More than a year away is no absence" in refusal(lambda: away(keeper, bench, days=367))["last"][0]
    away(keeper, bench, days=5)
    said = refusal(lambda: away(keeper, bench, first=TODAY + A_DAY, days=2))
    assert said == {"first": [f"Bench Person is away from {TODAY} to {TODAY + 4 * A_DAY} already: give other days."]}
    assert "is away from" in refusal(lambda: away(keeper, bench, first=TODAY + A_DAY, days=9))["first"][0]
    assert away(keeper, bench, first=TODAY + 5 * A_DAY)
    bench.is_active = False
    bench.save()
    assert list(refusal(lambda: away(keeper, bench))) == ["person"]


def test_days_away_ahead_are_taken_back_whole_and_those_begun_from_today_on(keeper, bench, told):
    ahead, begun = away(keeper, bench, first=TODAY + 8 * A_DAY), away(keeper, bench, first=TODAY - 2 * A_DAY, days=9)
    past = away(keeper, bench, first=TODAY - 9 * A_DAY)
    for row in (ahead, begun, ahead):
        hands.take_absence_back(absence=row, signed=Signed(keeper, NOW))
    begun.refresh_from_db()
    assert (begun.first, begun.last) == (TODAY - 2 * A_DAY, TODAY - A_DAY)
    assert set(Absence.objects.all()) == {begun, past}
    assert "are past; they stay" in str(
        refusal(lambda: hands.take_absence_back(absence=past, signed=Signed(keeper, NOW)))
    )
    words = JournalEntry.objects.filter(verb="absence.take_back").values_list("words", flat=True)
    assert list(words) == [
        f"Bench Person not away from {TODAY} to {TODAY + 6 * A_DAY} after all",
        f"Bench Person not away on {TODAY + 8 * A_DAY} after all",
    ]
    assert len(told) == 5


def test_closing_opening_the_week_and_who_works_here_are_told_too(keeper, bench, told):
    signed = Signed(keeper, NOW)
    (closed,) = shop_settings.close_days(first=TODAY, signed=signed)
    shop_settings.open_day(closed=closed, signed=signed)
    shop_settings.set_working_days(days=[1, 2], signed=signed)
    staff.change_login(person=bench, name="Bench", role=Role.BENCH, is_active=True, signed=signed)
    assert told == [NOW] * 3
    staff.change_login(person=bench, name="Bench", role=Role.BENCH, is_active=False, signed=signed)
    assert told == [NOW] * 4


# --- pages ------------------------------------------------------------------------------------------------------------


def test_the_page_of_hours_says_what_counts_while_nobody_has_any(keeper_client, keeper, bench):
    page = says(keeper_client.get(reverse("bench-hours")))
    assert "one pair of hands, 9:00–13:00, 14:00–18:00 on the days the shop works" in page
    set_hours(keeper, bench, {day: [MORNING, AFTERNOON] for day in range(5)} | {5: [MORNING]})
    page = says(keeper_client.get(reverse("bench-hours")))
    assert "Mon to Fri 9:00–13:00, 14:00–18:00" in page
    assert "Sat 9:00–13:00" in page
    assert "one pair of hands" not in page
    assert "1 counted on" in says(keeper_client.get(reverse("shop")))


def test_hours_are_typed_a_box_a_day(keeper, bench, form_key):
    client, where = logged_in(keeper), reverse("bench-hours-of", args=[bench.pk])
    shown = client.get(where)
    assert shown.context["form"]["day_0"].value() == "9:00–13:00, 14:00–18:00"
    assert shown.context["form"]["day_6"].value() == ""
    typed = {"day_0": "9-13", "day_2": "9-13, 12-15", "submission_key": form_key()}
    refused = client.post(where, typed)
    assert refused.status_code == 422
    assert "Wednesday: 9:00–13:00 and 12:00–15:00 overlap" in says(refused)
    assert 'value="9-13, 12-15"' in refused.content.decode()
    assert not BenchShift.objects.exists()
    kept = client.post(where, {**typed, "day_2": "9–13, 13–15", "submission_key": form_key()}, follow=True)
    assert "Bench Person: hours kept." in says(kept)
    assert hands.weeks_of([bench])[bench.pk] == {0: [MORNING], 2: [MORNING, (time(13), time(15))]}


@pytest.mark.parametrize("people", [1, 12])
def test_the_page_of_hours_asks_as_often_for_many(people, keeper, keeper_client, django_assert_num_queries):
    from tests.conftest import User, hashed

    for number in range(people):
        person = User.objects.create(username=f"p{number}", name=f"P {number}", role=Role.BENCH, password=hashed("x"))
        set_hours(keeper, person, {0: [MORNING]})
    with django_assert_num_queries(5):
        keeper_client.get(reverse("bench-hours"))
