"""Pages go over the wire packed, to whoever takes them so; what is packed already goes as it is."""

from __future__ import annotations

import gzip

from django.http import HttpResponse
from django.test import RequestFactory
from django.urls import reverse

from shop.web.middleware import PackedPages


def test_a_page_is_packed_and_is_the_same_page(keeper_client, profile):
    plain = keeper_client.get(reverse("store"))
    packed = keeper_client.get(reverse("store"), headers={"accept-encoding": "gzip"})
    assert "Content-Encoding" not in plain.headers
    assert packed.headers["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in packed.headers["Vary"]
    assert len(packed.content) < 0.5 * len(plain.content)
    assert b"<h1" in gzip.decompress(packed.content)


def test_a_paper_is_not_packed_again():
    paper = HttpResponse(b"%PDF-" + bytes(1000), content_type="application/pdf")
    answer = PackedPages(lambda _: paper)(RequestFactory().get("/", headers={"accept-encoding": "gzip"}))
    assert answer.content.startswith(b"%PDF-")
    assert "Content-Encoding" not in answer.headers
