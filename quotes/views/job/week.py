"""The week: days with their hours, boards with their chance, and closed days and days away entered on it."""

from __future__ import annotations

from datetime import date
from typing import Any
from urllib.parse import urlencode

from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone

from quotes.bench.job.week import FARTHEST, SHOWN, SMALL_JOB_H, WeekAhead, WeekDay, begins
from quotes.bench.job.week import week_ahead as read_week
from quotes.ready_days.outlook import look_now
from shop.business import hands, shop_settings
from shop.forms.hands import AwayForm
from shop.forms.keeping import CloseDaysForm
from shop.models import Absence, ClosedDay
from shop.papers.day_columns import DayColumns, DayHours, day_columns
from shop.platform.acts import EVERY_ROLE, roles_of
from shop.web.access import open_to
from shop.web.page import Shown, act_page, button, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for, came_from, said_or_done


def to_week(first: date) -> str:
    """The page of the week in which a day lies, or nearest to it."""
    today = timezone.localdate()
    ahead = (begins(first.isoformat(), today) - today).days // SHOWN.days * SHOWN
    return f"{reverse('week-ahead')}{_from(today + ahead, today)}"


def _from(first: date, today: date) -> str:
    return f"?{urlencode({'from': first.isoformat()})}" if first > today else ""


@open_to(*EVERY_ROLE)
def week_ahead(request: ShopRequest) -> HttpResponse:
    """The coming seven days, or seven later ones."""
    today = timezone.localdate()
    first = begins(asked_for(request, "from"), today)
    week = read_week(first, today=today, working_days=request.shop.working_days)
    after = first + SHOWN
    context = {
        "week": week,
        "first": first,
        "last": week.days[-1].day,
        "earlier": _from(max(first - SHOWN, today), today) or "?" if first > today else "",
        "after": _from(after, today) if after <= today + FARTHEST else "",
        "chart": _chart(week.days),
        "small_job_h": SMALL_JOB_H,
        "away_form": AwayForm(shop=request.shop, by=request.user, initial={"first": first}, auto_id="away_%s"),
        "close_form": CloseDaysForm(shop=request.shop, initial={"first": first}, auto_id="close_%s"),
        "troubles": week.outlook.trouble.splitlines(),
        "may_take_back": _may_take_back(request, week),
        "today": today,
    }
    return render(request, "quotes/week.html", context)


def _chart(days: list[WeekDay]) -> DayColumns | None:
    """The drawing of the days; none where the bench was not seen on any of them."""
    if not any(day.load for day in days):
        return None
    rows = []
    for day in days:
        load = day.load
        label = (f"{day.day:%a}", str(day.day.day))
        hours = (load.open_h, load.bench_h, load.planned_h) if load and not day.closed else (0.0, 0.0, 0.0)
        rows.append(DayHours(label, *hours, note=day.note))
    return day_columns(rows)


def _may_take_back(request: ShopRequest, week: WeekAhead) -> set[int]:
    """The days away that whoever looks may take back, and whose reason is theirs to read."""
    rows = {row for day in week.days for row in day.away}
    return {row.pk for row in rows if request.user.is_keeper or row.person_id == request.user.pk}


def _first_asked(request: ShopRequest) -> dict[str, Any]:
    return {"first": begins(asked_for(request, "day"), timezone.localdate())}


@act_page(
    hands.add_absence, "quotes/week_away.html",
    to=lambda absence: to_week(absence.first), says=lambda absence: f"{absence.person} is away then.",
)  # fmt: skip
def absence_new(request: ShopRequest) -> Shown:
    return {"form": AwayForm(sent(request), shop=request.shop, by=request.user, initial=_first_asked(request))}


@act_page(
    shop_settings.close_days, "quotes/week_close.html",
    to=lambda closed: to_week(closed[0].day), says="The shop is closed then.",
)  # fmt: skip
def week_close(request: ShopRequest) -> Shown:
    return {"form": CloseDaysForm(sent(request), shop=request.shop, initial=_first_asked(request))}


@open_to(*roles_of(hands.take_absence_back))
def absence_back(request: ShopRequest, pk: int) -> HttpResponse:
    """Button that takes days away back; a second tap finds nothing to take back and says nothing."""
    row, where = Absence.objects.filter(pk=pk).first(), came_from(request, reverse("week-ahead"))

    def act() -> str:
        if row:
            hands.take_absence_back(signed=signed(request), absence=row)
        return where

    return said_or_done(request, act, where) if request.method == "POST" else redirect(where)


@open_to(*roles_of(shop_settings.open_day))
def week_open(request: ShopRequest, pk: int) -> HttpResponse:
    """Button that opens a closed day again, as above."""
    row, where = ClosedDay.objects.filter(pk=pk).first(), came_from(request, reverse("week-ahead"))

    def act() -> str:
        if row:
            shop_settings.open_day(signed=signed(request), closed=row)
        return where

    return said_or_done(request, act, where) if request.method == "POST" else redirect(where)


look_again = button(look_now, to="week-ahead", says="The bench ahead is worked out as it stands now.")
