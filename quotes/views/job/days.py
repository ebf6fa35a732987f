"""How warm the shop is today, and the hours of a day or a week told in one sum."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from inventory.stock.totals import monday
from quotes import bench
from quotes.costing.basis.lazy_words import many
from quotes.forms.bench import DayForm, WarmthForm, WeekForm
from quotes.models import BenchHours
from quotes.views.job.jobs import head, jobs_with_all
from quotes.views.job.steps import steps_with_all, to_step, warmth_asked
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.page import button, form_page, sent
from shop.web.request import ShopRequest, signed

TOTALS_SHOWN = timedelta(days=31)  # that far back a total can be taken back


@open_to(*EVERY_ROLE)
def warmth(request: ShopRequest) -> HttpResponse:
    """How warm the shop is today, for all doses told on it."""
    return _warmth(request, reverse("rack"))


@open_to(*EVERY_ROLE)
def step_warmth(request: ShopRequest, pk: int) -> HttpResponse:
    """How warm the shop is today, asked on a step and back to it."""
    row = get_object_or_404(steps_with_all(), pk=pk)
    return _warmth(request, to_step(row), **head(jobs_with_all().get(pk=row.job_id)), step=row)


def _warmth(request: ShopRequest, back: str, **context: Any) -> HttpResponse:
    now = timezone.now()
    asked = warmth_asked(request, now, request.path)
    form = WarmthForm(request.POST, shop=request.shop) if request.method == "POST" else asked["warmth_form"]

    def act() -> str:
        row = bench.say_temperature(celsius=form.cleaned_data["temperature"], signed=signed(request, now))
        messages.success(request, f"Doses are told for {bench.degrees(row.celsius)} today.")
        return back

    return form_page(request, "quotes/warmth.html", form, act, **context, warmth=asked["warmth"])


@open_to(*EVERY_ROLE)
def day(request: ShopRequest) -> HttpResponse:
    """The day's steps of who is logged in, and a total that is spread over those without minutes of their own."""
    today = timezone.localdate()
    return _total(request, DayForm, first=today, last=today, page=reverse("day"))


@open_to(*EVERY_ROLE)
def week(request: ShopRequest) -> HttpResponse:
    """The week's steps of who is logged in, and a total that is spread over those without minutes of their own."""
    today = timezone.localdate()
    return _total(request, WeekForm, first=monday(today), last=today, page=reverse("week"))


def _total(request: ShopRequest, kind: type[DayForm], *, first: date, last: date, page: str) -> HttpResponse:
    form = kind(sent(request), shop=request.shop)

    def act() -> str:
        done = bench.spread_total(
            person=request.user, first=first, last=last, minutes=form.cleaned_data["minutes"], signed=signed(request),
        )  # fmt: skip
        spread = bench.hands_words(sum((time.minutes for time in done), Decimal(0)))
        messages.success(request, f"{spread} spread over {many(len(done), 'step')}.")
        return page

    rows = [{"time": time, "own": bench.own_minutes(time)} for time in bench.minutes_of_days(request.user, first, last)]
    spread = bench.spread_of(request.user, first, last)
    totals = BenchHours.objects.standing().filter(to_day__gte=last - TOTALS_SHOWN).order_by("-to_day", "-pk")
    return form_page(
        request, "quotes/day.html", form, act,
        rows=rows, waiting=bool(spread.open) and spread.takes_another, given=spread.given, first=first, last=last,
        whole_week=kind is WeekForm, totals=totals.filter(person=request.user),
    )  # fmt: skip


total_back = button(  # a total of hours is taken back in one tap
    bench.take_total_back, rows=BenchHours.objects.select_related("person"), called="hours",
    to="day", says="Taken back. Its steps stand as planned again.",
)  # fmt: skip
