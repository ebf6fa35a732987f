"""Invoice and credit note as papers: set from their frozen content and nothing else.

A credit note is kept below zero and printed above it: its title says that it takes back, as EN 16931-1 has it, whose
credit note (type code 381) carries positive amounts.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from babel.numbers import format_decimal
from django.utils.dateformat import format as day_words

from shop.measures.money import show_money, spread, stored
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
    if credit:
        content = _turned(content)
    lines = lines_with_tax(content)
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
        "lines": lines,
        "many": any(Decimal(line["quantity"]) != 1 for line in lines),
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


def _turned(content: Mapping[str, Any]) -> dict[str, Any]:
    """The content of a credit note with its figures above zero."""
    totals = content["totals"]
    return {
        **content,
        "lines": [
            {**line, "quantity": _minus(line["quantity"]), "amount": _minus(line["amount"])}
            for line in content["lines"]
        ],
        "totals": {
            **totals,
            **{name: _minus(totals[name]) for name in ("net", "tax", "gross", "payable")},
            "tax_rows": [
                {**row, **{name: _minus(row[name]) for name in ("net", "tax", "gross")}} for row in totals["tax_rows"]
            ],
        },
    }


def _minus(said: str) -> str:
    return str(-Decimal(said) + 0)


def _total_rows(content: dict[str, Any], credit: bool) -> list[dict[str, Any]]:
    totals, word = content["totals"], content["tax"]["word"]
    rows: list[dict[str, Any]] = []
    if content["tax"]["registered"]:
        rows.append({"words": f"Total without {word}", "amount": totals["net"]})
        for row in totals["tax_rows"]:
            rows.append({"words": f"{word} {tax_words(row, content)}", "amount": row["tax"]})
    rows.append({"words": "Total", "amount": totals["gross"]})
    for paid in content["prepaid"]:
        word = PAID.get(paid.get("kind", ""), "Deposit" if Decimal(paid["amount"]) > 0 else "Paid back")
        rows.append({"words": f"{word} {paid['number']}, {_day(paid['on'])}", "amount": -Decimal(paid["amount"])})
    due = Decimal(totals["payable"])
    words = "Credited" if credit else "To pay" if due >= 0 else "To be paid back to you"
    return [*rows, {"words": words, "amount": abs(due), "due": True}]


def tax_words(row: Mapping[str, Any], content: Mapping[str, Any]) -> str:
    """What a tax row is of, as the shop writes numbers: 13.5 % on €427.31."""
    percent = format_decimal(Decimal(row["percent"]), locale=content["locale"])
    return f"{percent} % on {show_money(Decimal(row['net']), content['currency'], content['locale'])}"


def _advance(content: dict[str, Any]) -> dict[str, Any] | None:
    """The tax that is accounted for with deposits, what this paper accounts for itself, and whether that goes back."""
    if not content.get("advance_tax"):
        return None
    left = sum((Decimal(row["tax"]) for row in content["tax_left"]), Decimal(0))
    return {"taken": content["advance_tax"], "left": str(abs(left)), "back": left < 0}


def _day(iso: str) -> str:
    return day_words(date.fromisoformat(iso), "D j M Y")


def lines_with_tax(content: Mapping[str, Any]) -> list[dict[str, Any]]:
    """An invoice's frozen lines, each with `net` and `gross`, which add up to the tax rows, and the net of `each`."""
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
        for line in same:
            quantity = Decimal(line["quantity"])
            line["each"] = stored(line["net"] / quantity) if quantity else line["net"]
    return lines
