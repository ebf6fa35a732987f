"""Do the papers add up? Every number, total, hash and balance of what was given out, recomputed from rows.

Beside it `inventory.stock.books` recomputes the shelf; here the cost of what jobs used is held against its movements.
Invariant: each document's totals are those of its own lines, its bytes are those that were kept, no number is missing.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from decimal import Decimal
from typing import Any

from inventory.models import Movement, MovementKind
from quotes.billing.parts import totals_from
from quotes.billing.tax_books import TaxBook, wrong_chains, wrong_points
from quotes.models import Document, Invoice, InvoiceLine, Job, Payment, Quote, StepUse, TaxPoint, Way
from quotes.totals import DocumentLine, Totals, left_after, totals
from quotes.totals.taxing import negated
from shop.measures.money import Tie
from shop.models import Customer, NumberSeries
from shop.papers.paper import fingerprint

ZERO = Decimal(0)
TIES: tuple[Tie, ...] = ("half_up", "half_down")
MONEY = ("net", "tax", "gross", "prepaid", "rounding", "payable")


def problems() -> list[str]:
    """Sentences for all that does not add up; an empty list means that the papers balance."""
    papers = [*_hashes(), *_invoices(), *_payments(), *_paid_back(), *_tax()]
    return [*papers, *_quotes(), *_series(), *_uses(), *_goods()]


def old_mistakes() -> list[str]:
    """Sentences for chains of papers from before tax points were kept whose tax is wrong; what is issued stays."""
    return list(wrong_chains(TaxBook(), old=True)) if TaxPoint.objects.filter(derived=True).exists() else []


def _tax() -> Iterator[str]:
    book = TaxBook()
    yield from wrong_points(book)
    yield from wrong_chains(book, old=False)


def _hashes() -> Iterator[str]:
    for document in Document.objects.only("name", "pdf", "sha256").iterator(chunk_size=50):
        if fingerprint(bytes(document.pdf)) != document.sha256:
            yield f"{document.name} is not the paper that was given out: its bytes have another hash."


def _ties(frozen: Mapping[str, Any]) -> tuple[Tie, ...]:
    """What may have become of a half cent: as the totals say, or either where they are from before they said it."""
    return (frozen["tie"],) if "tie" in frozen else TIES


def _invoices() -> Iterator[str]:
    invoices = Invoice.objects.with_balance().select_related("document", "corrects").defer("document__pdf")
    for invoice in invoices.prefetch_related("lines").order_by("pk"):
        yield from _one_invoice(invoice)


def _one_invoice(invoice: Invoice) -> Iterator[str]:
    frozen = totals_from(invoice.frozen["totals"])
    by_tie = [_remade(invoice, frozen, tie) for tie in _ties(invoice.frozen["totals"])]
    made = next((each for each in by_tie if each.tax_rows == frozen.tax_rows), by_tie[0])
    for name in MONEY:
        kept, worked, printed = getattr(invoice, name), getattr(made, name), getattr(frozen, name)
        if not kept == worked == printed:
            yield f"{invoice}: {name} is kept as {kept}, printed as {printed}, and its lines come to {worked}."
    if made.line_amounts != tuple(line.amount for line in invoice.lines.all()):
        yield f"{invoice}: its lines are kept as other amounts than quantity times price gives."
    if invoice.document.content != invoice.frozen:
        yield f"{invoice}: what the row froze is not what the paper was made from."
    deposits = sum((Decimal(paid["amount"]) for paid in invoice.frozen["prepaid"]), ZERO)
    if deposits != invoice.prepaid:
        yield f"{invoice}: the deposits named on it come to {deposits}, not the {invoice.prepaid} taken off."
    if invoice.kind == Invoice.Kind.INVOICE and invoice.standing < 0:
        yield f"{invoice}: more was credited than it came to."
    if invoice.left < 0 and not invoice.credited and invoice.payable >= 0:
        yield f"{invoice} is paid {-invoice.left} more than it asks for."


def _remade(invoice: Invoice, frozen: Totals, tie: Tie) -> Totals:
    """The totals from the rows of lines; a credit of all that was left takes its tax by difference."""
    rows = [
        DocumentLine(line.words, line.quantity, line.unit_price, line.tax_category, line.tax_percent, unit=line.unit)
        for line in invoice.lines.all()
    ]
    made = totals(
        rows,
        currency=invoice.currency,
        prices_include_tax=frozen.prices_include_tax,
        tie=tie,
        tax_per=frozen.tax_per,
        prepaid=invoice.prepaid,
        rounding=invoice.rounding,
    )
    first = invoice.corrects
    if first is None:
        return made
    notes = list(first.corrections.order_by("pk"))
    if invoice.pk != notes[-1].pk or sum((note.gross for note in notes), first.gross) != 0:
        return made
    before = [totals_from(note.frozen["totals"]) for note in notes[:-1]]
    negative = [replace(each, tax_rows=negated(each.tax_rows)) for each in before]
    return replace(made, tax_rows=negated(left_after(totals_from(first.frozen["totals"]), negative)))


def _payments() -> Iterator[str]:
    for payment in Payment.objects.select_related("document").defer("document__pdf"):
        said = Decimal(payment.frozen["amount"])
        if abs(payment.amount) != said:
            yield f"Receipt {payment.number}: its amount is kept as {abs(payment.amount)}, printed as {said}."
        if payment.rounding != Decimal(payment.frozen.get("rounding", "0")):
            yield f"Receipt {payment.number}: its cash rounding is kept as {payment.rounding}, not as it was printed."
        if payment.document is None:
            yield f"Receipt {payment.number} has no paper."
        elif payment.document.content != payment.frozen:
            yield f"Receipt {payment.number}: what the row froze is not what the paper was made from."


def _paid_back() -> Iterator[str]:
    """No more money was paid back than was taken: from a customer, on an invoice, for a job.

    What an invoice holds are the payments on it and the deposits it took off. Jobs that were ever on one invoice count
    as one: money taken for all of them is given back on whichever held most.
    """
    every, names = Payment.objects.all(), dict(Customer.objects.values_list("pk", "name"))
    for customer, held in every.by("customer").items():
        if held < 0:
            yield f"{names[customer]}: {-held:.2f} more was paid back than was ever taken."
    paid = every.by("invoice")
    for invoice in Invoice.objects.filter(pk__in=[pk for pk, held in paid.items() if pk and held < 0]):
        over = -paid[invoice.pk] - (invoice.prepaid if invoice.kind == Invoice.Kind.INVOICE else ZERO)
        if over > 0:
            yield f"{invoice}: {over:.2f} more was paid back on it than was taken."
    by_job, together = every.exclude(job=None).by("job"), _billed_together()
    held_by: dict[int, Decimal] = {}
    for job, held in by_job.items():
        first = together.get(job, job)
        held_by[first] = held_by.get(first, ZERO) + held
    over_jobs = {pk: -held for pk, held in held_by.items() if held < 0}
    for row in Job.objects.filter(pk__in=over_jobs).select_related("takein"):
        yield f"{row}: {over_jobs[row.pk]:.2f} more was paid back for it than was taken."


def _billed_together() -> dict[int, int]:
    """For each job that was ever invoiced, the first of those it was invoiced with, at once or one after the other."""
    first: dict[int, int] = {}

    def root(job: int) -> int:
        while first.setdefault(job, job) != job:
            job = first[job]
        return job

    on: dict[int, int] = {}
    for invoice, job in Invoice.jobs.through.objects.order_by("invoice", "job").values_list("invoice", "job"):
        first[root(job)] = root(on.setdefault(invoice, job))
    return {job: root(job) for job in list(first)}


def _quotes() -> Iterator[str]:
    """Prices of quotes that were given out are the totals of their own lines."""
    sent = Quote.objects.exclude(sent_at=None)
    for quote in sent.filter(document=None):
        yield f"{quote} was sent without its paper being kept."
    for way in Way.objects.filter(board__quote__in=sent).exclude(net=None).select_related("board__quote"):
        document = totals_from(way.totals["document"])
        rows = [
            DocumentLine(
                line["words"], Decimal(1), Decimal(line["price"]), line["tax_category"], Decimal(line["tax_percent"])
            )
            for line in way.totals["lines"]
        ]
        by_tie = [
            totals(rows, currency=document.currency, prices_include_tax=document.prices_include_tax, tie=tie)
            for tie in _ties(way.totals["document"])
        ]
        made = next((each for each in by_tie if each.tax_rows == document.tax_rows), by_tie[0])
        for name in ("net", "tax", "gross"):
            kept, worked, frozen = getattr(way, name), getattr(made, name), getattr(document, name)
            if not kept == worked == frozen:
                yield f"{way.board.quote}, {way}: {name} is kept as {kept}, worked out {frozen}, its lines make {worked}."


def _series() -> Iterator[str]:
    """Numbers follow each other from the first to the next one to be given."""
    given = {
        "quote": Quote.objects.exclude(sequence=None).values_list("sequence", flat=True),
        "invoice": Invoice.objects.filter(series="invoice").values_list("sequence", flat=True),
        "credit": Invoice.objects.filter(series="credit").values_list("sequence", flat=True),
        "receipt": Payment.objects.values_list("sequence", flat=True),
    }
    following = dict(NumberSeries.objects.values_list("key", "next_number"))
    for key, sequences in given.items():
        numbers = sorted({number for number in sequences if number is not None})
        if not numbers:
            continue
        missing = sorted(set(range(numbers[0], numbers[-1] + 1)) - set(numbers))
        if missing:
            yield f"The {key} series has gaps: {', '.join(map(str, missing[:10]))}."
        if following.get(key) != numbers[-1] + 1:
            yield f"The {key} series would go on with {following.get(key)} after {numbers[-1]}."


def _uses() -> Iterator[str]:
    """What a job's use cost is what its movements took out of stock."""
    counted = [MovementKind.USE, MovementKind.RETURN]
    uses = StepUse.objects.select_related("material", "step__job__takein").prefetch_related("movements")
    values = dict(
        Movement.objects.not_undone().filter(kind__in=counted, step_uses__isnull=False).values_list("pk", "value")
    )
    for use in uses.order_by("pk"):
        moved = list(use.movements.all())
        cost = -sum((values.get(movement.pk, ZERO) for movement in moved), ZERO)
        name = f"{use.material.name} on {use.step.job.takein.tag}"
        if use.undone_at is not None:
            if cost:
                yield f"{name} was undone, but its stock is still out."
        elif cost != use.cost:
            yield f"{name} is kept at a cost of {use.cost}, its movements make {cost}."
        elif not use.customers_own and -sum((movement.quantity for movement in moved), ZERO) != use.used:
            yield f"{name} is kept as {use.used} {use.material.unit}, its movements make something else."


def _goods() -> Iterator[str]:
    """What an invoice sold off the shelf is off it as long as its line stands."""
    lines = InvoiceLine.objects.standing().filter(movements__isnull=False).select_related("invoice")
    for line in lines.prefetch_related("movements__reversed_by").order_by("pk"):
        out = -sum((one.quantity for one in line.movements.all() if not hasattr(one, "reversed_by")), ZERO)
        if out != line.quantity:
            yield f"{line.invoice}: {line.quantity.normalize():f} of {line.words} were sold, but {out} are off the shelf."
