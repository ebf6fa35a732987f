"""Who may open what. A view that does not say is refused, for everybody."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from django.contrib.auth.views import redirect_to_login
from django.core.exceptions import ImproperlyConfigured, PermissionDenied
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from shop.forms.login import LoginForm
from shop.models import Role
from shop.web.post_login_replay import carry

View = TypeVar("View", bound=Callable[..., Any])

PUBLIC = "public"


def open_to(*roles: str) -> Callable[[View], View]:
    """Mark a view with the roles that may open it: `@open_to(*SEES_MONEY)`, `@open_to(PUBLIC)`."""
    if not roles or any(r not in (PUBLIC, *Role.values) for r in roles):
        raise ImproperlyConfigured(f"A view must name roles out of {Role.values} or 'public', not {roles}.")

    def mark(view: View) -> View:
        view.open_to = tuple(roles)  # type: ignore[attr-defined]
        return view

    return mark


class ClosedByDefault:
    """Middleware: asks each view whom it is open to before it runs."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_view(self, request: HttpRequest, view: Any, args: Any, kwargs: Any) -> HttpResponse | None:
        """Refusal or login where the view is not open to this person; None where it is."""
        roles = getattr(view, "open_to", None)
        if roles is None:
            raise PermissionDenied("This page names nobody who may open it.")
        if PUBLIC in roles:
            return None
        if not request.user.is_authenticated:
            if request.method == "POST" and (kept := carry(request, view)):
                answer = render(request, "shop/login.html", {"form": LoginForm(initial={"kept": kept})})
                answer["Cache-Control"] = "private, no-store"
                return answer
            return redirect_to_login(request.get_full_path() if request.method == "GET" else "/")
        if request.user.role not in roles:
            raise PermissionDenied("Your login does not open this page; ask the keeper.")
        return None
