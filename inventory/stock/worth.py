"""What goods for sale may stand in the books at: never more than they will still bring in. PURE.

Lower of cost and net realisable value: selling price less what it costs to sell (IAS 2 Inventories, paragraphs 6, 9 and
28 to 33). Materials for jobs are not written down while the jobs bring in their cost (paragraph 32), so this is for
counter goods. A write-down is an expense of the day it is seen (paragraph 34); the ledger's own figures stay at cost.
"""

from __future__ import annotations

from decimal import Decimal


def net_realisable(price: Decimal, to_sell: Decimal) -> Decimal:
    """What one piece still brings in: its selling price without tax, less what selling it costs; not below nothing."""
    return max(Decimal(0), price - to_sell)


def write_down(quantity: Decimal, cost: Decimal, price: Decimal, to_sell: Decimal) -> Decimal:
    """By how much `quantity` pieces that cost `cost` each stand too high in the books; zero where they do not.

    All in money without tax. Raises ValueError below zero.
    """
    if min(quantity, cost, price, to_sell) < 0:
        raise ValueError("Quantity, cost, price and what selling costs must be zero or more.")
    return quantity * max(Decimal(0), cost - net_realisable(price, to_sell))
