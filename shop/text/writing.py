"""Words in any script: what is pasted along and never seen is left out, and what runs from right to left stays apart.

In a line that runs from left to right, a name in Hebrew or Arabic takes figures beside it along and turns their order
round, unless it is isolated (Unicode Standard Annex 9, Unicode Bidirectional Algorithm, sections 2.4 and 5). On every
page and every paper this is done at the door, so that no template can forget it.
"""

from __future__ import annotations

import re
import unicodedata

# Blocks whose letters run from right to left: Hebrew to Arabic Extended-A, their presentation forms, and the two
# ranges of the supplementary plane kept for such scripts.
_LETTER = "\u0590-\u08ff\ufb1d-\ufdff\ufe70-\ufefc\U00010800-\U00010fff\U0001e800-\U0001efff"
_RUN = re.compile(f"[{_LETTER}](?:[{_LETTER}\\s.,'’\u2010-\u2015\u0300-\u036f\u200c\u200d-]*[{_LETTER}])?")
_ANY = re.compile(f"[{_LETTER}]")
_TAG = re.compile(r"(<[^>]*>)")
_PLAIN = re.compile(r"</?(?:title|textarea|option|script|style)\b", re.IGNORECASE)  # hold text only, no markup
_TURNING = dict.fromkeys([*range(0x202A, 0x202F), *range(0x2066, 0x206A), 0xFEFF])  # marks that turn the writing round
_BLANKS = "\t\n\r\v\f\x85\u2028\u2029"


def isolated(html: str) -> str:
    """The page with each run of right-to-left letters in its text in a `<bdi>`; the same where there are none."""
    if not _ANY.search(html):
        return html
    parts, plain = [], False
    for part in _TAG.split(html):
        if part.startswith("<"):
            plain = not part.startswith("</") if _PLAIN.match(part) else plain
            parts.append(part)
        else:
            parts.append(part if plain else _RUN.sub(r"<bdi>\g<0></bdi>", part))
    return "".join(parts)


def seen(text: str, *, lines: bool = False) -> str:
    """The text without control characters and marks that turn it round; a line break is a blank unless `lines`."""
    text = text.translate(_TURNING)
    if lines:
        text = text.replace("\u2028", "\n").replace("\u2029", "\n")
    kept = "\r\n" if lines else ""
    return "".join(
        letter if letter in kept or unicodedata.category(letter) not in ("Cc", "Zl", "Zp") else _instead(letter)
        for letter in text
    )


def _instead(letter: str) -> str:
    return " " if letter in _BLANKS else ""


def folded(text: str) -> str:
    """Words as they are searched for: without case, accents and apostrophes (SQLite itself folds A to Z only)."""
    plain = "".join(c for c in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(c))
    return " ".join("".join(c for c in plain if c not in "'’‘`´").split())
