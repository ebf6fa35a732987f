"""What the shop knows: materials and their facts, packs and their prices, suppliers."""

from __future__ import annotations

from django.contrib import messages
from django.core.paginator import Paginator
from django.db.models import Count, Q
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone

from inventory.catalogue import materials as catalogue
from inventory.forms.materials import MaterialForm, PackEditForm, PackForm, PackPriceForm, SupplierForm
from inventory.models import Material, Pack, Supplier
from inventory.stock.selling import goods_prices
from shop.forms.fields import ShedForm
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import ROWS, form_page, sent
from shop.web.request import ShopRequest, signed


@open_to(*SEES_MONEY)
def material_new(request: ShopRequest) -> HttpResponse:
    """Page to add a material."""
    goods = goods_prices(request.shop, timezone.localdate())
    initial = {"shelf": request.GET.get("shelf", "")}
    form = MaterialForm(sent(request), shop=request.shop, goods=goods, initial=initial)

    def act() -> str:
        row = catalogue.save_material(material=form.filled(), signed=signed(request))
        messages.success(request, f"{row.name} is in the store. Add the pack you buy, with its price.")
        return reverse("material", args=[row.pk])

    return form_page(request, "inventory/material_form.html", form, act)


@open_to(*SEES_MONEY)
def material_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to change a material."""
    material = get_object_or_404(Material, pk=pk)
    goods = goods_prices(request.shop, timezone.localdate())
    form = MaterialForm(sent(request), shop=request.shop, goods=goods, material=material)

    def act() -> str:
        row = catalogue.save_material(material=form.filled(), signed=signed(request))
        messages.success(request, "Saved.")
        return reverse("material", args=[row.pk])

    return form_page(request, "inventory/material_form.html", form, act, material=material)


@open_to(*SEES_MONEY)
def material_retire(request: ShopRequest, pk: int) -> HttpResponse:
    """Asks, then takes the material out of the lists; or brings it back."""
    material = get_object_or_404(Material, pk=pk)
    back = material.retired_at is not None
    form = ShedForm(sent(request), shop=request.shop)

    def act() -> str:
        catalogue.retire_material(material=material, signed=signed(request), back=back)
        messages.success(
            request, "Back in the lists." if back else "Out of the lists; bring it back whenever you like."
        )
        return reverse("material", args=[material.pk])

    return form_page(request, "inventory/material_retire.html", form, act, material=material, back=back)


@open_to(*SEES_MONEY)
def pack_new(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to add a pack of a material."""
    material = get_object_or_404(Material, pk=pk)
    form = PackForm(sent(request), shop=request.shop, material=material, today=timezone.localdate())

    def act() -> str:
        who, entries, pack = signed(request), form.cleaned_data, form.filled()
        if pack.supplier.pk is None:
            pack.supplier = catalogue.save_supplier(supplier=pack.supplier, signed=who)
        catalogue.add_pack(pack=pack, price=entries["price"], from_day=entries["from_day"], signed=who)
        messages.success(request, f"{pack.words} added.")
        return reverse("material", args=[material.pk])

    return form_page(request, "inventory/pack_new.html", form, act, material=material)


@open_to(*SEES_MONEY)
def pack_price(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to set the price of a pack."""
    pack = get_object_or_404(Pack.objects.select_related("material", "supplier"), pk=pk)
    form = PackPriceForm(sent(request), shop=request.shop, today=timezone.localdate())

    def act() -> str:
        catalogue.set_pack_price(pack=pack, **form.cleaned_data, signed=signed(request))
        messages.success(request, "The price is set.")
        return reverse("material", args=[pack.material_id])

    prices = pack.prices.all()[:ROWS]
    return form_page(request, "inventory/pack_price.html", form, act, pack=pack, prices=prices)


@open_to(*SEES_MONEY)
def pack_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to change a pack."""
    pack = get_object_or_404(Pack.objects.select_related("material", "supplier"), pk=pk)
    form = PackEditForm(sent(request), shop=request.shop, pack=pack)

    def act() -> str:
        catalogue.change_pack(pack=pack, **form.cleaned_data, signed=signed(request))
        messages.success(request, "Saved.")
        return reverse("material", args=[pack.material_id])

    return form_page(request, "inventory/pack_edit.html", form, act, pack=pack)


@open_to(*SEES_MONEY)
def suppliers(request: ShopRequest) -> HttpResponse:
    """Page of the suppliers."""
    packs = Count("packs", filter=Q(packs__retired_at__isnull=True))
    page = Paginator(Supplier.objects.annotate(pack_count=packs).order_by("name"), ROWS).get_page(
        request.GET.get("page")
    )
    return render(request, "inventory/suppliers.html", {"page": page})


@open_to(*SEES_MONEY)
def supplier_new(request: ShopRequest) -> HttpResponse:
    """Page to add a supplier."""
    return _supplier_page(request, None)


@open_to(*SEES_MONEY)
def supplier_edit(request: ShopRequest, pk: int) -> HttpResponse:
    """Page to change a supplier."""
    return _supplier_page(request, get_object_or_404(Supplier, pk=pk))


def _supplier_page(request: ShopRequest, supplier: Supplier | None) -> HttpResponse:
    form = SupplierForm(sent(request), shop=request.shop, supplier=supplier)

    def act() -> str:
        row = catalogue.save_supplier(supplier=form.filled(), signed=signed(request))
        messages.success(request, f"{row.name}: saved.")
        return reverse("suppliers")

    return form_page(request, "inventory/supplier_form.html", form, act, supplier=supplier)
