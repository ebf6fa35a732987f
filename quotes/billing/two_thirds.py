"""Ireland's two-thirds rule: where goods cost more than two thirds of a service's price, their rate is for all of it.

Both figures are without tax: what the goods cost the shop, from the lots that were really used, and what is charged at
a rate below that of goods. Nobody but the shop sees them.
Source: Value-Added Tax Consolidation Act 2010 (Ireland), section 41, as told by Chartered Accountants Ireland.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal
from typing import NamedTuple

from quotes.bench import charges
from quotes.costing.why.buildup import AGAIN, HANDS, WORKSHOP, by_material
from quotes.models import Job, StepUse, Way
from quotes.totals import TaxRow
from quotes.totals.taxing import rows_from
from shop.countries import tax
from shop.measures.money import show_money
from shop.models import Profile, TaxRate

ZERO = Decimal(0)
NO_GOODS = (HANDS, WORKSHOP, AGAIN)
Rate = tuple[str, Decimal]


class MostlyGoods(NamedTuple):
    """Goods that cost more than two thirds of a price, both without tax, and the rate that all of it takes then."""

    goods: Decimal
    price: Decimal
    rate: Rate
    lower: tuple[Rate, ...]

    def words(self, profile: Profile) -> str:
        """The sentence for the shop, with both figures."""
        goods, price = (show_money(each, profile.currency, profile.locale) for each in (self.goods, self.price))
        percent = f"{self.rate[1].normalize():f}"
        return f"Materials cost {goods}, more than two thirds of {price} without tax: {percent} % is for all of it"


def goods_rate_of(profile: Profile, rates: Iterable[TaxRate]) -> Rate | None:
    """Category and per cent of goods, out of the rates in force, where the place has the rule; None elsewhere."""
    if not tax.profile(profile.tax_profile).two_thirds_rule:
        return None
    goods = sorted(rates, key=lambda rate: (rate.for_repairs, rate.name, rate.from_day))
    return (goods[0].category, goods[0].percent.normalize()) if goods else None


def _mostly(goods: Decimal, rows: Iterable[TaxRow], rate: Rate) -> MostlyGoods | None:
    lower = [row for row in rows if row.category == "S" and row.percent < rate[1]]
    price = sum((row.net for row in lower), ZERO)
    if not lower or 3 * goods <= 2 * price:
        return None
    return MostlyGoods(goods, price, rate, tuple((row.category, row.percent.normalize()) for row in lower))


def of_job(job: Job, rate: Rate) -> MostlyGoods | None:
    """Whether what a job used cost more than two thirds of what is charged for it below the rate of goods."""
    uses = StepUse.objects.filter(step__job=job, undone_at__isnull=True, customers_own=False)
    goods = sum(uses.values_list("cost", flat=True), ZERO)
    return _mostly(goods, charges(job).totals().tax_rows, rate)


def of_way(way: Way, rate: Rate) -> MostlyGoods | None:
    """Whether the materials of a way, as it was worked out, cost that much on the average. No query of its own."""
    document = way.totals.get("document")
    if way.net is None or not document:
        return None
    taken = by_material([part.estimate for part in way.parts.all()])
    goods = sum((one.cost for one in taken if one.name not in NO_GOODS), ZERO)
    return _mostly(goods, rows_from(document["tax_rows"]), rate)
