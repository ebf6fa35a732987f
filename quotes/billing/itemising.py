"""How an invoice's price comes about, for a customer who asks: materials with amounts, hours with their rate.

Idea: lines by hand stand as they were charged. The rest of the price was agreed as a whole, so each share of it is the
share that its cost has in what the work took. What the shop paid stays with the shop. Asked for under the Australian Consumer Law, section 101 (Competition and Consumer
Act 2010, schedule 2): how the price was worked out, labour hours and hourly rate, materials and the amount for each.
"""

from __future__ import annotations

from collections import defaultdict
from decimal import Decimal
from typing import Any

from quotes.models import Invoice, StepTime, StepUse, WayLine
from shop.acts import Refused
from shop.money import round_money, spread

ZERO, AN_HOUR = Decimal(0), Decimal(60)


def itemised(invoice: Invoice) -> dict[str, Any]:
    """Seller, buyer, and rows that add up to the invoice's total without tax.

    Rows are {words, quantity, unit, cost share as `amount`}; the last is labour with `hours` and `rate` per hour.
    Raises Refused where nothing was written down that the price could be laid out over.
    """
    by_hand = _by_hand(invoice)
    rest = invoice.net - sum((row["amount"] for row in by_hand), ZERO)
    rows = [*_materials(invoice), _labour(invoice)]
    whole = sum((row["cost"] for row in rows), ZERO)
    if not whole:
        raise Refused("Nothing that was used or done is written down for this invoice, so there is nothing to lay out.")
    shares = spread([rest * row["cost"] / whole for row in rows], invoice.currency, rest)
    laid = [*by_hand, *({**row, "amount": share} for row, share in zip(rows, shares, strict=True))]
    hours = laid[-1]["hours"]
    frozen = invoice.frozen
    return {
        **{key: frozen[key] for key in ("currency", "locale", "paper", "seller", "tax", "boards", "buyer")},
        "number": invoice.number,
        "title": frozen["title"],
        "issued_on": frozen["issued_on"],
        "rows": laid,
        "hours": hours,
        "rate": round_money(laid[-1]["amount"] / hours, invoice.currency) if hours else None,
        "net": invoice.net,
        "gross": invoice.gross,
        "tax_sum": invoice.tax,
    }


def _materials(invoice: Invoice) -> list[dict[str, Any]]:
    uses = StepUse.objects.filter(step__job__in=invoice.jobs.all(), undone_at__isnull=True, customers_own=False)
    used: dict[Any, list[Decimal]] = defaultdict(lambda: [ZERO, ZERO])
    for use in uses.select_related("material").order_by("material__name", "pk"):
        sums = used[use.material]
        sums[0], sums[1] = sums[0] + use.used, sums[1] + use.cost
    return [
        {"words": material.name, "quantity": quantity, "unit": material.unit, "cost": cost, "hours": ZERO}
        for material, (quantity, cost) in used.items()
    ]


def _by_hand(invoice: Invoice) -> list[dict[str, Any]]:
    """The lines by hand at what was charged for them, without tax."""
    words = set(WayLine.objects.filter(way__jobs__in=invoice.jobs.all()).values_list("words", flat=True))
    with_tax = invoice.frozen["totals"]["prices_include_tax"]
    rows = []
    for line in invoice.lines.all():
        if line.words in words:
            net = line.amount * 100 / (100 + line.tax_percent) if with_tax else line.amount
            amount = round_money(net, invoice.currency)
            rows.append({"words": line.words, "quantity": None, "unit": "", "amount": amount, "hours": ZERO})
    return rows


def _labour(invoice: Invoice) -> dict[str, Any]:
    """Hands-on time at wage and workshop: one row for all jobs of the invoice."""
    times = StepTime.objects.filter(step__job__in=invoice.jobs.all(), replaced_at__isnull=True)
    cost = minutes = ZERO
    for time in times:
        cost += time.minutes * (time.wage_per_hour + time.overhead_per_hour) / AN_HOUR
        minutes += time.minutes
    hours = (minutes / AN_HOUR).quantize(Decimal("0.01"))
    return {"words": "Labour and workshop", "quantity": None, "unit": "", "cost": cost, "hours": hours}
