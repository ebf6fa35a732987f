"""How pages that change something answer: once, or with the form again and what was wrong beside its fields.

A page of one act is made from it: `act_page` where something is asked first, `button` where nothing is. Both open to
the roles of the act. A page that does more is a function of its own and answers with `form_page`.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, TypeVar

from django.contrib import messages
from django.db.models import Model, QuerySet
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from shop.forms.fields import ShedForm
from shop.platform.acts import roles_of
from shop.web.access import open_to
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled, said_or_done, sent, sent_files

__all__ = ["ROWS", "Shown", "act_page", "button", "form_page", "sent", "sent_files"]

ROWS = 25  # of a list, on one page

Shown = dict[str, Any]  # what a page's template is given; its form by the name `form`
View = Callable[..., HttpResponse]
Row = TypeVar("Row", bound=Model)
Made = TypeVar("Made")


def form_page(
    request: ShopRequest, template: str, form: ShedForm, act: Callable[[], str], *, says: str = "", **context: Any
) -> HttpResponse:
    """Show a form; when it was sent and is right, run `act`, which returns where to go; 422 when it is refused.

    `says` is said on the next page once `act` has run.
    """

    def run() -> str:
        where = act()
        _say(request, says, None)
        return where

    if answer := filled(request, form, run):
        return answer
    return render(request, template, {"form": form, **context}, status=422 if form.is_bound else 200)


def act_page(
    act: Callable[..., Made],
    template: str,
    *,
    to: str | Callable[[Made], str],
    says: str | Callable[[Made], str] = "",
    rows: QuerySet[Any] | type[Model] | None = None,
    called: str = "",
) -> Callable[[Callable[..., Shown]], View]:
    """Make the page of one act out of a function that gives what its template shows, the act's form under `form`.

    The act gets the form's `entries()`. Where `rows` are named the address ends in the key of one of them: act,
    function and template get it by the name `called`, and a key of none is a 404. `to` is the page's name that comes
    after, or gives its address from what the act returned; `says` is said there.
    """

    def mark(shown: Callable[..., Shown]) -> View:
        @open_to(*roles_of(act))
        @functools.wraps(shown)
        def view(request: ShopRequest, **address: int) -> HttpResponse:
            row = _row(rows, called, address)
            context = {**row, **shown(request, **row)}
            form: ShedForm = context.pop("form")

            def run() -> str:
                made = act(**{**row, **form.entries()}, signed=signed(request))
                _say(request, says, made)
                return _where(to, made)

            return form_page(request, template, form, run, **context)

        return view

    return mark


def button(
    act: Callable[..., Made],
    *,
    to: str | Callable[[Row], str],
    says: str | Callable[[Made], str] = "",
    rows: QuerySet[Row] | type[Row] | None = None,
    called: str = "",
) -> View:
    """Make the page of an act that asks nothing: sent, it runs the act; only looked at, it leads where that leads.

    `rows`, `called` and `says` as for `act_page`; `to` is a page's name, or gives an address from the row. A refusal is
    said there.
    """

    @open_to(*roles_of(act))
    def view(request: ShopRequest, **address: int) -> HttpResponse:
        row = _row(rows, called, address)
        where = _where(to, row.get(called))

        def run() -> str:
            made = act(**row, signed=signed(request))
            _say(request, says, made)
            return where

        return said_or_done(request, run, where) if request.method == "POST" else redirect(where)

    return view


def _row(rows: QuerySet[Any] | type[Model] | None, called: str, address: dict[str, int]) -> dict[str, Any]:
    """The row that an address names, by what it is called; nothing where a page is about none. Raises Http404."""
    if rows is None:
        return {}
    (key,) = address.values()
    return {called: get_object_or_404(rows, pk=key)}


def _where(to: str | Callable[[Any], str], of: Any) -> str:
    return reverse(to) if isinstance(to, str) else to(of)


def _say(request: ShopRequest, says: str | Callable[[Any], str], of: Any) -> None:
    if words := says if isinstance(says, str) else says(of):
        messages.success(request, words)
