"""Claim slip and board tag on one sheet: the upper half goes with the customer, the lower one with the board."""

from __future__ import annotations

from typing import Any

import segno
from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from quotes.models import TakeIn
from shop.models import Profile
from shop.papers.paper import plain_head, render


def pdf(takein: TakeIn, *, profile: Profile) -> bytes:
    """The PDF bytes of a take-in's slip and tag; made anew whenever it is asked for."""
    board = takein.board
    context: dict[str, Any] = {
        **plain_head(profile, f"Claim slip {takein.tag}"),
        "takein": takein,
        "board": board,
        "damages": list(takein.damages.all()),
        "code": code_of(takein),
    }
    return render("papers/slip.html", context)


def code_of(takein: TakeIn) -> SafeString:
    """A QR code that opens the take-in for somebody who is logged in; in capitals, which keeps it coarse and sturdy."""
    address = (settings.ORIGIN + reverse("tag", args=[takein.tag])).upper()
    drawn = segno.make(address, error="q").svg_inline(border=4, omitsize=True, svgclass="qr", lineclass=None)
    return mark_safe(drawn)  # noqa: S308 - drawn by us from our own address
