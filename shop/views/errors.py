"""The shop's own pages for what goes wrong: a sentence, what to do, and the request id for the log.

What could not be read, and what broke, is answered without the context of other pages: making that reads the request
and the database once more, which may be what went wrong.
"""

from __future__ import annotations

from django.core.exceptions import RequestDataTooBig
from django.http import HttpRequest, HttpResponse, HttpResponseBadRequest, HttpResponseServerError
from django.shortcuts import render
from django.template.loader import render_to_string


def _page(request: HttpRequest, status: int, words: str = "") -> HttpResponse:
    return render(request, f"{status}.html", {"words": words, "request_id": getattr(request, "id", "")}, status=status)


def bad_request(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Page for a request that makes no sense."""
    if isinstance(exception, RequestDataTooBig):
        return too_large(request)
    return HttpResponseBadRequest(_plain(request, "400.html"))


def forbidden(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Page for one who may not open what was asked for."""
    return _page(request, 403, str(exception))


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Page for a form that is too old to be sent."""
    return _page(request, 403, "This form is from an older page. Go back, reload the page and send it once more.")


def not_found(request: HttpRequest, exception: Exception) -> HttpResponse:
    """Page for an address that leads nowhere."""
    return _page(request, 404)


def too_large(request: HttpRequest) -> HttpResponse:
    """Page for more data than is taken."""
    return _page(request, 413)


def server_error(request: HttpRequest) -> HttpResponse:
    """Page for a fault of ours."""
    return HttpResponseServerError(_plain(request, "500.html"))


def _plain(request: HttpRequest, template: str) -> str:
    return render_to_string(template, {"request_id": getattr(request, "id", "")})
