"""The calendar to subscribe to: who may read it, what is in it, and what of a customer never is."""

from __future__ import annotations

from datetime import datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from quotes.models import Extra, Job
from shop.business import hands, shop_settings
from shop.business.calendar_addresses import MOST_ADDRESSES, address_of, make_address, take_address_back, token_of
from shop.models import CalendarAddress, Customer, JournalEntry
from shop.platform.acts import Refused, Signed
from tests.conftest import NOW, TODAY
from tests.published.ical import Component, read_calendar
from tests.quotes.ahead import at_nine, in_days, seen
from tests.quotes.conftest import with_keels_agreed
from tests.reading import says

BEGINS = {"job": with_keels_agreed}
PLANTED = ("020 910 7788", "hush@planted.example", "7 Planted Quay", "planted note", "planted want", "987.65")


@pytest.fixture
def address(keeper) -> CalendarAddress:
    return make_address(name="Orla’s phone", signed=Signed(keeper, NOW))


def where(address: CalendarAddress) -> str:
    return reverse("calendar", args=[token_of(address)])


def events(address: CalendarAddress) -> dict[str, Component]:
    """The events that a calendar reads, by what they say."""
    answer = Client().get(where(address))
    assert answer.status_code == 200
    return {one.text("SUMMARY"): one for one in read_calendar(answer.content).within if one.name == "VEVENT"}


# --- the address ------------------------------------------------------------------------------------------------------


def test_a_calendar_reads_without_a_login_and_keeps_nothing_for_others(address, job):
    answer = Client().get(where(address))
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/calendar; charset=utf-8")
    assert answer["Cache-Control"] == "private"
    assert not answer.cookies
    again = Client().get(where(address), headers={"If-None-Match": answer["ETag"]})
    assert (again.status_code, again.content) == (304, b"")


def test_an_address_taken_back_and_a_wrong_one_lead_nowhere(address, keeper, job):
    right = token_of(address)
    assert len(right) == 64
    for wrong in (right[:-1], right + "0", "0" * 64, address.nonce, "é" * 64, right.upper()):
        assert address_of(wrong) is None
        assert Client().get(reverse("calendar", args=[wrong])).status_code == 404
    take_address_back(address=address, signed=Signed(keeper, NOW))
    assert Client().get(where(address)).status_code == 404
    take_address_back(address=address, signed=Signed(keeper, NOW))
    entries = JournalEntry.objects.filter(verb__startswith="calendar.").values_list("words", flat=True)
    assert list(entries) == ["Took a calendar address back: Orla’s phone", "Made a calendar address: Orla’s phone"]


def test_the_secret_is_not_in_the_rows_and_follows_the_services_key(address, settings):
    before = token_of(address)
    assert address.nonce not in before
    assert before not in str(CalendarAddress.objects.values()) + str(JournalEntry.objects.values())
    settings.SECRET_KEY = "another key of the service"
    assert token_of(address) != before


def test_every_address_is_another_and_there_is_an_end_to_them(keeper):
    signed = Signed(keeper, NOW)
    made = [make_address(name=f"Phone {number}", signed=signed) for number in range(MOST_ADDRESSES)]
    assert len({token_of(one) for one in made}) == MOST_ADDRESSES
    assert all(address_of(token_of(one)) == one for one in made)
    with pytest.raises(Refused, match="take back one"):
        make_address(name="One more", signed=signed)


def test_a_calendar_is_only_read(address):
    for method in ("post", "put", "delete"):
        assert getattr(Client(), method)(where(address)).status_code == 405


def test_addresses_are_made_shown_and_taken_back_on_one_page(keeper_client, form_key):
    page = reverse("calendar-addresses")
    assert "No calendar reads along yet." in says(keeper_client.get(page))
    answer = keeper_client.post(page, {"name": "Orla’s phone", "submission_key": form_key()}, follow=True)
    address = CalendarAddress.objects.get()
    assert f"<code>http://testserver{where(address)}</code>" in says(answer)
    back = reverse("calendar-address-back", args=[address.pk])
    answer = keeper_client.post(back, {"submission_key": form_key()}, follow=True)
    assert "Orla’s phone reads no more." in says(answer)
    assert token_of(address) not in says(answer)
    assert keeper_client.post(page, {"name": "", "submission_key": form_key()}).status_code == 422


# --- what is in it ----------------------------------------------------------------------------------------------------


def test_a_ready_day_is_the_day_promised_else_the_one_that_holds_eight_in_ten(address, job):
    Job.objects.filter(pk=job.pk).update(promised_on=in_days(5))
    seen(job)
    name = f"Ready: tag {job.takein.tag}, {job.takein.brought_by.name}"
    ready = events(address)[name]
    assert (ready.when("DTSTART"), ready.when("DTEND")) == (in_days(5), in_days(6))
    assert (ready.text("DESCRIPTION"), ready.one("TRANSP")) == ("Promised for this day: 9 in 10.", "TRANSPARENT")
    assert ready.when("DTSTAMP") == NOW.replace(microsecond=0)
    Job.objects.filter(pk=job.pk).update(promised_on=None)
    likely = events(address)[name]
    assert likely.when("DTSTART") == in_days(3)
    assert likely.one("UID") == ready.one("UID")
    seen()
    assert events(address) == {}


def test_the_plan_says_who_does_what_and_when(address, job, bench):
    first, second = job.steps.order_by("position")[:2]
    summer = datetime.fromisoformat("2027-07-01T09:00+01:00")
    plan = [
        {"person": bench.pk, "from": at_nine(1).isoformat(), "minutes": 35, "job": job.pk, "step": first.pk},
        {"person": 0, "from": summer.isoformat(), "minutes": 90, "job": job.pk, "step": second.pk},
        {"person": 0, "from": summer.isoformat(), "minutes": 5, "job": job.pk, "step": 999_999},
        {"person": 0, "from": summer.isoformat(), "minutes": 5, "job": 999_999, "step": first.pk},
    ]
    seen(job, plan=plan)
    found = events(address)
    own = found[f"Bench Person: {first.title}, tag {job.takein.tag}"]
    assert (own.when("DTSTART"), own.when("DTEND")) == (at_nine(1), at_nine(1) + timedelta(minutes=35))
    assert found[f"The bench: {second.title}, tag {job.takein.tag}"].one("DTSTART") == "20270701T080000Z"
    assert len(found) == 3


def test_a_step_in_two_pieces_is_two_events_and_a_step_done_none(address, job):
    step = job.steps.order_by("position").first()
    rows = [
        {"person": 0, "from": at_nine(n).isoformat(), "minutes": 60, "job": job.pk, "step": step.pk} for n in (1, 2)
    ]
    seen(job, plan=rows)
    assert Client().get(where(address)).content.count(b"TRANSP:OPAQUE") == 2
    read_calendar(Client().get(where(address)).content)
    job.steps.filter(pk=step.pk).update(state="done")
    assert Client().get(where(address)).content.count(b"TRANSP:OPAQUE") == 0


def test_closed_days_are_one_event_and_nobody_reads_why_somebody_is_away(address, keeper, bench):
    signed = Signed(keeper, NOW)
    shop_settings.close_days(first=in_days(10), last=in_days(12), reason="planted note", signed=signed)
    hands.add_absence(person=bench, first=in_days(2), last=in_days(3), reason="planted note", signed=signed)
    hands.add_absence(person=bench, first=in_days(-9), last=in_days(-8), signed=signed)
    found = events(address)
    assert set(found) == {"The shop is closed", "Bench Person: away"}
    closed, away = found["The shop is closed"], found["Bench Person: away"]
    assert (closed.when("DTSTART"), closed.when("DTEND")) == (in_days(10), in_days(13))
    assert (away.when("DTSTART"), away.when("DTEND")) == (in_days(2), in_days(4))
    assert "planted" not in str(found)


def test_an_empty_shop_is_a_calendar_all_the_same(address):
    assert events(address) == {}


def test_of_a_customer_there_is_the_name_and_the_tag_and_nothing_else(address, job, bench):
    phone, email, place, note, want, price = PLANTED
    customer = job.takein.brought_by
    Customer.objects.filter(pk=customer.pk).update(phone=phone, email=email, address=place, note=note)
    job.takein.wants, job.takein.left_with_it = want, note
    job.takein.save()
    job.way.gross = price
    job.way.save()
    Extra.objects.create(job=job, words=note, found_at=NOW, found_by=bench, gross=price)
    step = job.steps.order_by("position").first()
    job.steps.filter(pk=step.pk).update(note=note)
    row = {"person": bench.pk, "from": at_nine(1).isoformat(), "minutes": 35, "job": job.pk, "step": step.pk}
    seen(job, plan=[row])
    told = b"".join(
        line.encode() for one in events(address).values() for lines in one.lines.values() for _, line in lines
    )
    whole = Client().get(where(address)).content.replace(b"\r\n ", b"")
    assert customer.name.encode() in told
    for planted in (*PLANTED, customer.phone, "€", job.takein.board.name):
        assert not planted or planted.encode() not in whole


def test_a_calendar_asks_as_often_whatever_is_in_it(address, job, keeper, bench):
    def asked() -> int:
        with CaptureQueriesContext(connection) as queries:
            assert Client().get(where(address)).status_code == 200
        return len(queries)

    before = asked()
    step = job.steps.order_by("position").first()
    row = {"person": bench.pk, "from": at_nine(1).isoformat(), "minutes": 35, "job": job.pk, "step": step.pk}
    seen(job, plan=[row] * 40)
    for number in range(5):
        shop_settings.close_days(first=in_days(number), signed=Signed(keeper, NOW))
        hands.add_absence(person=bench, first=in_days(number), signed=Signed(keeper, NOW))
        make_address(name=f"Phone {number}", signed=Signed(keeper, NOW))
    assert asked() == before == 8
    assert TODAY.strftime("%Y%m%d").encode() in Client().get(where(address)).content
