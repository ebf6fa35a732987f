"""What made a job dearer or cheaper than planned: its price, or how much of it was used.

Price variance = (real price − planned price) × real quantity; quantity variance = (real − planned quantity) × planned
price; for labour the same with rate and time. Above zero is unfavourable: it cost more. Source: OpenStax, Principles of
Accounting, volume 2, sections 8.2 and 8.3.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Variance:
    """Variance in currency, unrounded: by price (labour: rate), by quantity (labour: time)."""

    price: float
    quantity: float

    @property
    def total(self) -> float:
        """Real cost less planned cost, in currency: both variances together."""
        return self.price + self.quantity


def variance(*, planned_price: float, planned_qty: float, real_price: float, real_qty: float) -> Variance:
    """Variance of one material, or of labour with its rate and hours. Prices in currency per unit of the quantity.

    OpenStax, Principles of Accounting, volume 2, sections 8.2 and 8.3. Raises ValueError for a quantity or price below
    zero.
    """
    for name, value in (
        ("planned price", planned_price),
        ("planned quantity", planned_qty),
        ("real price", real_price),
        ("real quantity", real_qty),
    ):
        if not value >= 0:
            raise ValueError(f"The {name} must not be below zero; {value:g} is.")
    return Variance((real_price - planned_price) * real_qty, (real_qty - planned_qty) * planned_price)
