"""Sums of papers, pure: a document's totals in the order of EN 16931, and what tax each paper accounts for."""

from quotes.totals.document import (
    Adjustment,
    DocumentLine,
    TaxPer,
    TaxRow,
    Totals,
    advance,
    cash_due,
    deposit_of,
    left_after,
    totals,
)

__all__ = [
    "Adjustment",
    "DocumentLine",
    "TaxPer",
    "TaxRow",
    "Totals",
    "advance",
    "cash_due",
    "deposit_of",
    "left_after",
    "totals",
]
