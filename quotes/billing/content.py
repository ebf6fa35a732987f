"""What the papers of a charge freeze: what it is about, its lines, what was paid before, how the rest is paid."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from quotes.billing.parts import House
from quotes.models import Job, Payment
from quotes.quoting import shop_day
from quotes.totals import DocumentLine, Totals
from quotes.totals.taxing import Point, Rows, less, rows_as_data, said, tax_of
from shop.models import Customer


def payment(house: House, whole: Totals, day: date) -> dict[str, Any]:
    """By which day and how to pay; neither where nothing is left to pay.

    Source: EN 16931-1, rule BR-CO-25 (from memory): what is above zero to pay has its due day or its terms.
    """
    if whole.payable <= 0:
        return {"due_on": None, "payment_words": ""}
    due = day + timedelta(days=house.profile.payment_days)
    return {"due_on": due.isoformat(), "payment_words": house.profile.payment_words}


def about(jobs: Sequence[Job], buyer: Customer, *, done: bool) -> dict[str, Any]:
    """The boards, when the work was done if any was, and who brought them if that is not who pays."""
    brought = dict.fromkeys(job.takein.brought_by.name for job in jobs if job.takein.brought_by_id != buyer.pk)
    days = [shop_day(job.finished_at) for job in jobs if job.finished_at and done]
    return {
        "boards": [{"tag": job.takein.tag, "name": job.takein.board.name} for job in jobs],
        "brought_by": ", ".join(brought),
        "supplied_on": max(days).isoformat() if days else None,
    }


def lines_as_data(lines: Sequence[tuple[Job | None, DocumentLine]], amounts: Sequence[Decimal]) -> list[dict[str, Any]]:
    """Lines as text, for a frozen paper."""
    return [
        {
            "words": line.words,
            "quantity": str(line.quantity),
            "unit": line.unit,
            "unit_price": str(line.unit_price),
            "amount": str(amount),
            "tax_category": line.tax_category,
            "tax_percent": f"{line.tax_percent.normalize():f}",
        }
        for (_, line), amount in zip(lines, amounts, strict=True)
    ]


def prepaid(whole: Totals, money: Sequence[Payment], taxed: Rows, cause: str) -> dict[str, Any]:
    """The deposits, and where tax was due on them, what tax is left for this invoice: by difference, never anew."""
    left = less(whole.tax_rows, taxed)
    return {
        "prepaid": [
            {
                "number": each.number,
                "on": shop_day(each.received_at).isoformat(),
                "amount": str(each.settled),
                "kind": each.kind,
            }
            for each in money
        ],
        **accounted(left, tax_of(taxed) if taxed else None, whole.currency),
        "tax_points": [Point(cause, row).as_dict(whole.currency) for row in left],
    }


def accounted(rows: Rows, deposits: Decimal | None, currency: str) -> dict[str, Any]:
    """What a paper says where deposits are taxed: how much tax is theirs, and what it accounts for itself."""
    if deposits is None:
        return {"advance_tax": None, "tax_left": []}
    return {"advance_tax": said(deposits, currency), "tax_left": rows_as_data(rows, currency)}
