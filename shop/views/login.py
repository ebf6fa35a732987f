"""In and out."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render, resolve_url
from django.utils.http import url_has_allowed_host_and_scheme
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from shop.access import EVERY_ROLE, PUBLIC, open_to
from shop.carried import LOOK_AGAIN, carried
from shop.forms.login import LoginForm
from shop.submission import sent


def _where_to(request: HttpRequest, asked: str) -> str:
    """The page that was asked for, when it is one of ours; otherwise the rack."""
    ours = url_has_allowed_host_and_scheme(asked, allowed_hosts={request.get_host()}, require_https=request.is_secure())
    return asked if ours else resolve_url(settings.LOGIN_REDIRECT_URL)


@open_to(PUBLIC)
@never_cache
def log_in(request: HttpRequest) -> HttpResponse:
    asked = request.POST.get("next") or request.GET.get("next") or ""
    if request.user.is_authenticated and request.method != "POST":
        return redirect(_where_to(request, asked))
    form = LoginForm(sent(request), initial={"next": asked})
    if form.is_valid():
        person = authenticate(request, username=form.cleaned_data["username"], password=form.cleaned_data["password"])
        if person is not None:
            login(request, person)
            if kept := carried(form.cleaned_data["kept"]):
                return render(request, "shop/carried.html", {**kept._asdict(), "look_again": LOOK_AGAIN})
            return redirect(_where_to(request, asked))
        form.add_error("password", "Login name and password do not belong together. Look at both once more.")
    return render(request, "shop/login.html", {"form": form}, status=422 if form.is_bound else 200)


@open_to(*EVERY_ROLE)
@require_POST
def log_out(request: HttpRequest) -> HttpResponse:
    logout(request)
    return redirect(settings.LOGOUT_REDIRECT_URL)
