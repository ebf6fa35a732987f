"""What counter goods sell for: kept without tax among their facts, said with or without it as the shop's prices are."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from inventory.models import Material
from shop.countries import tax
from shop.measures.money import round_money
from shop.models import Profile, TaxRate

SELLS_FOR = "sells_for"  # the fact that a sale and the worth of the stock read: money for one of the unit, without tax
COSTS_TO_SELL = "costs_to_sell"  # the fact that lessens what they still bring in, without tax
NET_STEP = Decimal("0.000001")  # fine enough that a price typed with tax comes back to the cent


@dataclass(frozen=True)
class GoodsPrices:
    """How prices of goods are said: `percent` of tax on them is in them, or comes on top of them."""

    percent: Decimal
    include_tax: bool
    registered: bool
    currency: str

    @property
    def words(self) -> str:
        """“with tax” or “without tax”; empty where the shop charges none."""
        return "" if not self.registered else "with tax" if self.include_tax else "without tax"

    def net(self, material: Material) -> Decimal | None:
        """What is kept: money for one of the unit without tax, or None where no price is set."""
        net = material.facts.get(SELLS_FOR)
        return None if net is None else Decimal(str(net))

    def said(self, material: Material) -> Decimal | None:
        """What one costs as the shop says its prices, rounded to the coin; None where no price is set."""
        net = self.net(material)
        return None if net is None else round_money(net * self._factor, self.currency)

    def kept(self, said: Decimal, material: Material) -> Decimal:
        """What to keep for a price as it was said; what says the same already stays as it is."""
        net = self.net(material)
        return net if net is not None and self.said(material) == said else (said / self._factor).quantize(NET_STEP)

    @property
    def _factor(self) -> Decimal:
        return 1 + self.percent / 100 if self.include_tax else Decimal(1)


def goods_prices(profile: Profile, day: date) -> GoodsPrices:
    """How prices of goods are said on a day. One query. Without a rate in force they are said without tax."""
    registered = tax.profile(profile.tax_profile).registered
    rate = TaxRate.objects.for_goods(day) if registered else None
    percent = rate.percent if rate else Decimal(0)
    return GoodsPrices(percent, profile.prices_include_tax and rate is not None, registered, profile.currency)
