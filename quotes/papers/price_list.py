"""The wall price list as one page to hang at the counter, and the same words for the customers' page."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.dateformat import format as day_words

from shop.papers.paper import render

ASK = "ask us"
LETTERS = (
    (22, "roomy"),
    (28, "close"),
    (36, "tight"),
    (44, "least"),
)  # lines that fit on the shortest sheet, largest letters first


def pdf(content: dict[str, Any]) -> bytes:
    """The PDF bytes of a list's content. Raises PaperProblem if it cannot be set as written."""
    return render("papers/price_list.html", context(content))


def context(content: dict[str, Any]) -> dict[str, Any]:
    """What the templates show of a list's content."""
    day = date.fromisoformat(content["day"])
    groups = [_group(group, content["columns"]) for group in content["groups"]]
    return {
        **{key: content[key] for key in ("currency", "locale", "paper", "seller", "columns", "tax_words")},
        "lang": "en",
        "day": day,
        "document_name": "Price list",
        "document_lines": [day_words(day, "D j M Y")],
        "foot_words": f"Price list of {day_words(day, 'D j M Y')} · {content['seller']['name']}",
        "groups": groups,
        "letters": _letters(groups),
        "any_from": any(row["only_from"] for group in groups for row in group["rows"]),
        "any_unknown": any(cell["words"] == ASK for group in groups for row in group["rows"] for cell in row["cells"]),
    }


def _group(group: dict[str, Any], columns: list[str]) -> dict[str, Any]:
    rows = [
        {
            "size": row["size"],
            "only_from": row["only_from"],
            "cells": [
                {
                    "column": column,
                    "price": None if cell["price"] is None else Decimal(cell["price"]),
                    "words": "" if cell["price"] else "not done" if cell["refused"] else ASK,
                }
                for column, cell in zip(columns, row["prices"], strict=True)
            ],
        }
        for row in group["rows"]
    ]
    return {"repair": group["repair"], "rows": rows}


def _letters(groups: list[dict[str, Any]]) -> str:
    """The largest letters in which the list is one page; words too long for their column take a second line."""
    lines = 0
    for group in groups:
        inside = sum(1 + len(row["size"]) // 24 for row in group["rows"])
        lines += max(inside, 1 + len(group["repair"]) // 34)
    return next((word for most, word in LETTERS if lines <= most), LETTERS[-1][1])
