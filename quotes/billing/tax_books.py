"""Is the tax right? Every tax point held against its paper, every chain of papers against what stands.

Chains of papers from before tax points were kept may be wrong for good: those are said to the keeper, not as a fault.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from decimal import Decimal

from quotes.models import Invoice, Job, Payment, TaxPoint
from quotes.totals import TaxRow
from quotes.totals.taxing import OF_INVOICES, ON_ACCOUNT, Rows, added, gross_of, less, points_of, rows_from, some

ZERO = Decimal(0)


class TaxBook:
    """Every tax point there is, read in one query, by the paper and by the job it is of."""

    def __init__(self) -> None:
        """Read all tax points."""
        self.of_invoice: dict[int, list[TaxPoint]] = defaultdict(list)
        self.of_payment: dict[int, list[TaxPoint]] = defaultdict(list)
        self.of_job: dict[int, list[TaxPoint]] = defaultdict(list)
        for point in TaxPoint.objects.all():
            if point.invoice_id:
                self.of_invoice[point.invoice_id].append(point)
            if point.payment_id:
                self.of_payment[point.payment_id].append(point)
            if point.job_id and point.cause in ON_ACCOUNT:
                self.of_job[point.job_id].append(point)


def wrong_points(book: TaxBook) -> Iterator[str]:
    """Sentences for papers whose tax points are not what they say they account for."""
    for paper in Invoice.objects.only("kind", "number", "issued_on", "frozen").order_by("pk"):
        yield from _held_against(str(paper), paper, book.of_invoice[paper.pk])
    for receipt in Payment.objects.only("number", "frozen").order_by("pk"):
        yield from _held_against(f"Receipt {receipt.number}", receipt, book.of_payment[receipt.pk])


def _held_against(name: str, paper: Invoice | Payment, points: Iterable[TaxPoint]) -> Iterator[str]:
    frozen = paper.frozen
    said = sorted((point.cause, *_key(point.row), *_amounts(point.row)) for point in points_of(frozen))
    kept = sorted((point.cause, *_key(point.row), *_amounts(point.row)) for point in points)
    if said != kept:
        yield f"{name}: its tax points are kept as other amounts than it accounts for."
    if any(point.day.isoformat() != frozen["issued_on"] for point in points):
        yield f"{name}: its tax points are kept on another day than it was issued."


def _key(row: TaxRow) -> tuple[str, Decimal]:
    return row.category, row.percent.normalize()


def _amounts(row: TaxRow) -> tuple[Decimal, Decimal, Decimal]:
    return row.net, row.tax, row.gross


def wrong_chains(book: TaxBook, *, old: bool) -> Iterator[str]:
    """Sentences for chains of papers whose tax does not come to what stands.

    `old`: those with a paper from before tax points were kept; else those without one.
    """
    standing = {invoice.pk: invoice for invoice in Invoice.objects.standing().prefetch_related("jobs")}
    invoices = Invoice.objects.filter(kind=Invoice.Kind.INVOICE).order_by("pk")
    for invoice in invoices.prefetch_related("corrections"):
        papers = [invoice, *invoice.corrections.all()]
        stands = standing.get(invoice.pk)
        deposits = [point for job in stands.jobs.all() for point in book.of_job[job.pk]] if stands else []
        own = [point for paper in papers for point in book.of_invoice[paper.pk] if point.cause in OF_INVOICES]
        if any(point.derived for point in (*own, *deposits)) == old:
            yield from _wrong_chain(invoice, papers if stands else [], own, deposits)
    yield from _wrong_accounts(book, {job.pk for invoice in standing.values() for job in invoice.jobs.all()}, old=old)


def _wrong_chain(
    invoice: Invoice, stands: Iterable[Invoice], own: Iterable[TaxPoint], deposits: Iterable[TaxPoint]
) -> Iterator[str]:
    printed = added(*(rows_from(paper.frozen["totals"]["tax_rows"]) for paper in stands))
    kept = added(_rows(own), _rows(deposits))
    for row in some(less(kept, printed)):
        much = f"{abs(row.tax or row.net):.2f} too {'much' if (row.tax or row.net) > 0 else 'little'}"
        what = _word(invoice) if row.tax else "turnover"
        yield f"{invoice}, with its deposits and credit notes, accounts for {much} {what} at {_said(row)} %."


def _wrong_accounts(book: TaxBook, invoiced: set[int], *, old: bool) -> Iterator[str]:
    """Money on the account of jobs without an invoice: no more of it is taxed than is held."""
    held = Payment.objects.on_account().by("job")
    wrong: dict[int, str] = {}
    for job, points in book.of_job.items():
        taxed = _rows(points)
        if job in invoiced or any(point.derived for point in points) != old:
            continue
        has = max(held.get(job, ZERO), ZERO)
        if gross_of(taxed) > has:
            wrong[job] = f"tax stands for {gross_of(taxed):.2f} of deposits, and {has:.2f} is held"
        elif any(amount < 0 for each in taxed for amount in _amounts(each)):
            wrong[job] = "more tax of deposits was taken back than was accounted for"
    for row in Job.objects.filter(pk__in=wrong).select_related("takein").order_by("pk"):
        yield f"{row}: {wrong[row.pk]}."


def _rows(points: Iterable[TaxPoint]) -> Rows:
    return some(added(point.row for point in points))


def _word(invoice: Invoice) -> str:
    return str(invoice.frozen["tax"]["word"]) or "tax"


def _said(row: TaxRow) -> str:
    return f"{row.percent.normalize():f}"
