"""The job sheet as it was printed: kept, so that what is written on it later can be compared with what it said."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from quotes.models import Document, Job, JobSheet
from shop.models import User
from shop.papers.paper import fingerprint
from shop.platform.acts import EVERY_ROLE, may, verb
from shop.platform.journal import record


@verb
def print_sheet(*, job: Job, by: User, at: datetime, paper: Callable[..., bytes]) -> Document:
    """Print the job sheet as the job stands now; `paper(job, at=at)` makes its PDF. Returns the kept document."""
    may(by, *EVERY_ROLE)
    pdf = paper(job, at=at)
    name = f"job-sheet-{job.takein.tag}.pdf"
    document = Document.objects.create(kind="job sheet", name=name, pdf=pdf, sha256=fingerprint(pdf), made_at=at, by=by)
    JobSheet.objects.create(job=job, document=document)
    record(by=by, verb="print job sheet", row=job, words=f"Printed the job sheet of {job.takein.tag}", at=at)
    return document
