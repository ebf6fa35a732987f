"""Invoices and credit notes: numbered and frozen at issue, in order and without gaps, in the order of EN 16931.

Idea: an invoice charges what was agreed, jobs together if they have one payer; deposits are prepaid and come off after
tax. A credit note takes lines back at the rates they were invoiced with; what an invoice says is never changed.
Invariant: a job has at most one invoice that stands. Locks: jobs or invoice first, the series last.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from quotes.bench import Charges, charges
from quotes.bench.job.charges import BY_HAND
from quotes.billing.parts import House, rows_as_data, totals_from
from quotes.models import Invoice, InvoiceLine, Job, Payment
from quotes.papers import invoice as invoice_paper
from quotes.papers import keeping
from quotes.quoting import shop_day
from quotes.totals import DocumentLine, TaxRow, Totals, left_after, totals
from shop.business.numbering import next_number
from shop.models import Customer
from shop.platform.acts import SEES_MONEY, Refused, Signed, action

ONE = Decimal(1)


@action("invoice.issue", *SEES_MONEY)
def issue_invoice(*, jobs: Sequence[Job], signed: Signed) -> Invoice:
    """The invoice of finished or stopped jobs of one payer, numbered, frozen and kept as PDF.

    Issued once: asking again for the same jobs gives the same invoice. Raises Refused where the law wants a named buyer
    and there is none, for unfinished jobs, and when nothing is to be charged.
    """
    if not jobs:
        raise Refused("An invoice needs at least one job.")
    jobs = _locked(jobs)
    standing = list(Invoice.objects.standing().filter(jobs__in=jobs).distinct())
    if standing:
        if len(standing) == 1 and set(standing[0].jobs.all()) == set(jobs):
            return standing[0]
        raise Refused(f"Part of this is on invoice {standing[0].number} already; credit that one first.")
    buyer = _buyer(jobs)
    bills = {job: charges(job) for job in jobs}
    money = list(Payment.objects.on_account().filter(job__in=jobs).order_by("pk"))
    lines = [(job, line) for job, bill in bills.items() for line in bill.lines]
    return write_invoice(
        House.of(signed.shop),
        jobs=jobs,
        buyer=buyer,
        whole=_totals_of(bills),
        lines=lines,
        money=money,
        signed=signed,
    )


def write_invoice(
    house: House,
    *,
    jobs: Sequence[Job],
    buyer: Customer,
    whole: Totals,
    lines: Sequence[tuple[Job | None, DocumentLine]],
    money: Sequence[Payment],
    signed: Signed,
) -> Invoice:
    """Number, freeze and keep an invoice of these lines, less the money already taken; inside the verb that charges."""
    _check_may_issue(house, jobs, buyer, whole)
    whole = whole.with_prepaid(sum((each.settled for each in money), Decimal(0)))
    day = signed.day
    sequence, number = next_number("invoice", day=day)
    content = {
        **house.content(document="invoice", title=_title(house, buyer, whole), number=number, day=day, buyer=buyer),
        **_about(jobs, buyer),
        "lines": _lines_as_data(lines, whole.line_amounts),
        "totals": whole.as_dict(),
        **_prepaid(whole, money),
        "terms": house.profile.terms,
        **_payment(house, whole, day),
        "corrects": None,
        "reason": "",
    }
    return _store(
        Invoice(
            kind=Invoice.Kind.INVOICE,
            customer=buyer,
            series="invoice",
            sequence=sequence,
            number=number,
            issued_at=signed.at,
            issued_on=day,
            by=signed.by,
            frozen=content,
        ),
        whole,
        jobs=jobs,
        lines=dict(enumerate(lines, start=1)),
        signed=signed,
    )


def _payment(house: House, whole: Totals, day: date) -> dict[str, Any]:
    """By which day and how to pay; neither where nothing is left to pay.

    Source: EN 16931-1, rule BR-CO-25 (from memory): what is above zero to pay has its due day or its terms.
    """
    if whole.payable <= 0:
        return {"due_on": None, "payment_words": ""}
    due = day + timedelta(days=house.profile.payment_days)
    return {"due_on": due.isoformat(), "payment_words": house.profile.payment_words}


def _locked(jobs: Sequence[Job]) -> list[Job]:
    rows = Job.objects.filter(pk__in=[job.pk for job in jobs]).order_by("pk").select_for_update(of=("self",))
    return list(rows.select_related("takein__board", "takein__brought_by", "way__board__quote__payer"))


def _buyer(jobs: Sequence[Job]) -> Customer:
    payers = {job.way.board.quote.payer for job in jobs}
    if len(payers) > 1:
        raise Refused("These jobs are paid by different people; issue an invoice for each.")
    return payers.pop()


def _totals_of(bills: Mapping[Job, Charges]) -> Totals:
    alike = {(bill.prices_include_tax, bill.currency) for bill in bills.values()}
    if len(alike) > 1:
        raise Refused("These jobs were agreed with and without tax in their prices; issue an invoice for each.")
    return Charges(tuple(line for bill in bills.values() for line in bill.lines), *alike.pop()).totals()


def _check_may_issue(house: House, jobs: Sequence[Job], buyer: Customer, whole: Totals) -> None:
    for job in jobs:
        if job.on_the_bench:
            raise Refused(f"The work on tag {job.takein.tag} is not finished: make the release check first.")
    if lacking := house.profile.papers_lack:
        raise Refused(lacking)
    if whole.gross == 0:
        raise Refused("Nothing is charged for this work, so it needs no invoice.")
    if house.rules.needs_buyer(whole.gross) and (buyer.walk_in or not buyer.name.strip()):
        limit = house.rules.buyer_optional_up_to
        raise Refused(f"Above {limit} an invoice must name who buys: put the customer's name on it.", field="customer")


def _title(house: House, buyer: Customer, whole: Totals) -> str:
    simplified = house.rules.may_be_simplified(whole.gross) and (buyer.walk_in or not buyer.address.strip())
    return f"Simplified {house.rules.document_title.lower()}" if simplified else house.rules.document_title


def _about(jobs: Sequence[Job], buyer: Customer) -> dict[str, Any]:
    """The boards, when the work was done, and who brought them if that is not who pays."""
    brought = dict.fromkeys(job.takein.brought_by.name for job in jobs if job.takein.brought_by_id != buyer.pk)
    done = [shop_day(job.finished_at) for job in jobs if job.finished_at]
    return {
        "boards": [{"tag": job.takein.tag, "name": job.takein.board.name} for job in jobs],
        "brought_by": ", ".join(brought),
        "supplied_on": max(done).isoformat() if done else None,
    }


def _lines_as_data(
    lines: Sequence[tuple[Job | None, DocumentLine]], amounts: Sequence[Decimal]
) -> list[dict[str, Any]]:
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


def _prepaid(whole: Totals, money: Sequence[Payment]) -> dict[str, Any]:
    """The deposits, and where tax was due on them, what tax is left for this invoice: by difference, never anew."""
    taxed = [totals_from(each.frozen["advance"]) for each in money if each.frozen.get("advance")]
    left = left_after(whole, taxed) if taxed else ()
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
        "advance_tax": str(sum((each.tax for each in taxed), Decimal(0))) if taxed else None,
        "tax_left": rows_as_data(left),
    }


def _store(
    invoice: Invoice,
    whole: Totals,
    *,
    jobs: Sequence[Job],
    lines: Mapping[int, tuple[Job | None, DocumentLine]],
    signed: Signed,
) -> Invoice:
    """Keep a document with its totals, its paper and its lines by position."""
    for name in ("currency", "net", "tax", "gross", "prepaid", "rounding", "payable"):
        setattr(invoice, name, getattr(whole, name))
    word = invoice.get_kind_display()
    name = f"{word.replace(' ', '-')}-{invoice.number}.pdf"
    pdf = keeping.made(invoice_paper.pdf, invoice.frozen)
    invoice.document = keeping.keep(invoice.kind, name, pdf, signed=signed, content=invoice.frozen)
    invoice.save()
    invoice.jobs.set(jobs)
    InvoiceLine.objects.bulk_create(
        InvoiceLine(
            invoice=invoice,
            position=position,
            job=job,
            words=line.words[:400],
            quantity=line.quantity,
            unit=line.unit,
            unit_price=line.unit_price,
            amount=amount,
            tax_category=line.tax_category,
            tax_percent=line.tax_percent,
            by_hand=line.key == BY_HAND,
        )
        for (position, (job, line)), amount in zip(lines.items(), whole.line_amounts, strict=True)
    )
    signed.record(invoice, f"Issued {word} {invoice.number}")
    return invoice


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
    and the job may be invoiced anew. Raises Refused.
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
        "lines": _lines_as_data(list(lines.values()), whole.line_amounts),
        "totals": whole.as_dict(),
        "prepaid": [],
        "advance_tax": None,
        "tax_left": [],
        "terms": "",
        "due_on": None,
        "payment_words": "",
        "corrects": {"number": invoice.number, "issued_on": invoice.issued_on.isoformat()},
        "reason": reason.strip()[:400],
    }
    note = _store(
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
    made = totals(lines, currency=first.currency, prices_include_tax=first.prices_include_tax, tie=house.rules.tie)
    if not all_of_it:
        return made
    reversed_rows = [totals_from(note.frozen["totals"]) for note in earlier]
    negative = [replace(each, tax_rows=tuple(_negated(row) for row in each.tax_rows)) for each in reversed_rows]
    return replace(made, tax_rows=tuple(_negated(row) for row in left_after(first, negative)))


def _negated(row: TaxRow) -> TaxRow:
    return replace(row, net=-row.net + 0, tax=-row.tax + 0, gross=-row.gross + 0)
