"""Numbers as people type them: read exactly, finite only, and asked about where two readings are possible.

The grammar, in full: `12`  `12.5`  `12,5`  `.5`  `1 500`  `1 234 567,8`  `1,234.5`  `1.234,5`  `1,234,567`
`3/8`  `5 1/4`  `5-1/4`  `5¼`. No exponents, no signs (the caller reads those), no words.
`1,500` and `1.500` may mean 1.5 or 1500 (whatever decimal sign the shop has, people bring theirs along), and `51/4`
may be a slip for `5 1/4`: all give every reading, and the person is asked.
Nothing here evaluates text, so the time taken is bounded by the length cap.
Spacing digits in threes follows NIST SP 811 (Guide for the Use of the International System of Units), section 10.5.3.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

MOST_CHARACTERS = 40  # longer text is no quantity and no price; our own cap

_FRACTION_SIGNS = {
    "½": "1/2", "⅓": "1/3", "⅔": "2/3", "¼": "1/4", "¾": "3/4", "⅛": "1/8", "⅜": "3/8", "⅝": "5/8", "⅞": "7/8",
}  # fmt: skip
_CHARACTERS = str.maketrans(
    {
        **dict.fromkeys("\u00a0\u2002\u2003\u2007\u2008\u2009\u200a\u202f\t\r\n", " "),
        **dict.fromkeys("\u200b\u200e\u200f\ufeff", ""),  # unseen marks that come along when pasting
        **dict.fromkeys("′’‘´ʹ", "'"),
        **dict.fromkeys("″”“ʺ", '"'),
        **dict.fromkeys("−‐‑–", "-"),
        "⁄": "/",
        **{sign: f" {typed}" for sign, typed in _FRACTION_SIGNS.items()},
    }
)

_MIXED = re.compile(r"([0-9]+)[ -]([0-9]+) ?/ ?([0-9]+)")
_FRACTION = re.compile(r"([0-9]+) ?/ ?([0-9]+)")
_GROUPED = (
    re.compile(r"[1-9][0-9]{0,2}(?: [0-9]{3})+(?:[.,][0-9]+)?"),
    re.compile(r"[1-9][0-9]{0,2}(?:,[0-9]{3})+\.[0-9]+"),
    re.compile(r"[1-9][0-9]{0,2}(?:\.[0-9]{3})+,[0-9]+"),
)
_MANY_GROUPS = re.compile(r"[1-9][0-9]{0,2}(?:(?:,[0-9]{3}){2,}|(?:\.[0-9]{3}){2,})")
_ONE_GROUP_OR_DECIMALS = re.compile(r"[1-9][0-9]{0,2}([.,])[0-9]{3}")
_POINT_THREE = re.compile(r"(?<![0-9.,])[1-9][0-9]{0,2}\.[0-9]{3}(?![0-9.,])")
_PLAIN = re.compile(r"[0-9]+|[0-9]*[.,][0-9]+")


class EntryError(ValueError):
    """A typed text that cannot be taken; `sentence` names the field, what was wrong and what would be right."""

    def __init__(self, sentence: str) -> None:
        super().__init__(sentence)
        self.sentence = sentence


class Ambiguous(EntryError):
    """A typed text with more than one meaning; `readings` are texts that can each be typed instead."""

    def __init__(self, sentence: str, readings: tuple[str, ...]) -> None:
        super().__init__(sentence)
        self.readings = readings


def tidy(text: str) -> str | None:
    """Text with one kind of space, quote, dash and fraction; None if it is too long to be a number."""
    text = text.strip()
    if len(text) > MOST_CHARACTERS:
        return None
    return " ".join(text.translate(_CHARACTERS).replace("''", '"').split())


def echo(text: str) -> str:
    """Typed text fit to stand in a sentence: short, on one line, without marks that turn the writing direction."""
    seen = "".join(c for c in text if unicodedata.category(c)[0] != "C" or c == "\u200d")
    seen = " ".join(seen.split())
    return seen if len(seen) <= MOST_CHARACTERS else seen[: MOST_CHARACTERS - 1] + "…"


def readings(text: str, *, point_may_group: bool) -> tuple[Fraction, ...]:
    """Numbers that tidied text may mean: none if it is no number, one, or several to be asked about.

    `point_may_group` doubts `1.500` as `1,500` is doubted; a bare figure of a table, or text that was once read and is
    kept, has a decimal point.
    """
    if match := _MIXED.fullmatch(text):
        whole, top, bottom = (int(part) for part in match.groups())
        return (whole + Fraction(top, bottom),) if top < bottom else ()
    if match := _FRACTION.fullmatch(text):
        return _fractions(match[1], int(match[2]))
    if any(pattern.fullmatch(text) for pattern in _GROUPED):
        mark = max(text.rfind("."), text.rfind(","))
        whole_part, decimals = (text, "0") if mark < 0 else (text[:mark], text[mark + 1 :])
        return (Fraction(f"{_digits(whole_part)}.{decimals}"),)
    if _MANY_GROUPS.fullmatch(text):
        return (Fraction(_digits(text)),)
    if not _PLAIN.fullmatch(text):
        return ()
    number = Fraction("0" + text.replace(",", "."))
    match = _ONE_GROUP_OR_DECIMALS.fullmatch(text)
    if match and (match[1] == "," or point_may_group):
        return (number, Fraction(_digits(text)))
    return (number,)


def undoubted(text: str) -> str:
    """Text with a zero behind three decimals that could be read as thousands: `1.524 m` becomes `1.5240 m`."""
    return _POINT_THREE.sub(r"\g<0>0", text)


def written(number: Fraction) -> str:
    """Text of a number that can be typed again without doubt: decimals where they end, else a fraction."""
    rest = number.denominator
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    if rest == 1:
        places = next(n for n in range(200) if 10**n % number.denominator == 0)
        digits = str(int(number * 10**places)).rjust(places + 1, "0")
        return undoubted(f"{digits[:-places]}.{digits[-places:]}") if places else digits
    whole, top = divmod(number.numerator, number.denominator)
    return f"{whole} {top}/{number.denominator}" if whole else f"{top}/{number.denominator}"


def _digits(text: str) -> str:
    return "".join(c for c in text if c.isdigit())


def _fractions(top: str, bottom: int) -> tuple[Fraction, ...]:
    """Fraction itself, and before one above 1 each mixed number whose blank may be lost (51/4 for 5 1/4)."""
    if bottom == 0:
        return ()
    if int(top) <= bottom:
        return (Fraction(int(top), bottom),)
    cuts = [(top[:i], top[i:]) for i in range(1, len(top)) if top[0] != "0" and top[i] != "0"]
    mixed = tuple(int(whole) + Fraction(int(part), bottom) for whole, part in cuts if int(part) < bottom)
    return (*mixed, Fraction(int(top), bottom))
