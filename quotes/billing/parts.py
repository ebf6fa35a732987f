"""What every paper about money is made of: who sells, who buys, the tax rules, and totals as plain data and back."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from quotes.quoting.content import seller
from quotes.totals import Totals
from quotes.totals.taxing import rows_from
from shop.countries import tax
from shop.models import Customer, Profile

SCHEMA = 1


@dataclass(frozen=True)
class House:
    """The shop as it bills today: its profile and the rules of its tax."""

    profile: Profile
    rules: tax.TaxProfile

    @classmethod
    def of(cls, profile: Profile) -> House:
        """A shop with the rules of its tax profile."""
        return cls(profile, tax.profile(profile.tax_profile))

    def content(self, *, document: str, title: str, number: str, day: date, buyer: Customer) -> dict[str, Any]:
        """The frozen head of a paper: both parties, tax words, currency, locale."""
        own, rules = self.profile, self.rules
        return {
            "schema": SCHEMA,
            "document": document,
            "title": title,
            "number": number,
            "issued_on": day.isoformat(),
            "currency": own.currency,
            "locale": own.locale,
            "paper": own.paper,
            "seller": seller(own, rules),
            "buyer": {
                "name": buyer.name,
                "address": buyer.address,
                "contact": "" if buyer.address.strip() or not rules.contact_of_buyer else buyer.phone or buyer.email,
                "tax_number": buyer.tax_number,
                "named": not buyer.walk_in,
            },
            "tax": {"word": rules.tax_word, "registered": rules.registered, "note": rules.note},
        }


def totals_from(data: Mapping[str, Any]) -> Totals:
    """Totals read back from what `Totals.as_dict` froze; by the usual rounding where it did not say by which."""
    return Totals(
        currency=data["currency"],
        prices_include_tax=data["prices_include_tax"],
        line_amounts=tuple(Decimal(amount) for amount in data["line_amounts"]),
        allowances=Decimal(data["allowances"]),
        charges=Decimal(data["charges"]),
        tax_rows=rows_from(data["tax_rows"]),
        prepaid=Decimal(data["prepaid"]),
        rounding=Decimal(data["rounding"]),
        tie=data.get("tie", "half_up"),
        tax_per=data.get("tax_per", "document"),
    )
