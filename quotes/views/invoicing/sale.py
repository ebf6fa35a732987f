"""Goods sold over the counter: one page from the shelf to the receipt."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpResponse
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from inventory.models import Kind, Material
from inventory.stock.selling import goods_prices
from quotes import billing
from quotes.forms.money import SaleForm
from shop.platform.acts import SEES_MONEY, Refused
from shop.web.access import open_to
from shop.web.page import Shown, form_page, sent
from shop.web.post_login_replay import typed_anew
from shop.web.request import ShopRequest, signed
from shop.web.submission import asked_for

MOST_GOODS = 60


@typed_anew
@open_to(*SEES_MONEY)
def sale(request: ShopRequest) -> HttpResponse:
    """What counter goods are on the shelf, or not counted yet, each with its price; sold, invoiced, paid at once."""
    rows = Material.objects.in_use().filter(kind=Kind.COUNTER).with_stock().with_counted().for_sale().order_by("name")
    try:
        billing.goods_rate(timezone.localdate())
    except Refused as problem:
        messages.error(request, problem.messages[0])
        return redirect("money")
    prices = goods_prices(request.shop, timezone.localdate())
    words, more = asked_for(request), rows.count() > MOST_GOODS
    found = rows.filter(name__icontains=words) if words else rows
    goods = [(row, prices.said(row)) for row in found[:MOST_GOODS]]
    form = SaleForm(sent(request), goods=goods, shop=request.shop)

    def act() -> str:
        payment = billing.sell_goods(
            goods=[billing.Goods(*each) for each in form.sold()], method=form.cleaned_data["method"], signed=signed(request),
        )  # fmt: skip
        return reverse("receipt", args=[payment.pk])

    unpriced = [row for row, price in goods if price is None]
    context: Shown = {
        "goods": goods,
        "percent": prices.percent,
        "unpriced": unpriced,
        "words": words,
        "more": more,
        "most": MOST_GOODS,
    }
    says = "Sold and paid. Print the receipt or the invoice."
    return form_page(request, "quotes/sale.html", form, act, says=says, **context)
