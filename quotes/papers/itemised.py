"""The itemised bill as a paper: an invoice's price laid out over materials and hours."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.utils.dateformat import format as day_words

from shop.papers.paper import render


def pdf(content: dict[str, Any]) -> bytes:
    """The PDF bytes. Raises PaperProblem if it cannot be set as written."""
    issued = day_words(date.fromisoformat(content["issued_on"]), "D j M Y")
    of = f"{content['title'].lower()} {content['number']} of {issued}"
    buyer = content["buyer"]
    return render(
        "papers/itemised.html",
        {
            **content,
            "lang": "en",
            "document_name": f"Itemised bill for {content['number']}",
            "document_lines": [],
            "foot_words": f"Itemised bill for {content['number']} · {content['seller']['name']}",
            "of": of,
            "buyer": buyer if buyer["named"] else None,
            "buyer_words": "For",
            "other": None,
        },
    )
