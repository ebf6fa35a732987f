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
from shop.web.page import ROWS, Shown, act_page, form_page, sent
from shop.web.request import ShopRequest, signed

PACKS = Pack.objects.select_related("material", "supplier")


def to_material(material: Material) -> str:
    return reverse("material", args=[material.pk])


@act_page(
    catalogue.save_material, "inventory/material_form.html", to=to_material,
    says=lambda material: f"{material.name} is in the store. Add the pack you buy, with its price.",
)  # fmt: skip
def material_new(request: ShopRequest) -> Shown:
    goods = goods_prices(request.shop, timezone.localdate())
    initial = {"shelf": request.GET.get("shelf", "")}
    return {"form": MaterialForm(sent(request), shop=request.shop, goods=goods, initial=initial)}


@act_page(
    catalogue.save_material, "inventory/material_form.html", rows=Material, called="material",
    to=to_material, says="Saved.",
)  # fmt: skip
def material_edit(request: ShopRequest, material: Material) -> Shown:
    goods = goods_prices(request.shop, timezone.localdate())
    return {"form": MaterialForm(sent(request), shop=request.shop, goods=goods, material=material)}


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


@act_page(
    catalogue.set_pack_price, "inventory/pack_price.html", rows=PACKS, called="pack",
    to=lambda price: to_material(price.pack.material), says="The price is set.",
)  # fmt: skip
def pack_price(request: ShopRequest, pack: Pack) -> Shown:
    form = PackPriceForm(sent(request), shop=request.shop, today=timezone.localdate())
    return {"form": form, "prices": pack.prices.all()[:ROWS]}


@act_page(
    catalogue.change_pack, "inventory/pack_edit.html", rows=PACKS, called="pack",
    to=lambda pack: to_material(pack.material), says="Saved.",
)  # fmt: skip
def pack_edit(request: ShopRequest, pack: Pack) -> Shown:
    return {"form": PackEditForm(sent(request), shop=request.shop, pack=pack)}


@open_to(*SEES_MONEY)
def suppliers(request: ShopRequest) -> HttpResponse:
    """Page of the suppliers."""
    packs = Count("packs", filter=Q(packs__retired_at__isnull=True))
    page = Paginator(Supplier.objects.annotate(pack_count=packs).order_by("name"), ROWS).get_page(
        request.GET.get("page")
    )
    return render(request, "inventory/suppliers.html", {"page": page})


@act_page(
    catalogue.save_supplier, "inventory/supplier_form.html",
    to="suppliers", says=lambda supplier: f"{supplier.name}: saved.",
)  # fmt: skip
def supplier_new(request: ShopRequest) -> Shown:
    return {"form": SupplierForm(sent(request), shop=request.shop)}


@act_page(
    catalogue.save_supplier, "inventory/supplier_form.html", rows=Supplier, called="supplier",
    to="suppliers", says=lambda supplier: f"{supplier.name}: saved.",
)  # fmt: skip
def supplier_edit(request: ShopRequest, supplier: Supplier) -> Shown:
    return {"form": SupplierForm(sent(request), shop=request.shop, supplier=supplier)}
