"""Tax points as rows: written beside the paper that accounts for the tax, from what it froze."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date

from quotes.models import Invoice, Job, Payment, TaxPoint
from quotes.totals.taxing import Rows, added, points_of, some


def taxed_on_account(jobs: Iterable[Job]) -> Rows:
    """What is taxed already of the money on the accounts of these jobs, together."""
    return some(added(*TaxPoint.objects.on_account(jobs).values()))


def write_points(paper: Invoice | Payment) -> None:
    """The tax points of a paper that was just stored, as it froze them; those of a receipt are of its job."""
    frozen, own = paper.frozen, "invoice" if isinstance(paper, Invoice) else "payment"
    job = paper.job_id if isinstance(paper, Payment) else None
    TaxPoint.objects.bulk_create(
        TaxPoint(
            **{own: paper},
            job_id=point.job or job,
            day=date.fromisoformat(frozen["issued_on"]),
            cause=point.cause,
            tax_word=frozen["tax"]["word"],
            category=point.row.category,
            percent=point.row.percent,
            net=point.row.net,
            tax=point.row.tax,
            gross=point.row.gross,
        )
        for point in points_of(frozen)
    )
