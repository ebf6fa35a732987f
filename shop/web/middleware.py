"""Request id for the log, what comes in made readable, the shop's own row and time zone for each request, and the most
a request may hold.
"""

from __future__ import annotations

import codecs
import uuid
import zoneinfo
from collections.abc import Callable

from django.conf import settings
from django.contrib import messages
from django.core.exceptions import BadRequest, RequestDataTooBig
from django.http import HttpRequest, HttpResponse, QueryDict
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware
from django.shortcuts import redirect
from django.urls import reverse
from django.utils import timezone

from shop.models import Profile
from shop.papers.paper import hears
from shop.text.writing import isolated
from shop.web.logs import request_id


class RequestId:
    """Gives each request an id that the log and the error page share."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        request.id = uuid.uuid4().hex[:12]  # type: ignore[attr-defined]
        request_id.set(request.id)  # type: ignore[attr-defined]  # stays until the thread's next: Django logs afterwards
        response = self.get_response(request)
        response["X-Request-ID"] = request.id  # type: ignore[attr-defined]
        return response


def without_nul(text: str) -> str:
    """A text without the sign NUL, which nobody types and PostgreSQL takes in no text."""
    return text.replace("\0", "")


class CleanInput:
    """What no page can use does not come as far as one.

    A body in another encoding than UTF-8, and a NUL in the path, are answered with the page for 400; a NUL in the query
    is left out. Forms have a sentence of their own for a NUL in a box.
    """

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.encoding is not None:  # a charset was declared
            if codecs.lookup(request.encoding).name != "utf-8":
                raise BadRequest(f"Sent in the encoding {request.encoding}; UTF-8 is the only one that is read.")
            request.encoding = "utf-8"
        if "\0" in request.path:
            raise BadRequest("There is a NUL in the path.")
        if any("\0" in name or "\0" in text for name, texts in request.GET.lists() for text in texts):
            clean = QueryDict(mutable=True)
            for name, texts in request.GET.lists():
                clean.setlist(without_nul(name), [without_nul(text) for text in texts])
            request.GET = clean  # type: ignore[assignment]
        return self.get_response(request)


class ShopSetUp:
    """Puts the shop's row on the request, turns to its time zone, and sends everybody to set-up until there is one."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        if request.path == reverse("health"):
            return self.get_response(request)
        request.shop = Profile.objects.first()  # type: ignore[attr-defined]
        if request.shop is None:  # type: ignore[attr-defined]
            if request.path != reverse("setup"):
                return redirect("setup")
            return self.get_response(request)
        with timezone.override(zoneinfo.ZoneInfo(request.shop.timezone)):  # type: ignore[attr-defined]
            response = self.get_response(request)
        if request.user.is_authenticated and "Cache-Control" not in response:
            response["Cache-Control"] = "private, no-store"
        return response


class Writing:
    """Tells who asked for a paper what its fonts lack, and keeps right-to-left words on a page to themselves."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        with hears() as sentences:
            response = self.get_response(request)
        for sentence in sentences:
            messages.warning(request, sentence)
        if not response.streaming and response.get("Content-Type", "").startswith("text/html"):
            page = response.content.decode()
            set_apart = isolated(page)
            if set_apart is not page:
                response.content = set_apart.encode()
        return response


class PackedPages(GZipMiddleware):
    """Sends pages packed to whoever takes them so; papers, pictures and downloads are packed already.

    Django puts bytes of random length before each, so that its size tells nothing of what is in it.
    """

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        """Response, packed where it is a page."""
        page = not response.streaming and response.get("Content-Type", "").startswith("text/html")
        return super().process_response(request, response) if page else response


class BodyLimit:
    """Refuses a body that says it is too large before any of it is read."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        length = request.META.get("CONTENT_LENGTH") or "0"
        if length.isdecimal() and int(length) > settings.BODY_MAX_BYTES:
            raise RequestDataTooBig(f"A body of {length} bytes; {settings.BODY_MAX_BYTES} is the most.")
        return self.get_response(request)
