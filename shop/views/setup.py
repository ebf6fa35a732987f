"""The first pages of a new shop: its country, then what follows from it. Once it is set up there are none."""

from __future__ import annotations

import re

from django.contrib.auth import login
from django.http import HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache

from shop.business.numbering import STARTING_SERIES
from shop.business.setup import set_up
from shop.countries import usual, world
from shop.forms.setup import CountryForm, SetupForm
from shop.forms.shop import hours
from shop.models import User
from shop.web.access import PUBLIC, open_to
from shop.web.request import ShopRequest
from shop.web.submission import filled, sent


@open_to(PUBLIC)
@never_cache
def setup(request: ShopRequest) -> HttpResponse:
    """Page that sets the shop up, once."""
    if request.shop is not None:
        return redirect("rack")
    asked = request.POST if request.method == "POST" else request.GET
    known = asked.get("country") in dict(world.countries())
    if request.method != "POST" and not known:
        return _which_country(request)
    country = usual.country(asked["country"]) if known else None
    form = SetupForm(sent(request), country=country)

    def act() -> str:
        entries = form.cleaned_data
        set_up(
            profile=form.profile(),
            tax_rates=form.tax_rates(),
            wage=entries["wage"],
            overhead_monthly=entries["overhead_monthly"],
            productive_hours=hours(entries["productive_hours"]),
            series={key: entries[key] for key in STARTING_SERIES},
            keeper=form.keeper(),
            at=timezone.now(),
            guessed=form.left_as_guessed(),
        )
        return reverse("rack")

    answer = filled(request, form, act)
    if answer:
        keeper = User.objects.get(username=form.cleaned_data["username"].strip().lower())
        login(request, keeper, backend="django.contrib.auth.backends.ModelBackend")
        return answer
    context = {"form": form, "country": country}
    return render(request, "shop/setup.html", context, status=422 if form.is_bound else 200)


def _which_country(request: ShopRequest) -> HttpResponse:
    """The first question; the phone's own language may know the answer."""
    form = CountryForm(request.GET if "country" in request.GET else None, initial={"country": _of_language(request)})
    return render(request, "shop/setup_country.html", {"form": form}, status=422 if form.is_bound else 200)


def _of_language(request: ShopRequest) -> str:
    """The first country among the languages the browser asks for (en-IE); empty without one."""
    named = re.search(r"-([A-Za-z]{2})\b", request.headers.get("Accept-Language", ""))
    return named[1].upper() if named else ""
