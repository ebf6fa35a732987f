"""The keeper's pages: the shop's entries, rates, days and numbers."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.db.models import F
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dates import WEEKDAYS
from django.views.decorators.http import require_POST

from shop.business import keeping
from shop.business.setup import still_guessed
from shop.countries import tax
from shop.forms.fields import ShedForm
from shop.forms.keeping import (
    CloseDaysForm,
    EndRateForm,
    OverheadForm,
    SeriesForm,
    TaxRateForm,
    WageForm,
    WorkingDaysForm,
)
from shop.forms.shop import AddressForm, ShopForm
from shop.models import ClosedDay, LabourRate, NumberSeries, Overhead, Role, TaxRate, User
from shop.web.access import open_to
from shop.web.request import ShopRequest, signed
from shop.web.submission import came_from, filled, said_or_done, sent


def _page(
    request: ShopRequest, template: str, form: ShedForm, act: Callable[[], str], said: str, **context: Any
) -> HttpResponse:
    """One form on one page: where it led, or the page with what was wrong."""
    answer = filled(request, form, act)
    if answer:
        messages.success(request, said)
        return answer
    return render(request, template, {"form": form, **context}, status=422 if form.is_bound else 200)


@open_to(Role.KEEPER)
def shop(request: ShopRequest) -> HttpResponse:
    """Page of the shop's settings."""
    today = timezone.localdate()
    wage = LabourRate.objects.filter(person=None, from_day__lte=today).order_by("-from_day").first()
    overhead = Overhead.objects.filter(from_day__lte=today).first()
    context = {
        "tax": tax.profile(request.shop.tax_profile),
        "rates": TaxRate.objects.on(today),
        "wage": wage,
        "guessed": still_guessed(wage, overhead),
        "overhead": overhead,
        "closed": ClosedDay.objects.filter(day__gte=today).first(),
        "week": [WEEKDAYS[number] for number in request.shop.working_days],
        "staff": User.objects.filter(is_active=True).order_by("name", "pk"),
    }
    return render(request, "shop/shop.html", context)


@open_to(Role.KEEPER)
def shop_edit(request: ShopRequest) -> HttpResponse:
    """Page to change the shop's settings."""
    stays = keeping.why_currency_stays()
    initial = ShopForm.showing(request.shop)
    form = ShopForm(sent(request), shop=request.shop, initial=initial, currency_stays=stays)

    def act() -> str:
        keeping.change_profile(signed=signed(request), **form.entries())
        return reverse("shop")

    return _page(request, "shop/shop_edit.html", form, act, "The shop's entries are saved.")


@open_to(Role.KEEPER)
def shop_address(request: ShopRequest) -> HttpResponse:
    """The address alone, from the paper that waits for it and back there."""
    up = came_from(request, reverse("shop"))
    form = AddressForm(sent(request), shop=request.shop, initial={"address": request.shop.address})

    def act() -> str:
        keeping.change_profile(signed=signed(request), address=form.cleaned_data["address"])
        return up

    return _page(request, "shop/shop_address.html", form, act, "The address is kept; it stands on every paper.", up=up)


@open_to(Role.KEEPER)
def tax_rates(request: ShopRequest) -> HttpResponse:
    """Page of the tax rates, with a form for another."""
    today = timezone.localdate()
    form = TaxRateForm(sent(request), shop=request.shop, initial={"from_day": today})

    def act() -> str:
        keeping.add_tax_rate(signed=signed(request), **form.cleaned_data)
        return reverse("tax-rates")

    rates = TaxRate.objects.order_by("-for_repairs", "-from_day", "pk")
    return _page(request, "shop/tax_rates.html", form, act, "The rate is added.", rates=rates, today=today)


@open_to(Role.KEEPER)
def tax_rate_end(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to end a tax rate."""
    rate = get_object_or_404(TaxRate, pk=pk)
    form = EndRateForm(sent(request), shop=request.shop, initial={"to_day": timezone.localdate()})

    def act() -> str:
        keeping.end_tax_rate(signed=signed(request), rate=rate, to_day=form.cleaned_data["to_day"])
        return reverse("tax-rates")

    return _page(request, "shop/tax_rate_end.html", form, act, "The rate has a last day.", rate=rate)


@open_to(Role.KEEPER)
def labour_rates(request: ShopRequest) -> HttpResponse:
    """Page of the wages, with a form for another."""
    today = timezone.localdate()
    form = WageForm(sent(request), shop=request.shop, initial={"from_day": today})

    def act() -> str:
        keeping.set_wage(signed=signed(request), **form.cleaned_data)
        return reverse("labour-rates")

    rates = LabourRate.objects.select_related("person").order_by(F("person__name").asc(nulls_first=True), "-from_day")
    return _page(request, "shop/labour_rates.html", form, act, "The wage is set.", rates=rates, today=today)


@open_to(Role.KEEPER)
def overheads(request: ShopRequest) -> HttpResponse:
    """Page of the overheads, with a form for others."""
    form = OverheadForm(sent(request), shop=request.shop, initial={"from_day": timezone.localdate()})

    def act() -> str:
        keeping.set_overhead(
            signed=signed(request),
            monthly=form.cleaned_data["monthly"],
            productive_hours=form.productive(),
            from_day=form.cleaned_data["from_day"],
        )
        return reverse("overheads")

    rows = Overhead.objects.all()
    return _page(request, "shop/overheads.html", form, act, "The overheads are set.", overheads=rows)


def _days(
    request: ShopRequest, *, status: int = 200, days: CloseDaysForm | None = None, week: WorkingDaysForm | None = None
) -> HttpResponse:
    """The page of closed days, which holds two forms; the one that was refused is handed in."""
    context = {
        "days_form": days or CloseDaysForm(shop=request.shop),
        "week_form": week or WorkingDaysForm(shop=request.shop, initial={"days": request.shop.working_days}),
        "closed": ClosedDay.objects.filter(day__gte=timezone.localdate()),
        "failed": status != 200,
    }
    return render(request, "shop/closed_days.html", context, status=status)


@open_to(Role.KEEPER)
def closed_days(request: ShopRequest) -> HttpResponse:
    """Page of the days on which the shop is closed."""
    if request.method != "POST":
        return _days(request)
    form = CloseDaysForm(request.POST, shop=request.shop)

    def act() -> str:
        keeping.close_days(signed=signed(request), **form.cleaned_data)
        return reverse("closed-days")

    answer = filled(request, form, act)
    if answer:
        messages.success(request, "The shop is closed then.")
        return answer
    return _days(request, status=422, days=form)


@open_to(Role.KEEPER)
def working_days(request: ShopRequest) -> HttpResponse:
    """Form of the days of the week on which the shop works."""
    if request.method != "POST":
        return redirect("closed-days")
    form = WorkingDaysForm(request.POST, shop=request.shop)

    def act() -> str:
        keeping.set_working_days(signed=signed(request), days=form.cleaned_data["days"])
        return reverse("closed-days")

    answer = filled(request, form, act)
    if answer:
        messages.success(request, "The week is saved.")
        return answer
    return _days(request, status=422, week=form)


@open_to(Role.KEEPER)
@require_POST
def closed_day_open(request: ShopRequest, pk: int) -> HttpResponse:
    """Button that opens a closed day again."""
    closed = ClosedDay.objects.filter(pk=pk).first()

    def act() -> str:
        if closed:
            keeping.open_day(signed=signed(request), closed=closed)
        return reverse("closed-days")

    return said_or_done(request, act, reverse("closed-days"))


@open_to(Role.KEEPER)
def series(request: ShopRequest) -> HttpResponse:
    """Page of the number series and the next number of each."""
    rows = list(NumberSeries.objects.order_by("pk"))
    form = SeriesForm(sent(request), shop=request.shop, series=rows, year=timezone.localdate().year)

    def act() -> str:
        keeping.move_numbers_on(signed=signed(request), next_numbers=form.cleaned_data)
        return reverse("series")

    return _page(request, "shop/series.html", form, act, "The numbers are saved.")
