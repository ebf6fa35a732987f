"""The only door to WeasyPrint: a template and its context become PDF bytes.

Nothing is fetched: a paper holds its own style and inline drawings, pictures come as data. Any address other than
`data:` is an error, as is anything WeasyPrint complains about, so that no paper goes out half drawn.
"""

from __future__ import annotations

import base64
import hashlib
import logging
from typing import Any

from django.template.loader import render_to_string


class PaperProblem(RuntimeError):
    """The paper could not be set as its template says."""


class _Complaints(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.words: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.words.append(record.getMessage())


def render(template: str, context: dict[str, Any], *, tagged: bool = True) -> bytes:
    """The PDF bytes of a paper. Raises PaperProblem with WeasyPrint's words if anything was not set as written."""
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    html = render_to_string(template, context)
    complaints = _Complaints()
    logger = logging.getLogger("weasyprint")
    logger.addHandler(complaints)
    try:
        pdf: bytes = HTML(
            string=html, url_fetcher=URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
        ).write_pdf(pdf_variant="pdf/ua-1" if tagged else None)
    finally:
        logger.removeHandler(complaints)
    if complaints.words:
        raise PaperProblem(f"{template}: " + "; ".join(complaints.words))
    return pdf


def fingerprint(pdf: bytes) -> str:
    """SHA-256 of the bytes, kept beside an issued paper and proven by `check_books`."""
    return hashlib.sha256(pdf).hexdigest()


def picture(data: bytes, mime: str = "image/jpeg") -> str:
    """A picture as a data address, for use inside a paper."""
    return f"data:{mime};base64,{base64.b64encode(data).decode()}"
