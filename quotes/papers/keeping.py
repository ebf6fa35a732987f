"""Papers as they were given out: their bytes, the hash that `check_books` proves, and what they were made from."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from quotes.models import Document
from shop.papers.paper import PaperProblem, fingerprint
from shop.platform.acts import Refused, Signed


def made(setter: Callable[..., bytes], *args: Any, **kwargs: Any) -> bytes:
    """The bytes of a paper. Raises Refused with its sentence where it cannot be set, so that nothing is numbered."""
    try:
        return setter(*args, **kwargs)
    except PaperProblem as problem:
        raise Refused(problem.sentence) from problem


def keep(kind: str, name: str, pdf: bytes, *, signed: Signed, content: Mapping[str, Any] | None = None) -> Document:
    """A paper that is given out, kept with its hash and with the content that it was set from, if it has any."""
    frozen = {"content": dict(content)} if content is not None else {}
    return Document.objects.create(
        kind=kind, name=name, pdf=pdf, sha256=fingerprint(pdf), made_at=signed.at, by=signed.by, **frozen
    )
