"""Words with figures in them that are put together only when somebody reads them.

An estimate makes some hundred sentences; most are never opened. A pattern keeps its figures beside it (formatting them
is the dearest part of an estimate), and they cannot change afterwards.
"""

from __future__ import annotations

from typing import Any, TypeAlias


class Words:
    """A pattern of `str.format` and what goes into it; `str()` puts them together."""

    __slots__ = ("pattern", "values")

    def __init__(self, pattern: str, *values: Any) -> None:
        self.pattern = pattern
        self.values = values

    def __str__(self) -> str:
        return self.pattern.format(*self.values)


class DoseWords(Words):
    """Words of a dose: left out where one dose serves several places."""

    __slots__ = ()


Text: TypeAlias = str | Words


def without_doses(text: Text) -> str:
    """Text without the words of any dose in it."""
    if isinstance(text, DoseWords):
        return ""
    if not isinstance(text, Words):
        return text
    return text.pattern.format(*(without_doses(one) if isinstance(one, Words) else one for one in text.values))


def many(number: int, name: str) -> str:
    """Words for a number of things: 1 log, 7 logs."""
    return f"{number} {name}{'' if number == 1 else 's'}"
