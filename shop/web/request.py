"""The request as the pages of the house get it: somebody is logged in, and the shop is known.

The middleware sees to both before a view runs; a page that is open to everybody takes Django's own request.
"""

from __future__ import annotations

from django.http import HttpRequest
from django_htmx.middleware import HtmxDetails

from shop.models import Profile, User


class ShopRequest(HttpRequest):
    """Django's request with what the middleware lays on it; `id` is that of the log and of the error page."""

    user: User
    shop: Profile
    htmx: HtmxDetails
    id: str
