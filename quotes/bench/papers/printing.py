"""The job sheet as it was printed: kept, so that what is written on it later can be compared with what it said."""

from __future__ import annotations

from quotes.bench.papers import job_sheet
from quotes.models import Document, Job, JobSheet
from quotes.papers import keeping
from shop.platform.acts import EVERY_ROLE, Signed, action


@action("job.print_sheet", *EVERY_ROLE)
def print_sheet(*, job: Job, signed: Signed) -> Document:
    """The job sheet as the job stands now, printed and kept. Raises Refused where the paper cannot be set."""
    pdf = keeping.made(job_sheet.pdf, job, at=signed.at)
    document = keeping.keep("job sheet", f"job-sheet-{job.takein.tag}.pdf", pdf, signed=signed)
    JobSheet.objects.create(job=job, document=document)
    signed.record(job, f"Printed the job sheet of {job.takein.tag}")
    return document
