"""Photos: taken in at the board, shown only to those who are logged in."""

from __future__ import annotations

from typing import BinaryIO, TypeVar, cast

from django.db.models.fields.files import FieldFile
from django.http import FileResponse, Http404, HttpResponse
from django.http.response import HttpResponseBase
from django.shortcuts import get_object_or_404
from django.urls import reverse

from shop.forms.people import PhotosForm
from shop.models import Board, Photo
from shop.people import customers
from shop.people.pictures import SMALL_SIDE, tidied
from shop.platform.acts import EVERY_ROLE
from shop.web.access import open_to
from shop.web.page import form_page, sent, sent_files
from shop.web.request import ShopRequest, signed

Answer = TypeVar("Answer", bound=HttpResponseBase)

KEPT_BY_THE_BROWSER = "private, max-age=31536000, immutable"  # a photo never changes


@open_to(*EVERY_ROLE)
def photo_add(request: ShopRequest, board: int) -> HttpResponse:
    """Form that adds photos to a board."""
    row = get_object_or_404(Board, pk=board)
    form = PhotosForm(sent(request), sent_files(request), shop=request.shop)

    def act() -> str:
        customers.add_photos(board=row, **form.entries(), signed=signed(request))
        return reverse("board", args=[row.pk])

    return form_page(request, "shop/photo_add.html", form, act, says="The photo is kept.", board=row)


@open_to(*EVERY_ROLE)
def photo(request: ShopRequest, pk: int) -> FileResponse:
    """Photo in full size."""
    return _as_jpeg(FileResponse(_file(pk)))


@open_to(*EVERY_ROLE)
def photo_small(request: ShopRequest, pk: int) -> HttpResponse:
    """Photo in small size."""
    with _file(pk) as file:
        return _as_jpeg(HttpResponse(tidied(cast(BinaryIO, file), longest=SMALL_SIDE)))


def _file(pk: int) -> FieldFile:
    try:
        return get_object_or_404(Photo, pk=pk).image.open("rb")
    except FileNotFoundError:
        raise Http404("The file of this photo is not there any more.") from None


def _as_jpeg(response: Answer) -> Answer:
    response["Content-Type"] = "image/jpeg"
    response["Content-Disposition"] = "inline"
    response["X-Content-Type-Options"] = "nosniff"
    response["Cache-Control"] = KEPT_BY_THE_BROWSER
    return response
