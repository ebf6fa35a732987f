"""What is stirred into a mix, in words."""

from __future__ import annotations

from quotes.costing.basis.lazy_words import DoseWords, Text
from quotes.costing.snapshot import PlannedMix


def told(amount: float) -> str:
    """Text of an amount as a bench scale (g) or a measuring cup (mL) reads it: whole from ten on, tenths below."""
    return f"{amount:.0f}" if amount >= 9.95 else f"{amount:.1f}"


def stirred_words(each: float, what: str) -> Text:
    """Sentence on what is stirred into each cup, in g, to put before others; nothing where it is nothing."""
    return DoseWords("Stir {} g {} into each mix, after the hardener. ", told(each), what) if each else ""


def wax_words(each: float) -> Text:
    """Sentence on the wax of each mix, in mL, to put before others."""
    return DoseWords("Wax {} mL a mix. ", told(each))


def stirred_in_words(mix: PlannedMix) -> str:
    """Sentence on what is stirred into each cup of a mix that serves several places."""
    return "".join(
        str(wax_words(one.amount) if one.unit == "mL" else stirred_words(one.amount, _STIRRED[one.material]))
        for one in mix.stirred_in
    )


class _Names(dict[str, str]):
    def __missing__(self, key: str) -> str:
        return key.replace("-", " ")


_STIRRED = _Names({"microspheres": "filler", "milled-fibre": "fibre"})
