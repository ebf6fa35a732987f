"""The tax of a period: what the papers of its days account for, by tax, category, rate and ground. Reading only."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import NamedTuple

from django.db.models import Count, Sum

from quotes.models import TaxPoint


class TaxSum(NamedTuple):
    """What the papers of a period account for at one rate on one ground, in currency; below zero where taken back."""

    tax_word: str
    category: str
    percent: Decimal
    cause: str
    papers: int
    net: Decimal
    tax: Decimal
    gross: Decimal

    @property
    def ground(self) -> str:
        """The ground in words."""
        return TaxPoint.Cause(self.cause).label


def tax_of_period(first: date, last: date) -> list[TaxSum]:
    """What the papers issued on these days and those between account for, the highest rate first. One query.

    A tax point is of the day its paper was issued; of the months of a year the sums add up to the year's.
    """
    by = ("tax_word", "category", "percent", "cause")
    rows = TaxPoint.objects.filter(day__gte=first, day__lte=last).order_by().values_list(*by)
    papers = Count("invoice", distinct=True) + Count("payment", distinct=True)
    sums = rows.annotate(papers=papers, of_net=Sum("net"), of_tax=Sum("tax"), of_gross=Sum("gross"))
    order = list(TaxPoint.Cause.values)
    return sorted(
        (TaxSum(*row) for row in sums),
        key=lambda row: (row.tax_word, -row.percent, row.category, order.index(row.cause)),
    )
