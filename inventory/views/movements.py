"""What moves stock from a screen: a delivery, a use, a loss, and a mistake undone."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.contrib import messages
from django.core.exceptions import PermissionDenied
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from inventory.buying.orders import awaited
from inventory.counting.counts import undo_difference
from inventory.forms.movements import ReceiveForm, StockUseForm, WriteOffForm
from inventory.models import CountLine, Lot, Material, Movement, MovementKind, Supplier
from inventory.receiving.deliveries import take_delivery
from inventory.stock import ledger
from inventory.stock.standing import COUNT, standing
from shop.platform.acts import EVERY_ROLE, SEES_MONEY, Refused
from shop.web.access import open_to
from shop.web.page import ROWS, Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for, once

IN_STOCK = Material.objects.with_stock()


def after(movement: Movement) -> str:
    """The material's page, offering to undo what was just booked."""
    return f"{reverse('material', args=[movement.material_id])}?act={movement.act}"


@open_to(*SEES_MONEY)
def receive(request: ShopRequest, pk: int | None = None) -> HttpResponse:
    """First from whom, or which material alone; then how much of it."""
    if pk is None:
        return _receive_what(request)
    material = get_object_or_404(IN_STOCK, pk=pk)
    packs = list(material.packs.in_use().select_related("supplier"))
    form = ReceiveForm(sent(request), shop=request.shop, material=material, packs=packs, today=timezone.localdate())

    def act() -> str:
        entries = form.cleaned_data
        length, width = form.size or (None, None)
        lot = Lot(
            material=material,
            pack=form.picked,
            supplier=form.picked_supplier,
            received_on=entries["received_on"],
            use_by=entries["use_by"],
            origin=entries["origin"],
            delivery_note=entries["delivery_note"].strip(),
            brand=entries["brand"].strip(),
            length_mm=length,
            width_mm=width,
        )
        take_delivery(
            lot=lot,
            quantity=form.quantity,
            value=form.value,
            count=form.count_of_packs,
            keep_price=bool(entries.get("keep_price")) and bool(entries["price"]),
            signed=signed(request),
        )
        return after(lot.movements.get())

    return form_page(request, "inventory/receive.html", form, act, material=material)


def _receive_what(request: ShopRequest) -> HttpResponse:
    """Suppliers, those who still have to bring something first; materials where they are searched for."""
    words, coming = asked_for(request), awaited(timezone.localdate())
    suppliers = list(Supplier.objects.order_by("name"))
    for one in suppliers:
        one.coming = [row.order for row in coming if row.order.pack.supplier_id == one.pk]
    suppliers.sort(key=lambda one: one.coming[0].expected_on if one.coming else date.max)
    stocked = Material.objects.in_use().with_stock()
    found = stocked.search(words).order_by("shelf", "kind", "name") if words else stocked.none()
    context = {"suppliers": suppliers, "materials": found[:ROWS], "more": len(found[ROWS:]), "q": words}
    return render(request, "inventory/receive_what.html", context)


def _lots_to_pick(request: ShopRequest, material: Material) -> tuple[list[Lot], dict[str, Any]]:
    """The lots that hold something; and, when a lot's own button led here, what the form starts with."""
    lots = list(material.lots.left().in_order_of_issue())
    asked = next((lot for lot in lots if str(lot.pk) == request.GET.get("lot")), None)
    if asked is None:
        return lots, {}
    initial: dict[str, Any] = {"lot": asked.pk, "quantity": f"{asked.quantity_left.normalize():f}"}
    if asked.out_of_date(timezone.localdate()):
        initial["why"] = "out of date"
    return lots, initial


@act_page(ledger.use, "inventory/use.html", rows=IN_STOCK, called="material", to=lambda out: after(out[0]))
def use(request: ShopRequest, material: Material) -> Shown:
    lots, initial = _lots_to_pick(request, material)
    initial.pop("quantity", None)
    form = StockUseForm(
        sent(request), shop=request.shop, material=material, lots=lots, today=timezone.localdate(), initial=initial
    )
    return {"form": form}


@act_page(ledger.write_off, "inventory/write_off.html", rows=IN_STOCK, called="material", to=lambda out: after(out[0]))
def write_off(request: ShopRequest, material: Material) -> Shown:
    lots, initial = _lots_to_pick(request, material)
    form = WriteOffForm(
        sent(request), shop=request.shop, material=material, lots=lots, today=timezone.localdate(), initial=initial
    )
    return {"form": form}


@open_to(*EVERY_ROLE)
def movement_reverse(request: ShopRequest, pk: int) -> HttpResponse:
    """Shows what one act moved; sent, undoes all of it. What something stands on it only leads to.

    A count's difference is undone from here too, by those who may book one.
    """
    movement = get_object_or_404(Movement.objects.select_related("material"), pk=pk)
    whole = list(Movement.objects.not_undone().filter(act=movement.act).select_related("lot").order_by("pk"))
    if not request.user.sees_money and any(one.kind == MovementKind.RECEIVE for one in whole):
        raise PermissionDenied("A delivery is undone at the counter.")
    stand = standing([movement.act]).get(movement.act) if whole else None
    counted = _counted(movement) if stand is not None and stand.room == COUNT and request.user.sees_money else None
    refused = ""

    def act() -> str:
        if counted is not None:
            undo_difference(line=counted, signed=signed(request))
        else:
            ledger.undo(act=movement.act, signed=signed(request))
        messages.success(request, "Undone: the shelf is as it was before.")
        return reverse("material", args=[movement.material_id])

    if request.method == "POST":
        try:
            return once(request, act)
        except Refused as refusal:
            refused = " ".join(refusal.messages)
    context = {"movement": movement, "whole": whole, "refused": refused, "failed": bool(refused), "stand": stand}
    context |= {"counted": counted, "opens": stand is not None and stand.opens_for(request.user)}
    return render(request, "inventory/movement_reverse.html", context, status=422 if refused else 200)


def _counted(movement: Movement) -> CountLine:
    """The line of a count that booked a movement's act."""
    return CountLine.objects.select_related("count", "material", "movement").get(movement__act=movement.act)
