"""The calendar that somebody subscribed to: read by its secret address, without a login."""

from __future__ import annotations

from django.http import Http404, HttpResponse
from django.utils import timezone
from django.views.decorators.http import conditional_page, require_safe

from quotes.bench.job.calendar_feed import shop_calendar_bytes
from shop.business.calendar_addresses import address_of
from shop.web.access import PUBLIC, open_to
from shop.web.request import ShopRequest


@open_to(PUBLIC)
@require_safe
@conditional_page
def calendar(request: ShopRequest, token: str) -> HttpResponse:
    """The shop's calendar for who has a standing address; nothing is there for anybody else."""
    if address_of(token) is None:
        raise Http404("No calendar reads here.")
    body = shop_calendar_bytes(request.shop, at=timezone.now())
    answer = HttpResponse(body, content_type="text/calendar; charset=utf-8")
    answer["Cache-Control"] = "private"
    return answer
