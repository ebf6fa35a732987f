"""What to order: the list, its paper, the words for each supplier, and what was ordered."""

from __future__ import annotations

from urllib.parse import quote

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from inventory.buying import buy_list as buying
from inventory.buying import orders
from inventory.buying.order_text import for_the_shop, for_the_supplier, subject
from inventory.forms.buying import OrderForm, RulesForm
from inventory.models import Order, Supplier
from shop.papers.paper import as_pdf, plain_head
from shop.papers.paper import render as render_paper
from shop.platform.acts import SEES_MONEY
from shop.text.formats import day, day_year
from shop.web.access import open_to
from shop.web.page import Shown, act_page, button, form_page, sent
from shop.web.request import ShopRequest, signed


@open_to(*SEES_MONEY)
def buy_list(request: ShopRequest) -> HttpResponse:
    """Page of what to buy, by supplier."""
    today = timezone.localdate()
    context = {
        "lists": buying.by_supplier(buying.buy_list(today)),
        "rules": buying.rules(),
        "today": today,
        "coming": [{"one": one, "late": one.order.late(today)} for one in orders.awaited(today)],
    }
    return render(request, "inventory/buy_list.html", context)


def _list_of(supplier: Supplier) -> buying.SupplierList:
    """What is due from one supplier, which may be nothing."""
    lists = buying.by_supplier(buying.buy_list(timezone.localdate()))
    found = next((one for one in lists if one.supplier == supplier), None)
    return found or buying.SupplierList(supplier, [])


@open_to(*SEES_MONEY)
def buy_list_pdf(request: ShopRequest) -> HttpResponse:
    """The whole list on paper, or with `?supplier=` one supplier's."""
    today, shop = timezone.localdate(), request.shop
    lists = buying.by_supplier(buying.buy_list(today))
    only = request.GET.get("supplier", "")
    if only:
        lists = [one for one in lists if one.supplier is not None and str(one.supplier.pk) == only]
        if not lists:
            raise Http404("Nothing is due from that supplier.")
    context = {**plain_head(shop, "Buy list", day_year(today)), "lists": lists}
    return as_pdf(render_paper("papers/buy_list.html", context), "buy-list.pdf")


@open_to(*SEES_MONEY)
def buy_list_text(request: ShopRequest, supplier: int) -> HttpResponse:
    """The order as text to be copied, then the shop's own reasons under a line."""
    row = get_object_or_404(Supplier, pk=supplier)
    due = _list_of(row)
    text = for_the_supplier(due, request.shop, timezone.localdate()) + "\n" + for_the_shop(due)
    answer = HttpResponse(text, content_type="text/plain; charset=utf-8")
    answer["Content-Disposition"] = f'inline; filename="order-{row.pk}.txt"'
    return answer


@open_to(*SEES_MONEY)
def buy_list_order(request: ShopRequest, supplier: int) -> HttpResponse:
    """The words to send to a supplier, and how many of each were really ordered."""
    row, today = get_object_or_404(Supplier, pk=supplier), timezone.localdate()
    due = _list_of(row)
    form = OrderForm(sent(request), shop=request.shop, lines=due.lines, supplier=row, today=today)

    def act() -> str:
        made = orders.place_order(packs=form.packs, ordered_on=form.cleaned_data["ordered_on"], signed=signed(request))
        messages.success(request, f"Noted as ordered from {row}, expected {day(made[0].expected_on)}.")
        return reverse("buy-list")

    text = for_the_supplier(due, request.shop, today)
    letter = f"mailto:{quote(row.email)}?subject={quote(subject(request.shop))}&body={quote(text)}"
    context: Shown = {"supplier": row, "due": due, "text": text, "letter": letter}
    return form_page(request, "inventory/buy_list_order.html", form, act, **context)


order_close = require_POST(  # the rest of an order will not come
    button(orders.close_order, rows=Order, called="order", to="buy-list", says="No longer expected.")
)


@act_page(
    buying.set_rules, "inventory/buying_rules.html", to="buy-list", says="Saved. The list is worked out anew."
)  # fmt: skip
def buying_rules(request: ShopRequest) -> Shown:
    return {"form": RulesForm(sent(request), shop=request.shop, rules=buying.rules())}
