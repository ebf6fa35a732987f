"""The lines by hand of a way."""

from __future__ import annotations

from django.http import HttpResponse
from django.shortcuts import get_object_or_404
from django.urls import reverse
from django.utils import timezone

from quotes import quoting
from quotes.forms.quotes import LineForm, percent_key
from quotes.models import Way, WayLine
from quotes.views.counter.ways import LINES, WAYS, one_tap
from shop.countries import tax
from shop.models import TaxRate
from shop.platform.acts import SEES_MONEY
from shop.web.access import open_to
from shop.web.page import Shown, act_page, sent
from shop.web.request import ShopRequest, signed


def _to_way(line: WayLine) -> str:
    return reverse("way-edit", args=[line.way_id])


@act_page(quoting.add_line, "quotes/way_line.html", rows=WAYS, called="way", to=_to_way)
def way_line_new(request: ShopRequest, way: Way) -> Shown:
    rates = _rates(request)
    return {"form": LineForm(sent(request), shop=request.shop, rates=rates, initial={"rate": rates[0][0]})}


@act_page(quoting.edit_line, "quotes/way_line.html", rows=LINES, called="line", to=_to_way)
def way_line_edit(request: ShopRequest, line: WayLine) -> Shown:
    rates = _rates(request)
    key = percent_key(line.tax_percent)
    if key not in dict(rates):
        rates = [(key, f"{key} %"), *rates]
    form = LineForm(sent(request), shop=request.shop, rates=rates, initial=LineForm.showing(line))
    return {"form": form, "way": line.way}


@open_to(*SEES_MONEY)
def way_line_remove(request: ShopRequest, pk: int) -> HttpResponse:
    line = get_object_or_404(LINES, pk=pk)

    def act() -> str:
        quoting.remove_line(line=line, signed=signed(request))
        return reverse("way-edit", args=[line.way_id])

    return one_tap(request, line.way, act)


def _rates(request: ShopRequest) -> list[tuple[str, str]]:
    """Rates in force today, that of repairs first; one of no tax where the shop charges none."""
    if not tax.profile(request.shop.tax_profile).registered:
        return [("0", "no tax")]
    rows = TaxRate.objects.on(timezone.localdate())
    found = {percent_key(row.percent): str(row) for row in sorted(rows, key=lambda row: not row.for_repairs)}
    return list(found.items()) or [("0", "no tax")]
