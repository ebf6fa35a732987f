"""One lot: its containers on the scale, tests past its date, and what was typed about it."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone

from inventory.counting.weighing import (
    Should,
    add_container,
    content_of,
    empty_container,
    should_hold,
    weigh_after_use,
    weigh_as_check,
)
from inventory.formats import amount
from inventory.forms.counting import ContainerForm, LotForm, ShelfTestForm, WeighForm
from inventory.models import Container, Lot
from inventory.stock.shelf_life import change_lot, record_test
from inventory.views.movements import after
from shop.platform.acts import EVERY_ROLE, Refused
from shop.web.access import open_to
from shop.web.page import Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import said_or_done

LOTS = Lot.objects.select_related("material", "supplier", "pack", "delivery")


@open_to(*EVERY_ROLE)
def lot(request: ShopRequest, pk: int) -> HttpResponse:
    """Page of a lot with its containers and tests."""
    row = get_object_or_404(LOTS, pk=pk)
    context = {
        "lot": row,
        "material": row.material,
        "stale": row.out_of_date(timezone.localdate()),
        "containers": row.containers.filter(emptied_at__isnull=True),
        "tests": row.shelf_tests.select_related("by"),
    }
    return render(request, "inventory/lot.html", context)


@act_page(
    change_lot, "inventory/lot_edit.html", rows=LOTS, called="lot",
    to=lambda lot: reverse("lot", args=[lot.pk]), says="Saved.",
)  # fmt: skip
def lot_edit(request: ShopRequest, lot: Lot) -> Shown:
    return {"form": LotForm(sent(request), shop=request.shop, lot=lot)}


@act_page(
    record_test, "inventory/shelf_test.html", rows=LOTS, called="lot",
    to=lambda test: reverse("lot", args=[test.lot_id]), says="The test is recorded.",
)  # fmt: skip
def shelf_test(request: ShopRequest, lot: Lot) -> Shown:
    form = ShelfTestForm(sent(request), shop=request.shop, today=timezone.localdate())
    return {"form": form, "material": lot.material}


@act_page(
    add_container, "inventory/container_new.html", rows=LOTS, called="lot",
    to=lambda container: reverse("weigh", args=[container.pk]),
)  # fmt: skip
def container_new(request: ShopRequest, lot: Lot) -> Shown:
    return {"form": ContainerForm(sent(request), shop=request.shop, lot=lot)}


@open_to(*EVERY_ROLE)
def weigh(request: ShopRequest, pk: int) -> HttpResponse:
    """Put it on the scale: what is gone is booked as used; or a check, which asks before it books a difference."""
    row = get_object_or_404(Container.objects.select_related("lot__material"), pk=pk)
    form = WeighForm(sent(request), shop=request.shop)
    last = row.weighings.last()
    should = should_hold(row, last)
    material = row.lot.material
    if form.is_bound and form.is_valid() and form.cleaned_data["why"] == form.CHECK:
        _ask_before_booking(form, row, should)

    def act() -> str:
        entries = form.cleaned_data
        weighed = {"container": row, "gross_g": entries["gross"], "signed": signed(request)}
        if entries["why"] == form.USED:
            return after(weigh_after_use(**weighed, reason=entries["reason"].strip())[0])
        booked = weigh_as_check(**weighed)
        if booked is not None:
            return after(booked)
        messages.success(request, "It holds just what it should.")
        return reverse("lot", args=[row.lot_id])

    context: Shown = {"container": row, "lot": row.lot, "material": material, "should": should, "last": last}
    return form_page(request, "inventory/weigh.html", form, act, **context)


@open_to(*EVERY_ROLE)
def container_empty(request: ShopRequest, pk: int) -> HttpResponse:
    """Nothing is left in it: the rest is booked as used, and it goes from the list."""
    row = get_object_or_404(Container.objects.select_related("lot__material"), pk=pk)
    if request.method != "POST":
        return redirect("weigh", pk=row.pk)

    def act() -> str:
        out = empty_container(container=row, signed=signed(request))
        if out:
            return after(out[0])
        messages.success(request, f"The {row.name} is empty.")
        return reverse("lot", args=[row.lot_id])

    return said_or_done(request, act, reverse("lot", args=[row.lot_id]))


def _ask_before_booking(form: WeighForm, container: Container, should: Should) -> None:
    unit = container.lot.material.unit
    try:
        holds = content_of(container=container, gross_g=form.cleaned_data["gross"])
    except Refused:
        return  # the verb says the same, beside the field
    difference = should.difference(holds)
    if difference:
        sign = "more" if difference > 0 else "less"
        form.ask_about(
            "gross",
            f"It holds {amount(holds, unit)}; that is {amount(abs(difference), unit)} {sign} than it should. "
            "Tick the box to book the difference.",
        )
