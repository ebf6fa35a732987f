"""The tax of a period on the command line: `tax_summary --from 2026-11-01 --to 2026-11-30 [--json]`."""

from __future__ import annotations

import json
from datetime import date
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser

from quotes.billing.tax_summary import TaxSum, tax_of_period
from quotes.totals.taxing import AMOUNTS, said
from shop.models import Profile


class Command(BaseCommand):
    help = "What the invoices, credit notes and deposits of a period account for, by tax, category, rate and ground."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--from", dest="first", required=True, metavar="DAY", help="first day, like 2026-11-01")
        parser.add_argument("--to", dest="last", required=True, metavar="DAY", help="last day, like 2026-11-30")
        parser.add_argument("--json", action="store_true", help="one JSON object")

    def handle(self, **options: Any) -> None:
        first, last = _day("--from", options["first"]), _day("--to", options["last"])
        if last < first:
            raise CommandError(f"--to is {last}, before --from {first}: the last day comes after the first.")
        profile = Profile.objects.first()
        if profile is None:
            raise CommandError("There is no shop here yet: run demo, or set the shop up.")
        rows, currency = tax_of_period(first, last), profile.currency
        if options["json"]:
            self.stdout.write(json.dumps(_as_data(first, last, rows, currency), indent=1, ensure_ascii=False))
            return
        self.stdout.write(f"Tax from {first} to {last}, by the day a paper was issued, in {currency}")
        for row in rows:
            what = f"{row.tax_word or 'No tax'} {row.category} {row.percent.normalize():f} %, {row.ground}"
            much = f"net {row.net:.2f}, tax {row.tax:.2f}, gross {row.gross:.2f}"
            self.stdout.write(f"  {what}: {much}, {row.papers} paper{'s' if row.papers != 1 else ''}")
        self.stdout.write(", ".join(f"{name} {said(total, currency)}" for name, total in _sums(rows).items()))


def _day(name: str, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise CommandError(f"{name} is {text}, which is no day; write it like 2026-11-01.") from None


def _sums(rows: list[TaxSum]) -> dict[str, Any]:
    return {name: sum(getattr(row, name) for row in rows) for name in AMOUNTS}


def _as_data(first: date, last: date, rows: list[TaxSum], currency: str) -> dict[str, Any]:
    return {
        "from": first.isoformat(),
        "to": last.isoformat(),
        "basis": "invoice",
        "currency": currency,
        "rows": [
            {
                "tax": row.tax_word,
                "category": row.category,
                "percent": f"{row.percent.normalize():f}",
                "cause": row.cause,
                "papers": row.papers,
                "net": said(row.net, currency),
                "tax_amount": said(row.tax, currency),
                "gross": said(row.gross, currency),
            }
            for row in rows
        ],
        "net": said(_sums(rows)["net"], currency),
        "tax_amount": said(_sums(rows)["tax"], currency),
        "gross": said(_sums(rows)["gross"], currency),
    }
