"""What several boards on one quote come to together, at the least and at the most, from what the quote says of each."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal
from typing import Any

from quotes.totals import DocumentLine, deposit_of, totals
from shop.measures.money import Tie

Option = Mapping[str, Any]


def together(
    boards: Sequence[Mapping[str, Any]], *, currency: str, included: bool, tie: Tie, deposit_percent: Decimal
) -> dict[str, Any] | None:
    """The sum over boards: `boards` with the least and the most of each, `least` and `most` of all, as text.

    The least takes the cheapest way or choice of each board, the most the dearest. Tax is worked out on the whole, as
    on one invoice for all; deposits are those of each board. None for one board, and where one has no price yet.
    """
    options = [_options(board) for board in boards]
    if len(boards) < 2 or not all(options):
        return None
    least = [min(found, key=_gross) for found in options]
    most = [max(found, key=_gross) for found in options]

    def summed(chosen: Iterable[Option]) -> dict[str, str]:
        chosen = list(chosen)
        lines = [
            DocumentLine(
                "", Decimal(1), Decimal(row["gross" if included else "net"]), row["category"], Decimal(row["percent"])
            )
            for one in chosen
            for row in one["tax_rows"]
        ]
        whole = totals(lines, currency=currency, prices_include_tax=included, tie=tie)
        deposit = sum((deposit_of(_gross(one), deposit_percent) for one in chosen), Decimal(0))
        return {**{name: str(getattr(whole, name)) for name in ("net", "tax", "gross")}, "deposit": str(deposit)}

    return {
        "boards": [
            {"name": board["name"], "tag": board["tag"], "least": low["shown"], "most": high["shown"]}
            for board, low, high in zip(boards, least, most, strict=True)
        ],
        "least": summed(least),
        "most": summed(most),
    }


def _options(board: Mapping[str, Any]) -> list[Option]:
    """All a customer may say yes to on a board: its ways, and each choice of their optional repairs."""
    priced = [way for way in board["ways"] if way["gross"] is not None]
    return [option for way in priced for option in (way, *way["choices"])]


def _gross(option: Option) -> Decimal:
    return Decimal(option["gross"])
