"""Two records of one person are made one: the other record is found, then what is kept is chosen."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse

from shop.forms.merging import MakeOneForm
from shop.models import Customer
from shop.people.merging import make_one, why_not
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for

FOUND_AT_MOST = 12


@open_to(*SEES_MONEY)
def same(request: ShopRequest, pk: int) -> HttpResponse:
    """The other record of the same person, searched for; those that look alike stand there without a search."""
    row = get_object_or_404(Customer, pk=pk)
    if row.merged_into_id:
        return redirect("customer-same", row.merged_into_id)
    q = asked_for(request)
    others = Customer.objects.in_the_book().filter(walk_in=False).exclude(pk=row.pk).with_boards()
    if q:
        found = list(others.search(q)[:FOUND_AT_MOST])
    else:
        found = others.alike(name=row.name, phone=row.phone, email=row.email, country=request.shop.country)
    return render(request, "shop/customer_same.html", {"customer": row, "q": q, "found": found[:FOUND_AT_MOST]})


@open_to(*SEES_MONEY)
def make_one_of(request: ShopRequest, customer: int, other: int) -> HttpResponse:
    """Both records side by side, and the choice of what is kept."""
    both = Customer.objects.with_boards()
    kept, gone = get_object_or_404(both, pk=customer), get_object_or_404(both, pk=other)
    if gone.merged_into_id == kept.pk and request.method != "POST":
        return redirect("customer", kept.pk)
    form = MakeOneForm(sent(request), shop=request.shop, kept=kept, gone=gone)

    def act() -> str:
        row = make_one(kept=kept, gone=gone, signed=signed(request), **form.entries())
        messages.success(
            request, "One record now holds everything. Papers given out keep the name they were made with."
        )
        return reverse("customer", args=[row.pk])

    context: Shown = {"customer": kept, "other": gone, "refused": why_not(kept, gone)}
    return form_page(request, "shop/customer_make_one.html", form, act, **context)
