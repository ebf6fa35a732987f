"""How every form page of the store answers: once, or with the form again and what was wrong beside its fields."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse
from django.shortcuts import render

from shop.forms.fields import ShedForm
from shop.web.request import ShopRequest
from shop.web.submission import filled, sent

__all__ = ["ROWS", "form_page", "sent"]

ROWS = 25  # of a list, on one page


def form_page(
    request: ShopRequest, template: str, form: ShedForm, act: Callable[[], str], **context: Any
) -> HttpResponse:
    """Show a form; when it was sent and is right, run `act`, which returns where to go; 422 when it is refused."""
    if answer := filled(request, form, act):
        return answer
    return render(request, template, {"form": form, **context}, status=422 if form.is_bound else 200)
