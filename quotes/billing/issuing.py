"""Invoices: numbered and frozen at issue, in order and without gaps, in the order of EN 16931.

Idea: an invoice charges what was agreed, jobs together if they have one payer; deposits are prepaid and come off after
tax, and it accounts for the tax that they left. What an invoice says is never changed.
Invariant: a job has at most one invoice that stands. Locks: jobs or invoice first, the series last.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal

from quotes.bench import Charges, charges
from quotes.bench.job.charges import BY_HAND
from quotes.billing.content import about, lines_as_data, payment, prepaid
from quotes.billing.parts import House
from quotes.billing.rates import AGREED, IN_FORCE, in_words, rate_changes, rerated
from quotes.billing.tax_points import taxed_on_account, write_points
from quotes.models import Invoice, InvoiceLine, Job, Payment
from quotes.papers import invoice as invoice_paper
from quotes.papers import keeping
from quotes.totals import DocumentLine, Totals
from quotes.totals.taxing import SALE
from shop.business.numbering import next_number
from shop.models import Customer
from shop.platform.acts import SEES_MONEY, Refused, Signed, action


@action("invoice.issue", *SEES_MONEY)
def issue_invoice(*, jobs: Sequence[Job], signed: Signed, rates: str = "") -> Invoice:
    """The invoice of finished or stopped jobs of one payer, numbered, frozen and kept as PDF.

    Issued once: asking again for the same jobs gives the same invoice. `rates` says, where a rate is no longer that
    of the yes, whether it takes those "agreed" or those "in_force" by law. Raises Refused where that is not
    said, where the law wants a named buyer and there is none, for unfinished jobs, and when nothing is to be charged.
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
    lines: Sequence[tuple[Job | None, DocumentLine]] = [
        (job, line) for job, bill in bills.items() for line in bill.lines
    ]
    prices = _prices_of(bills)
    changes = rate_changes(jobs, signed.shop)
    if changes and rates not in (AGREED, IN_FORCE):
        raise Refused(f"{in_words(changes)}. Say which rates the invoice takes.", field="rates")
    if changes and rates == IN_FORCE:
        lines = rerated(lines, changes, taxed_on_account(jobs), prices_include_tax=prices.prices_include_tax)
    return write_invoice(
        House.of(signed.shop),
        jobs=jobs,
        buyer=buyer,
        whole=prices._replace(lines=tuple(line for _, line in lines)).totals(),
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
    cause: str = SALE,
) -> Invoice:
    """Number, freeze and keep an invoice of these lines, less the money already taken; inside the verb that charges.

    `cause` is the ground that its tax is accounted for on.
    """
    _check_may_issue(house, jobs, buyer, whole)
    whole = whole.with_prepaid(sum((each.settled for each in money), Decimal(0)))
    day = signed.day
    sequence, number = next_number("invoice", day=day)
    content = {
        **house.content(document="invoice", title=_title(house, buyer, whole), number=number, day=day, buyer=buyer),
        **about(jobs, buyer, done=cause == SALE),
        "lines": lines_as_data(lines, whole.line_amounts),
        "totals": whole.as_dict(),
        **prepaid(whole, money, taxed_on_account(jobs), cause),
        "terms": house.profile.terms,
        **payment(house, whole, day),
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


def _locked(jobs: Sequence[Job]) -> list[Job]:
    rows = Job.objects.filter(pk__in=[job.pk for job in jobs]).order_by("pk").select_for_update(of=("self",))
    return list(rows.select_related("takein__board", "takein__brought_by", "way__board__quote__payer"))


def _buyer(jobs: Sequence[Job]) -> Customer:
    payers = {job.way.board.quote.payer for job in jobs}
    if len(payers) > 1:
        raise Refused("These jobs are paid by different people; issue an invoice for each.")
    return payers.pop()


def _prices_of(bills: Mapping[Job, Charges]) -> Charges:
    """What the jobs have in common, without lines: whether prices include tax, and the currency."""
    alike = {(bill.prices_include_tax, bill.currency) for bill in bills.values()}
    if len(alike) > 1:
        raise Refused("These jobs were agreed with and without tax in their prices; issue an invoice for each.")
    return Charges((), *alike.pop())


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
    lacks = house.rules.lacks_of(
        whole.gross,
        trade=buyer.kind == "trade" or bool(buyer.tax_number.strip()),
        address=buyer.address,
        contact=buyer.phone or buyer.email,
    )
    if lacks == "address":
        raise Refused(f"An invoice to a business must carry its address: put it on {buyer.name}.", field="customer")
    if lacks == "contact":
        limit = house.rules.buyer_optional_up_to
        wanted = f"an address, a phone number or an email on {buyer.name}"
        raise Refused(f"Above {limit} an invoice must say how the buyer is reached: put {wanted}.", field="customer")


def _title(house: House, buyer: Customer, whole: Totals) -> str:
    simplified = house.rules.may_be_simplified(whole.gross) and (buyer.walk_in or not buyer.address.strip())
    return f"Simplified {house.rules.document_title.lower()}" if simplified else house.rules.document_title


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
