"""The keeper's pages: the shop's entries, rates, days and numbers."""

from __future__ import annotations

from django.db.models import F
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.utils.dates import WEEKDAYS
from django.views.decorators.http import require_POST

from shop.business import shop_settings
from shop.business.setup import still_guessed
from shop.countries import tax
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
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import came_from, said_or_done


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
        "counted_on": User.objects.filter(is_active=True, shifts__isnull=False).distinct().count(),
        "staff": User.objects.filter(is_active=True).order_by("name", "pk"),
    }
    return render(request, "shop/shop.html", context)


@act_page(shop_settings.change_profile, "shop/shop_edit.html", to="shop", says="The shop's entries are saved.")
def shop_edit(request: ShopRequest) -> Shown:
    stays = shop_settings.why_currency_stays()
    initial = ShopForm.showing(request.shop)
    return {"form": ShopForm(sent(request), shop=request.shop, initial=initial, currency_stays=stays)}


@open_to(Role.KEEPER)
def shop_address(request: ShopRequest) -> HttpResponse:
    """The address alone, from the paper that waits for it and back there."""
    up = came_from(request, reverse("shop"))
    form = AddressForm(sent(request), shop=request.shop, initial={"address": request.shop.address})

    def act() -> str:
        shop_settings.change_profile(**form.entries(), signed=signed(request))
        return up

    says = "The address is kept; it stands on every paper."
    return form_page(request, "shop/shop_address.html", form, act, says=says, up=up)


@act_page(shop_settings.add_tax_rate, "shop/tax_rates.html", to="tax-rates", says="The rate is added.")
def tax_rates(request: ShopRequest) -> Shown:
    today = timezone.localdate()
    form = TaxRateForm(sent(request), shop=request.shop, initial={"from_day": today})
    return {"form": form, "rates": TaxRate.objects.order_by("-for_repairs", "-from_day", "pk"), "today": today}


@act_page(
    shop_settings.end_tax_rate, "shop/tax_rate_end.html", rows=TaxRate, called="rate",
    to="tax-rates", says="The rate has a last day.",
)  # fmt: skip
def tax_rate_end(request: ShopRequest, rate: TaxRate) -> Shown:
    return {"form": EndRateForm(sent(request), shop=request.shop, initial={"to_day": timezone.localdate()})}


@act_page(shop_settings.set_wage, "shop/labour_rates.html", to="labour-rates", says="The wage is set.")
def labour_rates(request: ShopRequest) -> Shown:
    today = timezone.localdate()
    form = WageForm(sent(request), shop=request.shop, initial={"from_day": today})
    rates = LabourRate.objects.select_related("person").order_by(F("person__name").asc(nulls_first=True), "-from_day")
    return {"form": form, "rates": rates, "today": today}


@act_page(shop_settings.set_overhead, "shop/overheads.html", to="overheads", says="The overheads are set.")
def overheads(request: ShopRequest) -> Shown:
    form = OverheadForm(sent(request), shop=request.shop, initial={"from_day": timezone.localdate()})
    return {"form": form, "overheads": Overhead.objects.all()}


def _days(request: ShopRequest) -> Shown:
    """What the page of closed days shows, which holds two forms."""
    return {
        "days_form": CloseDaysForm(shop=request.shop),
        "week_form": WorkingDaysForm(shop=request.shop, initial={"days": request.shop.working_days}),
        "closed": ClosedDay.objects.filter(day__gte=timezone.localdate()),
    }


@act_page(shop_settings.close_days, "shop/closed_days.html", to="closed-days", says="The shop is closed then.")
def closed_days(request: ShopRequest) -> Shown:
    form = CloseDaysForm(sent(request), shop=request.shop)
    return {**_days(request), "form": form, "days_form": form}


@open_to(Role.KEEPER)
def working_days(request: ShopRequest) -> HttpResponse:
    """Form of the days of the week on which the shop works."""
    if request.method != "POST":
        return redirect("closed-days")
    form = WorkingDaysForm(request.POST, shop=request.shop)

    def act() -> str:
        shop_settings.set_working_days(**form.entries(), signed=signed(request))
        return reverse("closed-days")

    context = {**_days(request), "week_form": form}
    return form_page(request, "shop/closed_days.html", form, act, says="The week is saved.", **context)


@open_to(Role.KEEPER)
@require_POST
def closed_day_open(request: ShopRequest, pk: int) -> HttpResponse:
    """Button that opens a closed day again."""
    closed = ClosedDay.objects.filter(pk=pk).first()

    def act() -> str:
        if closed:
            shop_settings.open_day(signed=signed(request), closed=closed)
        return reverse("closed-days")

    return said_or_done(request, act, reverse("closed-days"))


@act_page(shop_settings.move_numbers_on, "shop/series.html", to="series", says="The numbers are saved.")
def series(request: ShopRequest) -> Shown:
    rows = list(NumberSeries.objects.order_by("pk"))
    return {"form": SeriesForm(sent(request), shop=request.shop, series=rows, year=timezone.localdate().year)}
