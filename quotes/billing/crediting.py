"""Credit notes: what of an invoice was wrong is taken back at the rates it was invoiced with, in a series of their own.

Invariant: an invoice that is credited altogether accounts for no tax any more; the tax of deposits that are still held
stays accounted for. Locks: the invoice first, the series last.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django.db.models import Q

from quotes.billing.content import accounted, lines_as_data
from quotes.billing.issuing import store
from quotes.billing.parts import House, totals_from
from quotes.models import Invoice, InvoiceLine, Payment, TaxPoint
from quotes.totals import DocumentLine, Totals, left_after, totals
from quotes.totals.taxing import BACK, CREDIT, OF_INVOICES, Point, Rows, added, less, negated, no_longer_held, tax_of
from shop.business.numbering import next_number
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

ZERO, ONE = Decimal(0), Decimal(1)


@action("invoice.credit", *SEES_MONEY)
def credit_invoice(
    *,
    invoice: Invoice,
    reason: str,
    signed: Signed,
    amounts: Mapping[int, Decimal] | None = None,
) -> Invoice:
    """A credit note: all that is left of an invoice, or an amount of some lines by their position, as prices are there.

    It has the reason and the rates of the invoice. Once all is credited, what was paid lies on the job's account again
    and the job may be invoiced anew; the tax of a deposit that is still held stays accounted for. Raises Refused.
    """
    if not reason.strip():
        raise Refused("Reason is empty; say what was wrong, like wrong customer on it.", field="reason")
    invoice = Invoice.objects.select_for_update().get(pk=invoice.pk)
    if invoice.kind != Invoice.Kind.INVOICE:
        raise Refused("A credit note is not credited again; issue a new invoice instead.")
    house, earlier = House.of(signed.shop), list(invoice.corrections.order_by("pk"))
    left = left_of_lines(invoice)
    wanted = {place: amount for place, amount in left.items() if amount} if amounts is None else dict(amounts)
    _check_credit(wanted, left)
    rows = {row.position: row for row in invoice.lines.select_related("job")}
    lines = {place: (rows[place].job, _credited(rows[place], amount)) for place, amount in sorted(wanted.items())}
    all_of_it = all(amount == wanted.get(place, Decimal(0)) for place, amount in left.items())
    whole = _credit_totals(invoice, earlier, [line for _, line in lines.values()], house, all_of_it)
    day = signed.day
    sequence, number = next_number("credit", day=day)
    content = {
        **house.content(
            document="credit", title=house.rules.credit_title, number=number, day=day, buyer=invoice.customer
        ),
        **{name: invoice.frozen[name] for name in ("boards", "brought_by", "supplied_on", "buyer", "tax", "currency")},
        "lines": lines_as_data(list(lines.values()), whole.line_amounts),
        "totals": whole.as_dict(),
        "prepaid": [],
        **_points(invoice, whole, house, all_of_it),
        "terms": "",
        "due_on": None,
        "payment_words": "",
        "corrects": {"number": invoice.number, "issued_on": invoice.issued_on.isoformat()},
        "reason": reason.strip()[:400],
    }
    note = store(
        Invoice(
            kind=Invoice.Kind.CREDIT,
            customer=invoice.customer,
            series="credit",
            sequence=sequence,
            number=number,
            issued_at=signed.at,
            issued_on=day,
            by=signed.by,
            corrects=invoice,
            frozen=content,
        ),
        whole,
        jobs=list(invoice.jobs.all()),
        lines=lines,
        signed=signed,
    )
    if all_of_it and invoice.jobs.exists():  # what was sold without a job is paid back on its invoice
        invoice.payments.update(invoice=None)
    return note


def _points(invoice: Invoice, whole: Totals, house: House, all_of_it: bool) -> dict[str, Any]:
    """What a credit note accounts for: its own tax; of the rest, all that the invoice and its notes still account for.

    Then the deposits are the jobs' again, with their tax; that of what was paid back of them since is taken back.
    """
    currency = invoice.currency
    if not all_of_it:
        points = [Point(CREDIT, row) for row in whole.tax_rows]
        return {**accounted((), None, currency), "tax_points": [point.as_dict(currency) for point in points]}
    jobs = list(invoice.jobs.order_by("pk"))
    taxed = TaxPoint.objects.on_account(jobs)
    held = Payment.objects.filter(Q(invoice=None) | Q(invoice=invoice), job__in=jobs).by("job")
    gone = {pk: no_longer_held(rows, held.get(pk, ZERO), currency, house.rules.tie) for pk, rows in taxed.items()}
    points = [Point(CREDIT, row) for row in negated(_accounted_for(invoice, whole.tax_rows))]
    points += [Point(BACK, row, pk) for pk, rows in gone.items() for row in negated(rows)]
    deposits = added(*taxed.values())
    stays = tax_of(less(deposits, added(*gone.values()))) if deposits else None
    own = negated(added(point.row for point in points))
    return {**accounted(own, stays, currency), "tax_points": [point.as_dict(currency) for point in points]}


def _accounted_for(invoice: Invoice, printed: Rows) -> Rows:
    """What an invoice and its credit notes account for, with a row at each rate that is printed."""
    of_it = TaxPoint.objects.filter(Q(invoice=invoice) | Q(invoice__corrects=invoice), cause__in=OF_INVOICES)
    return added(of_it.rows(), less(printed, printed))


def left_of_lines(invoice: Invoice) -> dict[int, Decimal]:
    """What of each line, by position, is not credited yet."""
    left = dict(invoice.lines.values_list("position", "amount"))
    credited = InvoiceLine.objects.filter(invoice__corrects=invoice)
    for position, amount in credited.values_list("position", "amount"):
        left[position] += amount
    return left


def _check_credit(wanted: Mapping[int, Decimal], left: Mapping[int, Decimal]) -> None:
    if not wanted:
        raise Refused("All of this invoice is credited already.")
    for place, amount in wanted.items():
        if place not in left:
            raise Refused(f"The invoice has no line {place}.")
        if not 0 < amount <= left[place]:
            raise Refused(f"Line {place} can be credited by up to {left[place]:.2f}.", field=f"amounts.{place}")


def _credited(row: InvoiceLine, amount: Decimal) -> DocumentLine:
    return DocumentLine(row.words, -ONE, amount, row.tax_category, row.tax_percent)


def _credit_totals(
    invoice: Invoice, earlier: Sequence[Invoice], lines: Sequence[DocumentLine], house: House, all_of_it: bool
) -> Totals:
    """Totals of a credit note; one that credits the rest takes its tax by difference, so that nothing is left over."""
    first = totals_from(invoice.frozen["totals"])
    tie = first.tie if "tie" in invoice.frozen["totals"] else house.rules.tie
    made = totals(
        lines, currency=first.currency, prices_include_tax=first.prices_include_tax, tie=tie, tax_per=first.tax_per
    )
    if not all_of_it:
        return made
    reversed_rows = [totals_from(note.frozen["totals"]) for note in earlier]
    negative = [replace(each, tax_rows=negated(each.tax_rows)) for each in reversed_rows]
    return replace(made, tax_rows=negated(left_after(first, negative)))
