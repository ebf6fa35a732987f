"""The one bridge from rows to the costing core, and the one edge between exact rows and float estimates.

Rows hold Decimal, the core holds floats; every number crosses here, through `str`, so that 0.1 stays 0.1.
A way is priced on the sum of its parts' costs (one margin, one minimum, one price step); its lines by hand come on top
at their own price; tax is worked out per rate on the sums.
Invariant: the number of queries does not grow with materials, prices, factors or parts.
"""

from __future__ import annotations

from quotes.estimating.calendar import MONDAY_TO_FRIDAY, Calendar, shop_calendar
from quotes.estimating.inputs import UNTAXED, Inputs, Rate, as_float, learned_cell, materials_of, shop_inputs, taught
from quotes.estimating.parts import Asked, construction, core_recipe, estimate, estimate_board, read_typed
from quotes.estimating.pricing import HandLine, document_of, price_way

__all__ = [
    "MONDAY_TO_FRIDAY",
    "UNTAXED",
    "Asked",
    "Calendar",
    "HandLine",
    "Inputs",
    "Rate",
    "as_float",
    "construction",
    "core_recipe",
    "document_of",
    "estimate",
    "estimate_board",
    "learned_cell",
    "materials_of",
    "price_way",
    "read_typed",
    "shop_calendar",
    "shop_inputs",
    "taught",
]
