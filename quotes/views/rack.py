"""The home page: the boards in the shop, grouped by what each one waits for."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.utils import timezone

from inventory.models import PackPrice
from quotes.bench.rack import Group, on_the_rack
from quotes.bench.together import together_now
from shop.access import EVERY_ROLE, SEES_MONEY, open_to

SHOWN_AT_MOST = 25


@open_to(*EVERY_ROLE)
def rack(request: HttpRequest) -> HttpResponse:
    """Hands wanted first; the longest groups are cut, and shown whole on their own."""
    money = request.user.role in SEES_MONEY
    now = timezone.now()
    groups = on_the_rack(now, money=money)
    only = request.GET.get("only", "")
    shown = [group for group in groups if group.key == only] or groups
    boards = sum(len(group.bars) for group in groups)
    return render(
        request,
        "quotes/rack.html",
        {
            "groups": [_cut(group, whole=len(shown) == 1) for group in shown if group.bars or group.key == "hands"],
            "boards": boards,
            "counts": [(group.title, len(group.bars), group.key) for group in groups],
            "only": len(shown) == 1,
            "no_prices": money and not PackPrice.objects.exists(),
            "pages_of_money": money,
            "cups": [] if only else together_now(now, request.shop.constants),
        },
    )


def _cut(group: Group, *, whole: bool) -> dict[str, object]:
    bars = group.bars if whole else group.bars[:SHOWN_AT_MOST]
    return {"group": group, "bars": bars, "count": len(group.bars), "more": len(group.bars) - len(bars)}
