"""The receipt of a deposit, a payment, or money paid back: set from its frozen content and nothing else."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.dateformat import format as day_words

from shop.papers.paper import render, render_on_roll

SAID = {"deposit": "Received as a deposit", "payment": "Received with thanks", "refund": "Paid back to you"}


def pdf(content: dict[str, Any]) -> bytes:
    """The PDF bytes of a receipt's content. Raises PaperProblem if it cannot be set as written."""
    shown = context(content)
    if shown["paper"] == "roll":
        return render_on_roll("papers/receipt.html", shown)
    return render("papers/receipt.html", shown)


def context(content: dict[str, Any]) -> dict[str, Any]:
    """What the template shows."""
    day = day_words(date.fromisoformat(content["issued_on"]), "D j M Y")
    name = f"Receipt {content['number']}"
    left = content["left"]
    own = content.get("receipt_paper", "sheet")
    return {
        **{
            key: content[key]
            for key in (
                "currency",
                "locale",
                "seller",
                "tax",
                "words",
                "amount",
                "method",
                "taken_by",
            )
        },
        "tax_rows": [
            {"percent": row["percent"], **{name: abs(Decimal(row[name])) for name in ("net", "tax")}}
            for row in content["tax_rows"]
        ],
        "back": content["kind"] == "refund",
        "paper": content["paper"] if own == "sheet" else own,
        "small": own != "sheet",
        "lang": "en",
        "document_name": name,
        "document_lines": [day],
        "foot_words": f"{name}, {day} · {content['seller']['name']}",
        "buyer": {**content["buyer"], "tax_words": content["seller"]["tax_words"]}
        if content["buyer"]["named"]
        else None,
        "buyer_words": "Paid to" if content["kind"] == "refund" else "Received from",
        "said": SAID[content["kind"]],
        "left": left,
        "rounding": Decimal(content.get("rounding", "0")),
        "settled": left is not None and Decimal(left) == 0,
        "deposit": content["kind"] == "deposit",
    }
