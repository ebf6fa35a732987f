"""Mistakes in writing a number down that happen at a bench: wrong unit, misplaced point, a batch left out.

Kinds of mistake are common practice, no source; the sizes of units are NIST SP 811, appendix B.8.
"""

from __future__ import annotations

from typing import NamedTuple

from quotes.costing.stats.assumptions import MINUTES

_OUNCE_G = 28.349523125  # g in an avoirdupois ounce
_FLUID_OUNCE_ML = 29.5735295625  # mL in a US fluid ounce
_FOOT_M = 0.3048  # m


class EntryMistake(NamedTuple):
    """A way to write a wrong number: the right one is the written one times the factor `times`."""

    words: str
    times: float


BY_UNIT: dict[str, tuple[EntryMistake, ...]] = {
    "g": (
        EntryMistake("written down in kg", 1000.0),
        EntryMistake("grams entered as if they were kg", 0.001),
        EntryMistake("written down in oz", _OUNCE_G),
        EntryMistake("grams entered as if they were oz", 1.0 / _OUNCE_G),
    ),
    "mL": (
        EntryMistake("written down in L", 1000.0),
        EntryMistake("millilitres entered as if they were L", 0.001),
        EntryMistake("written down in fl oz", _FLUID_OUNCE_ML),
        EntryMistake("millilitres entered as if they were fl oz", 1.0 / _FLUID_OUNCE_ML),
    ),
    "m": (
        EntryMistake("written down in cm", 0.01),
        EntryMistake("written down in mm", 0.001),
        EntryMistake("a thousand times too little", 1000.0),
        EntryMistake("written down in ft", _FOOT_M),
    ),
    "m2": (
        EntryMistake("written down in cm²", 0.0001),
        EntryMistake("a thousand times too much", 0.001),
        EntryMistake("a thousand times too little", 1000.0),
    ),
    "each": (EntryMistake("a thousand times too many", 0.001),),
    MINUTES: (EntryMistake("hours for minutes", 60.0), EntryMistake("seconds for minutes", 1.0 / 60.0)),
}
POINT = (EntryMistake("decimal point one place off", 10.0), EntryMistake("decimal point one place off", 0.1))
BATCH = (EntryMistake("one of the batches not written down", 2.0),)
