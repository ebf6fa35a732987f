"""Invoices: numbered and frozen at issue, in order and without gaps, in the order of EN 16931.

Idea: an invoice charges what was agreed, jobs together if they have one payer; deposits are prepaid and come off after
tax, and it accounts for the tax that they left. What an invoice says is never changed.
Invariant: a job has at most one invoice that stands. Locks: jobs or invoice first, the series last.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from quotes.bench import Charges, charges
from quotes.bench.job.charges import BY_HAND
from quotes.billing.parts import House
from quotes.billing.tax_points import taxed_on_account, write_points
from quotes.models import Invoice, InvoiceLine, Job, Payment
from quotes.papers import invoice as invoice_paper
from quotes.papers import keeping
from quotes.quoting import shop_day
from quotes.totals import DocumentLine, Totals
from quotes.totals.taxing import SALE, Point, Rows, less, rows_as_data, said, tax_of
from shop.business.numbering import next_number
from shop.models import Customer
from shop.platform.acts import SEES_MONEY, Refused, Signed, action


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
        "lines": lines_as_data(lines, whole.line_amounts),
        "totals": whole.as_dict(),
        **_prepaid(whole, money, taxed_on_account(jobs)),
        "terms": house.profile.terms,
        **_payment(house, whole, day),
        "corrects": None,
        "reason": "",
    }
    return store(
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


def _prepaid(whole: Totals, money: Sequence[Payment], taxed: Rows) -> dict[str, Any]:
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
        "tax_points": [Point(SALE, row).as_dict(whole.currency) for row in left],
    }


def accounted(rows: Rows, deposits: Decimal | None, currency: str) -> dict[str, Any]:
    """What a paper says where deposits are taxed: how much tax is theirs, and what it accounts for itself."""
    if deposits is None:
        return {"advance_tax": None, "tax_left": []}
    return {"advance_tax": said(deposits, currency), "tax_left": rows_as_data(rows, currency)}


def store(
    invoice: Invoice,
    whole: Totals,
    *,
    jobs: Sequence[Job],
    lines: Mapping[int, tuple[Job | None, DocumentLine]],
    signed: Signed,
) -> Invoice:
    """An invoice or credit note kept with its totals, its paper, its tax points and its lines by position."""
    for name in ("currency", "net", "tax", "gross", "prepaid", "rounding", "payable"):
        setattr(invoice, name, getattr(whole, name))
    word = invoice.get_kind_display()
    name = f"{word.replace(' ', '-')}-{invoice.number}.pdf"
    pdf = keeping.made(invoice_paper.pdf, invoice.frozen)
    invoice.document = keeping.keep(invoice.kind, name, pdf, signed=signed, content=invoice.frozen)
    invoice.save()
    write_points(invoice)
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
