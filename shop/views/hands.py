"""The keeper's pages of hours at the bench, and of the addresses by which calendars read."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import reverse
from django.utils.dates import WEEKDAYS

from shop.business import calendar_addresses, hands
from shop.business.hands import USUAL, Week
from shop.forms.hands import CalendarAddressForm, HoursForm
from shop.models import CalendarAddress, Role, User
from shop.text.stretches import said
from shop.web.access import open_to
from shop.web.page import Shown, act_page, button, sent
from shop.web.request import ShopRequest

HERE = User.objects.filter(is_active=True).order_by("name", "pk")


@open_to(Role.KEEPER)
def bench_hours(request: ShopRequest) -> HttpResponse:
    """Page of everybody's hours of the week at the bench."""
    people = list(HERE.all())
    weeks = hands.weeks_of(people)
    rows = [{"person": person, "days": _in_words(weeks[person.pk])} for person in people]
    context = {"rows": rows, "nobody": not any(weeks.values()), "usual": said(USUAL)}
    return render(request, "shop/bench_hours.html", context)


def _in_words(week: Week) -> list[str]:
    """Days with the same hours that follow each other, as one line: Mon to Fri 9:00–13:00."""
    lines: list[tuple[str, str, str]] = []
    for day in sorted(week):
        name, hours = str(WEEKDAYS[day])[:3], said(week[day])
        if lines and lines[-1][2] == hours and day - 1 in week:
            lines[-1] = (lines[-1][0], name, hours)
        else:
            lines.append((name, name, hours))
    return [f"{first} to {last} {hours}" if first != last else f"{first} {hours}" for first, last, hours in lines]


@act_page(
    hands.set_hours, "shop/bench_hours_of.html", rows=User, called="person",
    to="bench-hours", says=lambda person: f"{person.name}: hours kept.",
)  # fmt: skip
def bench_hours_of(request: ShopRequest, person: User) -> Shown:
    week = hands.weeks_of([person])[person.pk]
    offered = week or {day: list(USUAL) for day in request.shop.working_days}
    return {"form": HoursForm(sent(request), shop=request.shop, week=offered), "offered": not week}


def _addresses(request: ShopRequest) -> list[dict[str, Any]]:
    rows = CalendarAddress.objects.filter(revoked_at=None).select_related("by")
    where = {row: reverse("calendar", args=[calendar_addresses.token_of(row)]) for row in rows}
    return [{"row": row, "at": request.build_absolute_uri(path)} for row, path in where.items()]


@act_page(
    calendar_addresses.make_address, "shop/calendar_addresses.html",
    to="calendar-addresses", says="The address is made. Whoever has it can read; give it to nobody else.",
)  # fmt: skip
def addresses(request: ShopRequest) -> Shown:
    form = CalendarAddressForm(sent(request), shop=request.shop)
    return {"form": form, "addresses": _addresses(request)}


address_back = button(  # from then on the calendar that reads there finds nothing
    calendar_addresses.take_address_back, rows=CalendarAddress, called="address",
    to="calendar-addresses", says=lambda address: f"{address.name} reads no more.",
)  # fmt: skip
