"""What the shop hands to the core on a day: materials, prices, rates, figures, what it has learned."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Any, NamedTuple

from django.utils.dateformat import format as day_words

from inventory.models import Material as StockMaterial
from inventory.stock.prices import prices_on
from quotes import costing
from quotes.costing import Problem, Remedy, overhead_rate
from quotes.costing.learning.rework import ReworkRate
from quotes.costing.parts.inputs import OWN_FACTS
from quotes.costing.parts.usage import Learned
from quotes.models import Experience, Factor
from shop.countries import tax
from shop.measures import money, units
from shop.models import LabourRate, Overhead, Profile, TaxRate

UNTAXED = "O"


class Rate(NamedTuple):
    """A tax rate as lines carry it: category of EN 16931 and per cent."""

    category: str
    percent: Decimal


@dataclass(frozen=True)
class Inputs:
    """The shop as the core takes it on one day, and how this shop taxes. `missing` is what has to be set up first."""

    shop: costing.Shop
    day: date
    tax: Rate
    rates: tuple[Rate, ...]
    currency: str
    prices_include_tax: bool
    tie: money.Tie
    volume_system: units.VolumeSystem
    missing: tuple[Problem, ...] = ()

    def of_quote(self, discount_percent: Decimal, rush_percent: Decimal = Decimal(0)) -> Inputs:
        """Inputs for a customer with a discount, or a quote in a rush: what is rushed is worked alone."""
        pricing = replace(
            self.shop.pricing, discount_percent=as_float(discount_percent), rush_percent=as_float(rush_percent)
        )
        return replace(self, shop=replace(self.shop, pricing=pricing, alone=rush_percent > 0))

    def alone(self) -> Inputs:
        """Inputs for a job that is worked alone: no other board shares its set-ups."""
        return replace(self, shop=replace(self.shop, alone=True))

    def rate_of(self, percent: Decimal) -> Rate:
        """The rate of so many per cent in force on the day; its category is standard, or zero rated, if none is."""
        if percent == self.tax.percent:
            return self.tax
        known = next((rate for rate in self.rates if rate.percent == percent), None)
        return known or Rate("S" if percent else "Z", percent)


def as_float(number: Decimal | None) -> float:
    """An exact number as the core counts, over its text, so that 0.1 stays 0.1; None is nothing of it, 0."""
    return float(str(number or 0))


def shop_inputs(*, day: date, temperature: float | None = None) -> Inputs:
    """The shop's materials, prices, rates and own figures on a day, and what its jobs taught, in ten queries.

    `temperature` in °C. For one customer or quote, see `Inputs.of_quote`.
    """
    profile = Profile.objects.get()
    rules = tax.profile(profile.tax_profile)
    missing: list[Problem] = []
    rates = _rates(day) if rules.registered else ()
    repair = next((rate for for_repairs, rate in rates if for_repairs), None)
    if rules.registered and repair is None:
        missing.append(
            Problem(
                "",
                "tax",
                f"No tax rate is marked for repair work on {_day(day)}: add one to the shop's tax rates.",
                Remedy("shop", "tax"),
            )
        )
    rate = repair or Rate(UNTAXED, Decimal(0))
    wage, wage_source = _wage(day, missing)
    overhead, overhead_source = _overhead(day)
    found = taught()
    shop = costing.Shop(
        materials=_materials(day),
        wage_per_hour=wage,
        overhead_per_hour=overhead,
        wage_source=wage_source,
        overhead_source=overhead_source,
        temperature_c=as_float(profile.shop_temperature_c) if temperature is None else temperature,
        hours_per_day=as_float(profile.bench_hours_per_day),
        pricing=costing.Pricing(
            method="markup" if profile.price_method == "markup" else "margin",
            percent=as_float(profile.margin_percent),
            minimum=as_float(profile.minimum_price),
            step=as_float(profile.price_step),
            tax_percent=as_float(rate.percent),
            includes_tax=profile.prices_include_tax,
            currency=profile.currency,
            decimals=money.minor_digits(profile.currency),
        ),
        constants={
            name: (float(value), float(low), float(high)) for name, (value, low, high) in profile.constants.items()
        },
        factors={
            (row.operation, row.material): costing.UsageFactor(row.value, row.low, row.high, row.source)
            for row in Factor.objects.all()
        },
        **(found if profile.carries_again else {**found, "again": {}}),
    )
    return Inputs(
        shop=shop,
        day=day,
        tax=rate,
        rates=tuple(rate for _, rate in rates),
        currency=profile.currency,
        prices_include_tax=profile.prices_include_tax,
        tie=rules.tie,
        volume_system=profile.volume_system,
        missing=tuple(missing),
    )


def taught() -> dict[str, Any]:
    """What the shop's own history makes of the defaults, and which state of learning that is; nothing before any.

    One query; by the names that `costing.Shop` has for them.
    """
    names = ("figures", "digest", "jobs", "logs", "counts", "learned_at")
    row = Experience.objects.readable().filter(learned_at__isnull=False).values(*names).first()
    if row is None:
        return {}
    figures = row["figures"]
    again = {operation: ReworkRate(operation, *one) for operation, one in figures.get("again", {}).items()}
    if not figures.get("cells"):
        return {"again": again}
    return {
        "again": again,
        "learned": {(cell["operation"], cell["material"]): learned_cell(cell) for cell in figures["cells"]},
        "losses": figures["losses"],
        "bases": figures["bases"],
        "experience": {
            **{name: row[name] for name in ("digest", "jobs", "logs", "counts")},
            "learned_at": row["learned_at"].isoformat(),
        },
    }


def learned_cell(cell: Mapping[str, Any]) -> Learned:
    """What was learned of one operation and material, as the row of experience keeps it."""
    names = ("used", "own", "sd", "spread", "logs", "counts")
    set_up = {name: cell[name] for name in ("set_up", "set_up_sd", "together") if name in cell}
    own = {name: cell[name] for name in names}
    return Learned(**own, believed=cell.get("believed", True), **set_up)


def _rates(day: date) -> tuple[tuple[bool, Rate], ...]:
    return tuple((row.for_repairs, Rate(row.category, row.percent)) for row in TaxRate.objects.on(day))


def _wage(day: date, missing: list[Problem]) -> tuple[float, str]:
    row = LabourRate.objects.filter(person__isnull=True, from_day__lte=day).order_by("-from_day", "-pk").first()
    if row is None:
        text = f"There is no wage per hour on {_day(day)}: add one to the shop's labour rates."
        missing.append(Problem("", "wage_per_hour", text, Remedy("shop", "wage_per_hour")))
        return 0.0, ""
    return as_float(row.wage_per_hour), f"the shop's wage, from {_day(row.from_day)}"


def _overhead(day: date) -> tuple[float, str]:
    row = Overhead.objects.filter(from_day__lte=day).order_by("-from_day", "-pk").first()
    if row is None:
        return 0.0, "no overheads entered"
    rate = overhead_rate(as_float(row.monthly), as_float(row.productive_hours))
    return rate, f"{row.monthly.normalize():f} a month over {row.productive_hours.normalize():f} hands-on hours"


def _materials(day: date) -> dict[str, costing.CoreMaterial]:
    prices = prices_on(day)
    return {row.key: _material(row, prices.get(row.key)) for row in StockMaterial.objects.all()}


def materials_of(keys: Collection[str] | None = None) -> dict[str, costing.CoreMaterial]:
    """The store's materials as the core takes them, or some of them, without a price, by key. One query."""
    rows = StockMaterial.objects.all() if keys is None else StockMaterial.objects.filter(key__in=keys)
    return {row.key: _material(row, None) for row in rows}


def _material(row: StockMaterial, price: Any) -> costing.CoreMaterial:
    return costing.CoreMaterial(
        key=row.key,
        name=row.name,
        unit=row.unit,
        price=None if price is None else costing.Price(as_float(price.per_unit), price.words, price.guess),
        **{name: as_float(number) for name in OWN_FACTS if (number := getattr(row, name)) is not None},
        facts={name: float(number) for name, number in row.facts.items() if isinstance(number, int | float)},
        hazard=row.hazard,
        kind=row.kind,
        retired=row.retired_at is not None,
    )


def _day(day: date) -> str:
    return day_words(day, "j M Y")
