"""Invoice and credit note as papers: set from their frozen content and nothing else."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from django.utils.dateformat import format as day_words

from shop.measures.money import spread
from shop.papers.paper import render

PAID = {"deposit": "Deposit", "payment": "Payment", "refund": "Paid back"}


def pdf(content: dict[str, Any]) -> bytes:
    """The PDF bytes of an invoice's or credit note's content. Raises PaperProblem if it cannot be set as written."""
    return render("papers/invoice.html", context(content))


def context(content: dict[str, Any]) -> dict[str, Any]:
    """What the template shows; amounts of the lines without tax are spread so that they add up to the tax rows."""
    name = f"{content['title']} {content['number']}"
    issued = _day(content["issued_on"])
    credit = content["document"] == "credit"
    done = content.get("supplied_on")
    due = _day(content["due_on"]) if content.get("due_on") else ""  # invoices of before name no day
    buyer = content["buyer"]
    return {
        **{
            key: content[key]
            for key in ("currency", "locale", "paper", "seller", "tax", "terms", "payment_words", "boards")
        },
        "lang": "en",
        "document_name": name,
        "document_lines": [
            issued,
            *([f"work done {_day(done)}"] if done and not credit else []),
            *([f"to pay by {due}"] if due else []),
        ],
        "foot_words": f"{name}, {issued} · {content['seller']['name']}",
        "buyer": {**buyer, "tax_words": content["seller"]["tax_words"]} if buyer["named"] else None,
        "buyer_words": "Credit to" if credit else "Invoice to",
        "other": {"name": content["brought_by"]} if content["brought_by"] else None,
        "heading": _heading(content),
        "reason": content["reason"],
        "lines": lines_with_tax(content),
        "rows": _total_rows(content, credit),
        "advance": _advance(content),
        "credit": credit,
        "due": due,
        "to_pay": content["totals"]["payable"],
    }


def _heading(content: dict[str, Any]) -> str:
    corrects = content["corrects"]
    if corrects:
        return f"For invoice {corrects['number']} of {_day(corrects['issued_on'])}"
    return ", ".join(f"{board['name']}, tag {board['tag']}" for board in content["boards"])


def _total_rows(content: dict[str, Any], credit: bool) -> list[dict[str, Any]]:
    totals, word = content["totals"], content["tax"]["word"]
    rows: list[dict[str, Any]] = []
    if content["tax"]["registered"]:
        rows.append({"words": f"Total without {word}", "amount": totals["net"]})
        for row in totals["tax_rows"]:
            rows.append({"words": f"{word} {row['percent']} % on {row['net']}", "amount": row["tax"]})
    rows.append({"words": "Total", "amount": totals["gross"]})
    for paid in content["prepaid"]:
        word = PAID.get(paid.get("kind", ""), "Deposit" if Decimal(paid["amount"]) > 0 else "Paid back")
        rows.append({"words": f"{word} {paid['number']}, {_day(paid['on'])}", "amount": -Decimal(paid["amount"])})
    due = Decimal(totals["payable"])
    words = "Credited" if credit else "To pay" if due >= 0 else "To be paid back to you"
    return [*rows, {"words": words, "amount": abs(due), "due": True}]


def _advance(content: dict[str, Any]) -> dict[str, Any] | None:
    """The tax that is accounted for with deposits, what this paper accounts for itself, and whether that goes back."""
    if not content.get("advance_tax"):
        return None
    left = sum((Decimal(row["tax"]) for row in content["tax_left"]), Decimal(0))
    return {"taken": content["advance_tax"], "left": str(abs(left)), "back": left < 0}


def _day(iso: str) -> str:
    return day_words(date.fromisoformat(iso), "D j M Y")


def lines_with_tax(content: Mapping[str, Any]) -> list[dict[str, Any]]:
    """An invoice's frozen lines, each with its `net` and `gross`; these add up to the tax rows."""
    lines = [{**line, "amount": Decimal(line["amount"])} for line in content["lines"]]
    for row in content["totals"]["tax_rows"]:
        same = [
            line for line in lines if (line["tax_category"], line["tax_percent"]) == (row["category"], row["percent"])
        ]
        whole = sum((line["amount"] for line in same), Decimal(0))
        for name in ("net", "gross"):
            total = Decimal(row[name])
            exact = [line["amount"] * total / whole if whole else Decimal(0) for line in same]
            for line, part in zip(same, spread(exact, content["currency"], total), strict=True):
                line[name] = part
    return lines
