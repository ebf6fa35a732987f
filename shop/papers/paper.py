"""The only door to WeasyPrint: a template and its context become PDF bytes.

Nothing is fetched: a paper holds its own style and inline drawings, pictures come as data. Any address other than
`data:` is an error, as is anything WeasyPrint complains about, so that no paper goes out half drawn. A picture letter
that no font here has is written out by its name, [surfer]; letters of a script without a font stand as empty boxes, for
a board must not wait for a font, and whoever `hears` is told which and what to install.
"""

from __future__ import annotations

import base64
import hashlib
import logging
import re
import threading
import unicodedata
from bisect import bisect_left
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from django.http import HttpResponse
from django.template.loader import render_to_string

from shop.models import Profile
from shop.text.writing import isolated

NO_GLYPH = re.compile(r"^\.notdef glyph rendered for Unicode string unsupported by fonts: \"(.*)\" \(", re.DOTALL)
PICTURE = ("So", "Sk", "Cf", "Cn", "Co")  # Unicode categories of emoji, their skin tones and joiners
UNSEEN = ("Cc", "Zl", "Zp")  # control characters and Unicode's own line ends, kept from before they were left out
EAST_ASIAN = ("CJK", "HIRAGANA", "KATAKANA", "HANGUL", "BOPOMOFO", "IDEOGRAPHIC", "FULLWIDTH", "HALFWIDTH")

ROLL_HEIGHTS_MM = range(60, 401, 10)  # how long a piece of a till roll may be; our own choice

_log = logging.getLogger(__name__)
_told: ContextVar[list[str] | None] = ContextVar("told", default=None)


class PaperProblem(RuntimeError):
    """The paper could not be set as its template says. `sentence` is for the person, where there is one to be said."""

    def __init__(self, words: str, sentence: str = "This paper could not be made; the log says why.") -> None:
        super().__init__(words)
        self.sentence = sentence


class _Complaints(logging.Handler):
    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.words: list[str] = []

    def emit(self, record: logging.LogRecord) -> None:
        self.words.append(record.getMessage())


_press = threading.Lock()  # one paper at a time, so that each hears only its own complaints


@contextmanager
def _complaints_of(logger: logging.Logger) -> Iterator[list[str]]:
    """What the logger says meanwhile, instead of into the log."""
    complaints = _Complaints()
    logger.addHandler(complaints)
    passing_on, logger.propagate = logger.propagate, False
    try:
        yield complaints.words
    finally:
        logger.removeHandler(complaints)
        logger.propagate = passing_on


def letterhead(shop: Profile) -> dict[str, str]:
    """The shop at the head of a paper that is about no tax: its name and how to reach it, without its tax number."""
    return {name: getattr(shop, name) for name in ("name", "address", "phone", "email", "website")}


def plain_head(shop: Profile, name: str, *lines: str) -> dict[str, Any]:
    """What `papers/base.html` asks for, of a paper that is about no tax.

    `name` and `lines` in its head and its foot.
    """
    return {
        "paper": shop.paper,
        "lang": "en",
        "locale": shop.locale,
        "currency": shop.currency,
        "seller": letterhead(shop),
        "document_name": name,
        "document_lines": lines,
        "foot_words": f"{', '.join([name, *lines])} · {shop.name}",
    }


def render(template: str, context: dict[str, Any], *, tagged: bool = True) -> bytes:
    """The PDF bytes of a paper, letters without a font as empty boxes.

    Raises PaperProblem with WeasyPrint's words if anything else was not set as written.
    """
    html = isolated(render_to_string(template, context))
    pdf, complaints = _set(html, tagged)
    named = {ord(letter): _named(letter) for letter in _lacking(complaints) if _is_named(letter)}
    if named:
        pdf, complaints = _set(html.translate(named), tagged)
    lacking = _lacking(complaints)
    if lacking:
        _tell(template, lacking)
    complaints = [words for words in complaints if not NO_GLYPH.match(words)]
    if complaints:
        raise PaperProblem(f"{template}: " + "; ".join(complaints))
    return pdf


def render_on_roll(template: str, context: dict[str, Any]) -> bytes:
    """The PDF bytes of a paper on a till roll, cut a little below its end; on further pieces beyond 40 cm.

    Raises PaperProblem as `render` does.
    """
    context = {**context, "paper": "roll"}

    def fits(height: int) -> bool:
        return _pages_of(isolated(render_to_string(template, {**context, "roll_mm": height}))) == 1

    at = bisect_left(ROLL_HEIGHTS_MM, True, hi=len(ROLL_HEIGHTS_MM) - 1, key=fits)
    return render(template, {**context, "roll_mm": ROLL_HEIGHTS_MM[at]})


@contextmanager
def hears() -> Iterator[list[str]]:
    """Sentences about what the papers made meanwhile lack, for the person who asked for them."""
    sentences: list[str] = []
    before = _told.set(sentences)
    try:
        yield sentences
    finally:
        _told.reset(before)


def _tell(template: str, lacking: str) -> None:
    """Packages by what Debian calls them."""
    east = [unicodedata.name(letter, "").startswith(EAST_ASIAN) for letter in lacking]
    fonts = " and ".join(["fonts-noto-cjk"] * any(east) + ["fonts-noto-core"] * (not all(east)))
    sentence = (
        f"The fonts on this computer have no letters for “{lacking[:20]}”: on the paper they are empty boxes. "
        f"Install {fonts}, and papers made from then on have them."
    )
    _log.warning("%s: no glyph for %a", template, lacking)
    told = _told.get()
    if told is not None and sentence not in told:
        told.append(sentence)


def _lacking(complaints: list[str]) -> str:
    """The letters that no font here has, each once."""
    return "".join(dict.fromkeys("".join(found[1] for words in complaints if (found := NO_GLYPH.match(words)))))


def _is_named(letter: str) -> bool:
    return unicodedata.category(letter) in (*PICTURE, *UNSEEN) or letter == "\ufe0f"


def _set(html: str, tagged: bool) -> tuple[bytes, list[str]]:
    """The bytes, and what WeasyPrint complained about."""
    from PIL import ImageFile
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    # WeasyPrint asks Pillow, for the whole process, to open cut-short pictures; photos sent in must still be whole.
    ImageFile.LOAD_TRUNCATED_IMAGES = False
    fetcher = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    with _press, _complaints_of(logging.getLogger("weasyprint")) as words:
        pdf: bytes = HTML(string=html, url_fetcher=fetcher).write_pdf(pdf_variant="pdf/ua-1" if tagged else None)
    return pdf, words


def _pages_of(html: str) -> int:
    """On how many pages it is laid out; complaints are left to whoever sets it."""
    from weasyprint import HTML
    from weasyprint.urls import URLFetcher

    fetcher = URLFetcher(allowed_protocols=("data",), fail_on_errors=True)
    with _press, _complaints_of(logging.getLogger("weasyprint")):
        return len(HTML(string=html, url_fetcher=fetcher).render().pages)


def _named(letter: str) -> str:
    """A picture letter by its name in brackets; what only joins or colours pictures, or is not seen, is left out."""
    if unicodedata.category(letter) != "So":
        return ""
    return f"[{unicodedata.name(letter, 'sign').lower()}]"


def as_pdf(pdf: bytes, name: str) -> HttpResponse:
    """A paper as the answer of a page, shown in the browser; `name` is that of the file where it is saved."""
    return HttpResponse(
        pdf, content_type="application/pdf", headers={"Content-Disposition": f'inline; filename="{name}"'}
    )


def fingerprint(pdf: bytes) -> str:
    """SHA-256 of the bytes, kept beside an issued paper and proven by `check_books`."""
    return hashlib.sha256(pdf).hexdigest()


def picture(data: bytes, mime: str = "image/jpeg") -> str:
    """A picture as a data address, for use inside a paper."""
    return f"data:{mime};base64,{base64.b64encode(data).decode()}"
