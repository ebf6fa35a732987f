"""A list of people and boards is sent in, looked at, and taken over."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse

from shop.bringing.forms import ColumnsForm, PeopleListForm
from shop.bringing.lists import keep_people, match_columns, plan, take_people
from shop.models import PeopleList
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, sent, sent_files
from shop.web.request import ShopRequest, signed
from shop.web.submission import filled


@act_page(keep_people, "shop/bring_new.html", to=lambda kept: reverse("people-bring", args=[kept.pk]))
def bring_new(request: ShopRequest) -> Shown:
    return {"form": PeopleListForm(sent(request), sent_files(request), shop=request.shop)}


@open_to(*SEES_MONEY)
def bring(request: ShopRequest, pk: int) -> HttpResponse:
    """What the list would make, line by line; other columns are looked at first, whichever button was pressed."""
    row = get_object_or_404(PeopleList, pk=pk)
    form = ColumnsForm(sent(request), shop=request.shop, people_list=row)

    def act() -> str:
        who = signed(request)
        matched = form.columns == row.columns and form.cleaned_data["headed"] == row.headed
        if "take" in request.POST and matched:
            made = take_people(people_list=row, signed=who).made
            messages.success(request, f"In the book now: people {made['people']}, boards {made['boards']}.")
        else:
            match_columns(people_list=row, columns=form.columns, headed=form.cleaned_data["headed"], signed=who)
            messages.info(request, "Read anew with these columns. Look at it, then bring them.")
        return reverse("people-bring", args=[row.pk])

    answer = filled(request, form, act)
    if answer:
        return answer
    matched = "name" in row.columns
    context = {"form": form, "list": row, "plan": plan(row), "matched": matched, "matching": form.errors or not matched}
    return render(request, "shop/bring.html", context, status=422 if form.is_bound else 200)
