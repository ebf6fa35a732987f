"""The first page of a new shop; once it is set up there is no such page."""

from __future__ import annotations

from django.contrib.auth import login
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.cache import never_cache

from shop.access import PUBLIC, open_to
from shop.forms.shop import SetupForm, hours
from shop.models import User
from shop.numbering import STARTING_SERIES
from shop.setup import set_up
from shop.submission import filled, sent


@open_to(PUBLIC)
@never_cache
def setup(request: HttpRequest) -> HttpResponse:
    if request.shop is not None:
        return redirect("rack")
    form = SetupForm(sent(request))

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
        )
        return reverse("rack")

    answer = filled(request, form, act)
    if answer:
        keeper = User.objects.get(username=form.cleaned_data["username"].strip().lower())
        login(request, keeper, backend="django.contrib.auth.backends.ModelBackend")
        return answer
    return render(request, "shop/setup.html", {"form": form}, status=422 if form.is_bound else 200)
