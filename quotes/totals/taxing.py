"""Tax points: how much tax, at which rate, each paper accounts for, and on which ground.

    deposit received   -> the tax in it, where the law asks for it on receipt           (deposit)
    invoice            -> its tax less that of the deposits it takes off                (sale)
    … of what is kept  -> the same, where a deposit is kept and nothing was done        (kept)
    credit note        -> the tax of the lines it takes back; the one that takes back
                          all that was left, what the invoice still accounted for       (credit)
    deposit paid back  -> the tax of what is no longer held                             (back)

Invariants, at each rate and to the cent: an invoice that is credited altogether accounts for nothing; one that stands
accounts, with the deposits it took off, for what it and its credit notes print; no more is taxed than is held.
Source: Directive 2006/112/EC, articles 63, 65 (a payment on account is taxed as it is received) and 90 (what falls away
is taken back); HMRC, VAT Time of Supply manual, VATTOS5120.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from quotes.totals.document import TaxRow, Totals, advance
from shop.measures.money import Tie, minor_digits

ZERO = Decimal(0)
DEPOSIT, SALE, KEPT, CREDIT, BACK = "deposit", "sale", "kept", "credit", "back"
ON_ACCOUNT = (DEPOSIT, BACK)  # what is taxed of the money that lies on a job's account
OF_INVOICES = (SALE, KEPT, CREDIT)
AMOUNTS = ("net", "tax", "gross")

Rows = tuple[TaxRow, ...]


@dataclass(frozen=True)
class Point:
    """Net, tax and gross in currency that a paper accounts for at one rate, on one ground; below zero where taken back.

    `job` is the key of the job on whose account the money lies, of what is of a deposit.
    """

    cause: str
    row: TaxRow
    job: int | None = None

    def as_dict(self, currency: str) -> dict[str, Any]:
        """Plain values for a frozen paper, money with the currency's decimals."""
        [row] = rows_as_data([self.row], currency)
        return {"cause": self.cause, **row, "job": self.job}


def said(amount: Decimal, currency: str) -> str:
    """Money as text with the currency's decimals, for a frozen paper."""
    return f"{amount + 0:.{minor_digits(currency)}f}"


def rows_as_data(rows: Iterable[TaxRow], currency: str) -> list[dict[str, str]]:
    """Tax rows as text, for a frozen paper, money with the currency's decimals."""
    return [
        {"category": row.category, "percent": f"{row.percent.normalize():f}"}
        | {name: said(getattr(row, name), currency) for name in AMOUNTS}
        for row in rows
    ]


def rows_from(data: Iterable[Mapping[str, Any]]) -> Rows:
    """Tax rows read back from a frozen paper."""
    return tuple(TaxRow(row["category"], *(Decimal(row[name]) for name in ("percent", *AMOUNTS))) for row in data)


def added(*many: Iterable[TaxRow]) -> Rows:
    """The sum of tax rows in currency, one at each category and rate, the highest rate first."""
    sums: dict[tuple[str, Decimal], list[Decimal]] = {}
    for row in (row for rows in many for row in rows):
        own = sums.setdefault((row.category, row.percent.normalize()), [ZERO, ZERO, ZERO])
        for place, name in enumerate(AMOUNTS):
            own[place] += getattr(row, name)
    found = (TaxRow(category, percent, *own) for (category, percent), own in sums.items())
    return tuple(sorted(found, key=lambda row: (-row.percent, row.category)))


def negated(rows: Iterable[TaxRow]) -> Rows:
    """Tax rows with their signs turned, never a negative zero."""
    return tuple(TaxRow(row.category, row.percent, -row.net + 0, -row.tax + 0, -row.gross + 0) for row in rows)


def less(rows: Iterable[TaxRow], other: Iterable[TaxRow]) -> Rows:
    """Tax rows in currency less others: by difference, never worked out anew."""
    return added(rows, negated(other))


def some(rows: Iterable[TaxRow]) -> Rows:
    """The rows in which anything stands."""
    return tuple(row for row in rows if row.net or row.tax or row.gross)


def gross_of(rows: Iterable[TaxRow]) -> Decimal:
    """Sum with tax of the rows, in currency."""
    return sum((row.gross for row in rows), ZERO)


def tax_of(rows: Iterable[TaxRow]) -> Decimal:
    """Sum of the tax of the rows, in currency."""
    return sum((row.tax for row in rows), ZERO)


def no_longer_held(taxed: Iterable[TaxRow], held: Decimal, currency: str, tie: Tie = "half_up") -> Rows:
    """What of taxed money is no longer held, in currency: above zero, to be taken back; of what is held, `held`.

    Money that was not taxed goes back first: common practice, no source. By the share of each rate; where all goes, by
    difference, so that nothing is left over.
    """
    taxed = some(taxed)
    over = gross_of(taxed) - max(held, ZERO)
    if over <= 0:
        return ()
    if held <= 0:
        return taxed
    return advance(as_totals(taxed, currency), over, tie=tie).tax_rows


def as_totals(rows: Iterable[TaxRow], currency: str) -> Totals:
    """Totals of nothing but these rows, in currency."""
    rows = tuple(rows)
    return Totals(currency, True, tuple(row.gross for row in rows), ZERO, ZERO, rows)


def points_of(content: Mapping[str, Any]) -> list[Point]:
    """What a frozen paper accounts for: as it says, or, on one from before that was said, as it was made.

    Before, an invoice accounted for what its deposits left, and a credit note took back all that it prints.
    """
    if "tax_points" in content:
        points = content["tax_points"]
        return [Point(one["cause"], row, one["job"]) for one, row in zip(points, rows_from(points), strict=True)]
    if content["document"] == "receipt":
        taxed = content.get("advance")
        return [Point(DEPOSIT, row) for row in rows_from(taxed["tax_rows"])] if taxed else []
    printed = content["totals"]["tax_rows"]
    if content["document"] == "credit":
        return [Point(CREDIT, row) for row in rows_from(printed)]
    left = content["tax_left"] if content.get("advance_tax") is not None else printed
    return [Point(SALE, row) for row in rows_from(left)]
