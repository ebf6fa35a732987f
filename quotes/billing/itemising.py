"""How an invoice's price comes about, for a customer who asks: materials with amounts, hours with their rate.

Idea: lines by hand stand as they were charged. The rest of the price was agreed as a whole, so each share of it is the
share that its cost has in what the work took. What the shop paid stays with the shop. Asked for under the Australian
Consumer Law, section 101 (Competition and Consumer Act 2010, schedule 2): how the price was worked out, labour hours
and hourly rate, materials and the amount for each.
"""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from django.db.models import Sum

from inventory.models import Kind
from quotes.bench import spent
from quotes.lookback.truth import AN_HOUR, ZERO
from quotes.models import Invoice, StepUse
from quotes.papers.invoice import lines_with_tax
from shop.measures.apportion import apportion
from shop.measures.money import round_money, smallest_coin
from shop.platform.acts import Refused
from shop.text.formats import within

SMALL = (Kind.SUNDRY, Kind.ABRASIVE, Kind.TAPE, Kind.SOLVENT)  # what a job takes a little of and no customer asks about


def itemised(invoice: Invoice) -> dict[str, Any]:
    """Seller, buyer, and rows that add up to the invoice's total without tax.

    Rows are {words, quantity, unit, cost share as `amount`}; the last is labour with `hours` and `rate` per hour.
    Raises Refused where nothing was written down that the price could be laid out over.
    """
    by_hand = _by_hand(invoice)
    rest = invoice.net - sum((row["amount"] for row in by_hand), ZERO)
    rows = [*_materials(invoice), _labour(invoice)]
    if not any(row["cost"] for row in rows):
        raise Refused("Nothing that was used or done is written down for this invoice, so there is nothing to lay out.")
    shares = apportion(rest, [row["cost"] for row in rows], smallest_coin(invoice.currency))
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
    """A row for each material, and one for all small things; one small thing alone has its own."""
    uses = StepUse.objects.filter(step__job__in=invoice.jobs.all(), undone_at__isnull=True, customers_own=False)
    sums = (
        uses.order_by("material__name")
        .values_list("material__name", "material__unit", "material__kind")
        .annotate(Sum("used"), Sum("cost"))
    )
    rows = [
        {"words": name, "quantity": quantity, "unit": unit, "cost": cost, "hours": ZERO, "small": kind in SMALL}
        for name, unit, kind, quantity, cost in sums
    ]
    small = [row for row in rows if row["small"]]
    if len(small) < 2:
        return rows
    return [*(row for row in rows if not row["small"]), _small_things(small)]


def _small_things(rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Gloves, rags, discs and tape of the whole job in one row, which names them: nobody counts a customer's gloves."""
    names = ", ".join(dict.fromkeys(within(row["words"].partition(",")[0]) for row in rows))
    cost = sum((row["cost"] for row in rows), ZERO)
    return {"words": f"Small things: {names}", "quantity": None, "unit": "", "cost": cost, "hours": ZERO}


def _by_hand(invoice: Invoice) -> list[dict[str, Any]]:
    """The lines by hand at what the invoice says of them without tax."""
    printed = lines_with_tax(invoice.frozen)
    rows = []
    for place in invoice.lines.filter(by_hand=True).values_list("position", flat=True):
        line = printed[place - 1]
        rows.append({"words": line["words"], "quantity": None, "unit": "", "amount": line["net"], "hours": ZERO})
    return rows


def _labour(invoice: Invoice) -> dict[str, Any]:
    """Hands-on time at wage and workshop: one row for all jobs of the invoice."""
    jobs = spent(dict.fromkeys(invoice.jobs.values_list("pk", flat=True), ())).values()
    cost = sum((job.labour + job.overhead for job in jobs), ZERO)
    hours = (sum((job.minutes for job in jobs), ZERO) / AN_HOUR).quantize(Decimal("0.01"))
    return {"words": "Labour and workshop", "quantity": None, "unit": "", "cost": cost, "hours": hours}
