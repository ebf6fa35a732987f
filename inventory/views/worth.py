"""What the store was worth on a past day, and what came and went in between."""

from __future__ import annotations

from decimal import Decimal
from itertools import groupby

from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.forms.worth import PeriodForm
from inventory.models import Kind
from inventory.stock.books import Flow, flows
from inventory.stock.selling import COSTS_TO_SELL, SELLS_FOR
from inventory.stock.worth import write_down
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.request import ShopRequest

NOTHING = Decimal(0)
DEAREST = 8  # materials named before the rest is folded


@open_to(*SEES_MONEY)
def stock_worth(request: ShopRequest) -> HttpResponse:
    """Page of what the stock is worth, on days of a period."""
    today = timezone.localdate()
    period = {"first": today.replace(day=1), "last": today}
    asked = "first" in request.GET or "last" in request.GET
    form = PeriodForm(request.GET if asked else None, shop=request.shop, today=today, initial=period)
    if asked and not form.is_valid():
        return render(request, "inventory/stock_worth.html", {"form": form}, status=422)
    if asked:
        period = form.cleaned_data
    rows = flows(**period)
    for row in rows:
        row.material.too_high = _too_high(row) if period["last"] == today else NOTHING
    context = {
        "form": form,
        **period,
        "rows": rows,
        "dearest": sorted((one for one in rows if one.closing[1]), key=lambda one: -one.closing[1])[:DEAREST],
        "kinds": _by_kind(rows),
        "total": {side: sum((getattr(row, side)[1] for row in rows), NOTHING) for side in Flow._fields[1:]},
        "too_high": [row for row in rows if row.material.too_high],
    }
    return render(request, "inventory/stock_worth.html", context)


def _by_kind(rows: list[Flow]) -> list[tuple[str, Decimal, list[Flow]]]:
    """Each kind in words, what all of it is worth at the end, and its rows, which come by kind."""
    kinds = [(kind, list(group)) for kind, group in groupby(rows, lambda one: one.material.get_kind_display())]
    return [(kind, sum((one.closing[1] for one in group), NOTHING), group) for kind, group in kinds]


def _too_high(row: Flow) -> Decimal:
    """By how much counter goods stand above what they still sell for, where a selling price is among their facts."""
    quantity, value = row.closing
    price = row.material.facts.get(SELLS_FOR)
    if row.material.kind != Kind.COUNTER or price is None or not quantity:
        return NOTHING
    to_sell = Decimal(str(row.material.facts.get(COSTS_TO_SELL, 0)))
    price, to_sell = max(NOTHING, Decimal(str(price))), max(NOTHING, to_sell)
    return write_down(quantity, value / quantity, price, to_sell).quantize(Decimal("0.01"))
