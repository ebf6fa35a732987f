"""The request as the pages of the house get it: somebody is logged in, and the shop is known.

The middleware sees to both before a view runs; a page that is open to everybody takes Django's own request.
"""

from __future__ import annotations

from datetime import datetime

from django.http import HttpRequest
from django.utils import timezone
from django_htmx.middleware import HtmxDetails

from shop.models import Profile, User
from shop.platform.acts import Signed


class ShopRequest(HttpRequest):
    """Django's request with what the middleware lays on it; `id` is that of the log and of the error page."""

    user: User
    shop: Profile
    htmx: HtmxDetails
    id: str


def signed(request: ShopRequest, at: datetime | None = None) -> Signed:
    """Whoever sent the request, at this moment or a given one, in the shop as the request found it."""
    return Signed.in_shop(request.shop, request.user, at or timezone.now())
