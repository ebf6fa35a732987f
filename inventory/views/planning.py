"""What work ahead has reserved, by day; and how one material is used, week by week, and how long it lasts."""

from __future__ import annotations

import math
from datetime import date, timedelta
from typing import Any

from django.http import HttpResponse
from django.shortcuts import get_object_or_404, render
from django.utils import timezone

from inventory.buying.buy_list import Position, days_left, limit_of, positions_of, rules
from inventory.buying.history import use_by_week, week_starts
from inventory.buying.ordering import reorder_point, safety_stock, service_factor
from inventory.buying.planning import by_day, outlooks
from inventory.buying.reasons import rounded_up
from inventory.formats import about
from inventory.models import Material, Pack
from inventory.views.bars import bars
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.request import ShopRequest

LEAD_DAYS = 7  # where no supplier is known


@open_to(*EVERY_ROLE)
def plan(request: ShopRequest) -> HttpResponse:
    """Page of what work ahead will need, and what will be missing."""
    found = outlooks(timezone.localdate())
    context = {"outlooks": found, "short": [one for one in found if one.first_short], "days": by_day(found)}
    return render(request, "inventory/plan.html", context)


@open_to(*EVERY_ROLE)
def material_use(request: ShopRequest, pk: int) -> HttpResponse:
    """Half a year of use as a drawing and as a table, what is usual, and until when the shelf lasts."""
    today = timezone.localdate()
    material = get_object_or_404(Material.objects.select_related("safety").with_counted(), pk=pk)
    here = positions_of([material.pk], today)[material.pk]
    weeks = list(zip(week_starts(today), use_by_week(today, [material.pk])[material.pk], strict=True))
    context = {
        "material": material,
        "chart": bars(weeks, usual=here.usual.per_day * 7, unit=material.unit),
        "weeks": [
            {"first": day, "last": min(day + timedelta(days=6), today), "used": used} for day, used in reversed(weeks)
        ],
        "total": sum(used for _, used in weeks),
        "here": here,
        "watched": material.is_counted and not material.not_tracked,
        "limit": limit_of(material),
        **_outlook(material, here, today),
    }
    return render(request, "inventory/material_use.html", context)


def _outlook(material: Material, here: Position, today: date) -> dict[str, Any]:
    """The reckoned figures in words: a week's use, how long it lasts, and when to order."""
    pack = Pack.objects.in_use().filter(material=material).select_related("supplier").order_by("-preferred").first()
    lead, z = (pack.supplier.lead_days if pack else LEAD_DAYS), service_factor(rules().service_percent)
    left, unit = days_left(here), material.unit
    reserved = sum((quantity for _, quantity in here.demand.planned), 0.0)
    return {
        "days": None if math.isinf(left) else int(left),
        "lasts_until": None if math.isinf(left) or left > 3650 else today + timedelta(days=int(left)),
        "weekly": about(here.usual.per_day * 7, unit),
        "lead": lead,
        "reserved": about(reserved, unit) if reserved else "",
        "coming": here.coming,
        "reserve": about(safety_stock(here.usual.sigma, lead, z), unit),
        "point": about(rounded_up(reorder_point(here.usual.per_day, here.usual.sigma, lead, z), unit), unit),
        "in_use": bool(here.usual.per_day),
    }
