"""Document totals, in the order of EN 16931: frozen lines in, frozen totals out, never a float.

    line amounts (price × quantity, rounded once, then each allowance and charge) -> sum
    -> minus the document's allowances, plus its charges -> tax per category and rate on their sum, rounded once
    -> total -> minus what is prepaid -> plus cash rounding -> payable

Where prices include tax the gross is the master: tax = gross × r / (100 + r) per rate on the sum, net by difference.
Invariants: net + tax = gross in every row and in the whole; the total of lines reversed is exactly the negative.
Source: EN 16931-1, business terms BT-92 to BT-149, through Peppol BIS Billing 3.0, Calculation of totals.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any, Literal

from shop.measures.apportion import apportion
from shop.measures.money import Tie, minor_digits, round_money, smallest_coin

TaxPer = Literal["document", "line"]
ZERO = Decimal(0)
TAXED = "S"
UNTAXED = ("Z", "E", "O", "AE", "K", "G")  # zero rated, exempt, outside the scope, reverse charge, intra-EU, export


def cash_due(amount: Decimal, step: Decimal | None) -> Decimal:
    """Amount paid in cash where the smallest coin is `step`, both in currency, rounded half away from zero.

    Without a step, the amount itself.
    """
    return (amount / step).quantize(Decimal(1), ROUND_HALF_UP) * step if step else amount


def deposit_of(total: Decimal, percent: Decimal) -> Decimal:
    """Deposit on a total with tax: so many per cent of it in whole units of currency, half away from zero."""
    return min((total * percent / 100).quantize(Decimal(1), ROUND_HALF_UP), max(total, ZERO))


@dataclass(frozen=True)
class Adjustment:
    """An allowance or charge, in currency, of a line or of the whole document; the latter needs tax category and rate.

    EN 16931: BT-136, BT-141 on a line; BT-92, BT-99 on the document. A reversed one is below zero.
    """

    amount: Decimal
    charge: bool = False
    reason: str = ""
    tax_category: str = ""
    tax_percent: Decimal = ZERO

    def __post_init__(self) -> None:
        _refuse_floats(self)
        if self.tax_category:
            _check_rate(self.tax_category, self.tax_percent)

    @property
    def signed(self) -> Decimal:
        """Amount it adds to a total, in currency: above zero for a charge, below for an allowance."""
        return self.amount if self.charge else -self.amount


@dataclass(frozen=True)
class DocumentLine:
    """A line: a quantity at a unit price in currency, with or without tax as the shop's prices are, under one rate.

    `unit` is of UN/ECE Recommendation 20 (C62 one, HUR hour). A returned quantity is below zero; a price never is.
    Raises TypeError for a float, ValueError for a price below zero or a base quantity that is not above zero.
    """

    words: str
    quantity: Decimal
    unit_price: Decimal
    tax_category: str
    tax_percent: Decimal
    unit: str = "C62"
    base_quantity: Decimal = Decimal(1)
    adjustments: tuple[Adjustment, ...] = ()
    key: str = ""

    def __post_init__(self) -> None:
        _refuse_floats(self)
        _check_rate(self.tax_category, self.tax_percent)
        if self.unit_price < 0 or self.base_quantity <= 0:
            raise ValueError(f"“{self.words}”: a price must not be below zero, nor its base quantity zero or less")

    def amount(self, currency: str) -> Decimal:
        """BT-131 in currency: price × quantity rounded once, then each allowance and charge rounded by itself."""
        product = round_money(self.unit_price * self.quantity / self.base_quantity, currency)
        return product + sum((round_money(each.signed, currency) for each in self.adjustments), ZERO)


@dataclass(frozen=True)
class TaxRow:
    """Tax of the document at one category and rate, in currency: BT-116 net, BT-117 tax, and their sum."""

    category: str
    percent: Decimal
    net: Decimal
    tax: Decimal
    gross: Decimal


@dataclass(frozen=True)
class Totals:
    """Totals of a document, in currency.

    Lines, allowances and charges are as its prices are; net, tax and gross are not. `tie` and `tax_per` are what it was
    rounded by, so that it can be worked out again after the shop has come to other rules.
    """

    currency: str
    prices_include_tax: bool
    line_amounts: tuple[Decimal, ...]
    allowances: Decimal
    charges: Decimal
    tax_rows: tuple[TaxRow, ...]  # highest rate first
    prepaid: Decimal = ZERO
    rounding: Decimal = ZERO
    tie: Tie = "half_up"
    tax_per: TaxPer = "document"

    @property
    def lines_total(self) -> Decimal:
        """BT-106, the sum of the line amounts, in currency."""
        return sum(self.line_amounts, ZERO)

    @property
    def net(self) -> Decimal:
        """BT-109, the total without tax, in currency."""
        return sum((row.net for row in self.tax_rows), ZERO)

    @property
    def tax(self) -> Decimal:
        """BT-110, the tax, in currency."""
        return sum((row.tax for row in self.tax_rows), ZERO)

    @property
    def gross(self) -> Decimal:
        """BT-112, the total with tax, in currency."""
        return sum((row.gross for row in self.tax_rows), ZERO)

    @property
    def payable(self) -> Decimal:
        """BT-115 in currency: total with tax, minus prepaid BT-113, plus rounding BT-114. Below zero if overpaid."""
        return self.gross - self.prepaid + self.rounding

    def with_prepaid(self, amount: Decimal) -> Totals:
        """Totals with this much already paid, in currency, and no cash rounding."""
        return replace(self, prepaid=round_money(amount, self.currency), rounding=ZERO)

    def as_dict(self) -> dict[str, Any]:
        """Plain values for a snapshot: money as text with the currency's decimals, rates as text."""

        def said(amount: Decimal) -> str:
            return f"{amount + 0:.{minor_digits(self.currency)}f}"

        return {
            "currency": self.currency,
            "prices_include_tax": self.prices_include_tax,
            "line_amounts": [said(amount) for amount in self.line_amounts],
            "tax_rows": [
                {
                    "category": row.category,
                    "percent": f"{row.percent.normalize():f}",
                    **{name: said(getattr(row, name)) for name in ("net", "tax", "gross")},
                }
                for row in self.tax_rows
            ],
            **{name: said(getattr(self, name)) for name in _AMOUNTS},
            "tie": self.tie,
            "tax_per": self.tax_per,
        }


_AMOUNTS = ("lines_total", "allowances", "charges", "net", "tax", "gross", "prepaid", "rounding", "payable")


def totals(
    lines: Iterable[DocumentLine],
    adjustments: Iterable[Adjustment] = (),
    *,
    currency: str,
    prices_include_tax: bool,
    tie: Tie = "half_up",
    tax_per: TaxPer = "document",
    prepaid: Decimal = ZERO,
    rounding: Decimal = ZERO,
) -> Totals:
    """Totals of a document, in currency, rounded to its minor unit; `tie` is the rule of the tax profile.

    `tax_per` "line" rounds the tax of every line and adjustment by itself, where the law lets a shop choose that.
    Raises ValueError for a document adjustment without a tax category, TypeError for a float.
    """
    lines, adjustments = tuple(lines), tuple(adjustments)
    line_amounts = tuple(line.amount(currency) for line in lines)
    taxed: dict[tuple[str, Decimal], list[Decimal]] = {}
    for line, amount in zip(lines, line_amounts, strict=True):
        taxed.setdefault((line.tax_category, line.tax_percent), []).append(amount)
    for each in adjustments:
        if not each.tax_category:
            raise ValueError(
                f"“{each.reason or each.amount}” needs a tax category and rate: it is the whole document's"
            )
        taxed.setdefault((each.tax_category, each.tax_percent), []).append(round_money(each.signed, currency))
    rows = [
        _tax_row(
            category, percent, amounts if tax_per == "line" else [sum(amounts, ZERO)], prices_include_tax, currency, tie
        )
        for (category, percent), amounts in taxed.items()
    ]
    return Totals(
        currency=currency,
        prices_include_tax=prices_include_tax,
        line_amounts=line_amounts,
        allowances=sum((round_money(each.amount, currency) for each in adjustments if not each.charge), ZERO),
        charges=sum((round_money(each.amount, currency) for each in adjustments if each.charge), ZERO),
        tax_rows=tuple(sorted(rows, key=lambda row: (-row.percent, row.category))),
        prepaid=_exact(prepaid),
        rounding=_exact(rounding),
        tie=tie,
        tax_per=tax_per,
    )


def advance(whole: Totals, amount: Decimal, earlier: Sequence[Totals] = (), *, tie: Tie = "half_up") -> Totals:
    """Totals of a taxed advance: `amount` with tax, in currency, spread over what is left at each rate by its share.

    What takes all that is left at a rate takes its tax by difference. Raises ValueError for more than is left, or for
    nothing.
    """
    left = [row for row in left_after(whole, earlier) if row.gross > 0]
    open_amount = sum((row.gross for row in left), ZERO)
    amount = _exact(amount)
    if not 0 < amount <= open_amount:
        raise ValueError(f"An advance must be above zero and at most {open_amount}; {amount} is not")
    shares = apportion(amount, [row.gross for row in left], smallest_coin(whole.currency))
    rows = tuple(
        row if share == row.gross else _tax_row(row.category, row.percent, [share], True, whole.currency, tie)
        for row, share in zip(left, shares, strict=True)
    )
    return Totals(whole.currency, True, tuple(row.gross for row in rows), ZERO, ZERO, rows)


def left_after(whole: Totals, advances: Sequence[Totals]) -> tuple[TaxRow, ...]:
    """Net, tax and gross still to be invoiced at each rate after taxed advances: by difference, never anew."""
    left = {(row.category, row.percent): row for row in whole.tax_rows}
    for row in (row for each in advances for row in each.tax_rows):
        before = left.get((row.category, row.percent), TaxRow(row.category, row.percent, ZERO, ZERO, ZERO))
        left[row.category, row.percent] = replace(
            before, net=before.net - row.net, tax=before.tax - row.tax, gross=before.gross - row.gross
        )
    return tuple(sorted(left.values(), key=lambda row: (-row.percent, row.category)))


def _tax_row(
    category: str, percent: Decimal, amounts: Sequence[Decimal], include_tax: bool, currency: str, tie: Tie
) -> TaxRow:
    """Tax of one rate in currency, rounded once for each of the amounts, which hold the tax or have it added."""
    per = 100 + percent if include_tax else Decimal(100)
    base = sum(amounts, ZERO)
    tax = sum((round_money(amount * percent / per, currency, tie) for amount in amounts), ZERO)
    if include_tax:
        return TaxRow(category, percent, base - tax, tax, base)
    return TaxRow(category, percent, base, tax, base + tax)


def _check_rate(category: str, percent: Decimal) -> None:
    """EN 16931 rules BR-S-05, BR-Z-05, BR-E-05: a standard rate is above zero, every other is zero."""
    if category == TAXED and percent > 0:
        return
    if category in UNTAXED and percent == 0:
        return
    raise ValueError(f"Tax category {category} does not go with {percent} %; S takes a rate above zero, {UNTAXED} none")


def _refuse_floats(thing: Adjustment | DocumentLine) -> None:
    for field in fields(thing):
        if isinstance(getattr(thing, field.name), float):
            raise TypeError(f"{field.name} must be a Decimal, not a float")


def _exact(amount: Decimal) -> Decimal:
    if isinstance(amount, float):
        raise TypeError(f"Money must be a Decimal, not the float {amount}")
    return Decimal(amount)
