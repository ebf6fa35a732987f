"""All that came on one note, and a supplier's price list looked at before it counts."""

from __future__ import annotations

from django.contrib import messages
from django.db.models import Prefetch
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from inventory.deliveries import take_in
from inventory.forms.deliveries import DeliveryForm, PriceListForm
from inventory.forms.tying import TieForm
from inventory.models import Pack, PackPrice, PriceList, Supplier
from inventory.pricelist import Priced
from inventory.supplier_prices import compare, keep_list, take_over
from inventory.tying import AT_ONCE, Strangers, lines_of, tie
from inventory.views.page import form_page, sent
from shop.access import SEES_MONEY, open_to
from shop.forms.fields import ShedForm
from shop.submission import asked_for


def _packs_of(supplier: Supplier) -> list[Pack]:
    prices = Prefetch("prices", PackPrice.objects.in_force(timezone.localdate()), to_attr="priced")
    packs = supplier.packs.in_use().filter(material__retired_at__isnull=True).select_related("material", "supplier")
    rows = list(packs.order_by("material__shelf", "material__name", "words").prefetch_related(prices))
    for pack in rows:
        pack.price = pack.priced[0] if pack.priced else None
    return rows


@open_to(*SEES_MONEY)
def delivery_new(request: HttpRequest, pk: int) -> HttpResponse:
    supplier = get_object_or_404(Supplier, pk=pk)
    form = DeliveryForm(
        sent(request), shop=request.shop, supplier=supplier, packs=_packs_of(supplier), today=timezone.localdate()
    )

    def act() -> str:
        lots = take_in(
            delivery=form.delivery(),
            lines=form.lines(),
            keep_prices=form.cleaned_data["keep_prices"],
            now=timezone.now(),
            by=request.user,
        )
        messages.success(request, f"On the shelf: {len(lots)} line{'s' if len(lots) > 1 else ''} from {supplier}.")
        return reverse("store")

    return form_page(request, "inventory/delivery.html", form, act, supplier=supplier)


@open_to(*SEES_MONEY)
def price_list_new(request: HttpRequest, pk: int) -> HttpResponse:
    supplier = get_object_or_404(Supplier, pk=pk)
    files = request.FILES if request.method == "POST" else None
    form = PriceListForm(sent(request), files, shop=request.shop, today=timezone.localdate())

    def act() -> str:
        kept = keep_list(
            supplier=supplier,
            name=form.cleaned_data["file"].name[:120],
            text=form.text,
            from_day=form.cleaned_data["from_day"],
            by=request.user,
            at=timezone.now(),
        )
        return reverse("supplier-price-list", args=[kept.pk])

    return form_page(request, "inventory/price_list_new.html", form, act, supplier=supplier)


@open_to(*SEES_MONEY)
def price_list(request: HttpRequest, pk: int) -> HttpResponse:
    """Every change that the list would make; the button lets them count."""
    row = get_object_or_404(PriceList.objects.select_related("supplier"), pk=pk)
    form = ShedForm(sent(request), shop=request.shop)

    def act() -> str:
        prices = take_over(price_list=row, by=request.user, at=timezone.now())
        messages.success(request, f"{len(prices)} price{'s' if len(prices) > 1 else ''} taken over.")
        return reverse("suppliers")

    return form_page(request, "inventory/price_list.html", form, act, list=row, found=compare(row))


@open_to(*SEES_MONEY)
def price_list_tie(request: HttpRequest, pk: int) -> HttpResponse:
    """What unknown lines are, a few on a page: those searched for, or those with a guess first."""
    row = get_object_or_404(PriceList.objects.select_related("supplier"), pk=pk)
    q, strangers = asked_for(request), Strangers(row, request.shop)
    found = strangers.about(q)
    sent_lines = _sent_lines(request, row)
    strangers.keep_tied(sent_lines)
    shown = sent_lines or found[:AT_ONCE]
    form = TieForm(sent(request), shop=request.shop, lines=shown, strangers=strangers)

    def act() -> str:
        many = tie(price_list=row, ties=form.ties, by=request.user, at=timezone.now())
        messages.success(
            request, f"{many} line{'s' if many > 1 else ''} tied. Prices count once you take the list over."
        )
        return reverse("supplier-price-list", args=[row.pk])

    return form_page(request, "inventory/price_list_tie.html", form, act, list=row, q=q, found=len(found))


def _sent_lines(request: HttpRequest, row: PriceList) -> list[Priced]:
    """The lines that a form was sent for, tied meanwhile or not, so that a second tap finds what the first one did."""
    names = [name.removeprefix("what_") for name in request.POST if name.startswith("what_")][:AT_ONCE]
    lines = lines_of(row, request.shop) if names else {}
    return [lines[int(n)] for n in names if n.isascii() and n.isdigit() and len(n) < 9 and int(n) in lines]
