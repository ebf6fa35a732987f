"""In and out."""

from __future__ import annotations

from django.conf import settings
from django.contrib.auth import authenticate, login, logout
from django.http import HttpResponse, HttpResponseRedirect
from django.shortcuts import redirect, render, resolve_url
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_POST

from shop.forms.login import LoginForm
from shop.platform.acts import EVERY_ROLE
from shop.web.access import PUBLIC, open_to
from shop.web.post_login_replay import LOOK_AGAIN, carried
from shop.web.request import ShopRequest
from shop.web.submission import came_from, sent


def _to_what_was_asked(request: ShopRequest) -> HttpResponse:
    """To the page that was asked for, when it is one of ours; otherwise to the rack."""
    return HttpResponseRedirect(came_from(request, resolve_url(settings.LOGIN_REDIRECT_URL), "next"))


@open_to(PUBLIC)
@never_cache
def log_in(request: ShopRequest) -> HttpResponse:
    """Page to log in."""
    asked = request.POST.get("next") or request.GET.get("next") or ""
    if request.user.is_authenticated and request.method != "POST":
        return _to_what_was_asked(request)
    form = LoginForm(sent(request), initial={"next": asked})
    if form.is_valid():
        person = authenticate(request, username=form.cleaned_data["username"], password=form.cleaned_data["password"])
        if person is not None:
            login(request, person)
            if kept := carried(form.cleaned_data["kept"]):
                return render(request, "shop/carried.html", {**kept._asdict(), "look_again": LOOK_AGAIN})
            return _to_what_was_asked(request)
        form.add_error("password", "Login name and password do not belong together. Look at both once more.")
    return render(request, "shop/login.html", {"form": form}, status=422 if form.is_bound else 200)


@open_to(*EVERY_ROLE)
@require_POST
def log_out(request: ShopRequest) -> HttpResponse:
    """Button to log out."""
    logout(request)
    return redirect(settings.LOGOUT_REDIRECT_URL)
