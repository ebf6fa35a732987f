"""The one bridge from rows to the costing core, and the one edge between exact rows and float estimates.

Rows hold Decimal, the core holds floats; every number crosses here, through `str`, so that 0.1 stays 0.1.
A way is priced on the sum of its parts' costs (one margin, one minimum, one price step); its lines by hand come on top
at their own price; tax is worked out per rate on the sums.
Invariant: the number of queries does not grow with materials, prices, factors or parts.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal
from math import fsum
from typing import Any, NamedTuple

from django.utils.dateformat import format as day_words

from inventory.models import Material as StockMaterial
from inventory.stock.prices import prices_on
from quotes import costing
from quotes.costing import (
    Construction,
    CoreRecipe,
    Given,
    PlannedStep,
    Problem,
    Remedy,
    Snapshot,
    earned_per_hour,
    lay_out,
    overhead_rate,
)
from quotes.costing.learning.again import Again
from quotes.costing.money.pricing import hands_on
from quotes.costing.parts.inputs import OWN_FACTS
from quotes.costing.parts.usage import Learned
from quotes.models import Experience, Factor, RecipeVersion, TakeIn
from quotes.totals import DocumentLine, Totals, totals
from shop.countries import tax
from shop.measures import money, units
from shop.models import ClosedDay, LabourRate, Overhead, Profile, TaxRate
from shop.platform.acts import Refused

MONDAY_TO_FRIDAY = (0, 1, 2, 3, 4)
UNTAXED = "O"


class Rate(NamedTuple):
    """A tax rate as lines carry it: category of EN 16931 and per cent."""

    category: str
    percent: Decimal


class HandLine(NamedTuple):
    """A line by hand: its price as the shop's prices are, what it costs the shop without tax, and its tax rate."""

    words: str
    price: Decimal
    cost: Decimal = Decimal(0)
    percent: Decimal = Decimal(0)


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
        """The same for a customer with a discount, or a quote in a rush: what is rushed is worked alone."""
        pricing = replace(
            self.shop.pricing, discount_percent=_float(discount_percent), rush_percent=_float(rush_percent)
        )
        return replace(self, shop=replace(self.shop, pricing=pricing, alone=rush_percent > 0))

    def alone(self) -> Inputs:
        """The same for a job that is worked alone: no other board shares its set-ups."""
        return replace(self, shop=replace(self.shop, alone=True))

    def rate_of(self, percent: Decimal) -> Rate:
        """The rate of so many per cent in force on the day; its category is standard, or zero rated, if none is."""
        if percent == self.tax.percent:
            return self.tax
        known = next((rate for rate in self.rates if rate.percent == percent), None)
        return known or Rate("S" if percent else "Z", percent)


@dataclass(frozen=True)
class Calendar:
    """Which days are worked, and how many hands-on hours each has."""

    hours_per_day: float
    working_days: frozenset[int]
    closed: frozenset[date] = frozenset()

    def is_open(self, day: date) -> bool:
        return day.weekday() in self.working_days and day not in self.closed

    def first_open(self, day: date) -> date:
        """The first worked day on or after `day`. Raises Refused if none comes within a year."""
        for later in range(366):
            if self.is_open(day + timedelta(later)):
                return day + timedelta(later)
        raise Refused("No day within a year is worked: check the working days and closed days of the shop.")

    def begun_after(self, day: date, minutes: float) -> date:
        """The first worked day on or after `day` that is free once so many hands-on minutes of other work are done."""
        free = self.first_open(day)
        for _ in range(int(minutes // (60 * self.hours_per_day))):
            free = self.first_open(free + timedelta(days=1))
        return free


def _float(number: Decimal) -> float:
    return float(str(number))


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
        temperature_c=_float(profile.shop_temperature_c) if temperature is None else temperature,
        hours_per_day=_float(profile.bench_hours_per_day),
        pricing=costing.Pricing(
            method="markup" if profile.price_method == "markup" else "margin",
            percent=_float(profile.margin_percent),
            minimum=_float(profile.minimum_price),
            step=_float(profile.price_step),
            tax_percent=_float(rate.percent),
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
    again = {operation: Again(operation, *one) for operation, one in figures.get("again", {}).items()}
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
    return _float(row.wage_per_hour), f"the shop's wage, from {_day(row.from_day)}"


def _overhead(day: date) -> tuple[float, str]:
    row = Overhead.objects.filter(from_day__lte=day).order_by("-from_day", "-pk").first()
    if row is None:
        return 0.0, "no overheads entered"
    rate = overhead_rate(_float(row.monthly), _float(row.productive_hours))
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
        price=None if price is None else costing.Price(_float(price.per_unit), price.words, price.guess),
        **{name: _float(number) for name in OWN_FACTS if (number := getattr(row, name)) is not None},
        facts={name: float(number) for name, number in row.facts.items() if isinstance(number, int | float)},
        hazard=row.hazard,
        kind=row.kind,
        retired=row.retired_at is not None,
    )


def _day(day: date) -> str:
    return day_words(day, "j M Y")


def read_typed(
    recipe: CoreRecipe, typed: Mapping[str, str], *, volume_system: units.VolumeSystem = "us", kept: bool = True
) -> tuple[dict[str, Given], dict[str, str]]:
    """What was typed for a recipe's measures: the canonical values, and a sentence for each that cannot be read.

    Nothing typed is left out, so that the recipe's own default stands or the core asks for it. `kept` is what a form
    has asked about already; `1.500` in other text gives a sentence.
    """
    given: dict[str, Given] = {}
    wrong: dict[str, str] = {}
    for measure in recipe.measures:
        text = typed.get(measure.name, "")
        if not text.strip():
            continue
        try:
            quantity = units.read(
                text,
                dimension=measure.dimension,
                default_unit=measure.unit,
                volume_system=volume_system,
                allow_negative=measure.dimension == "temperature",
                name=measure.label,
                kept=kept,
            )
            given[measure.name] = Given(units.canonical(quantity, measure.dimension), text.strip())
        except units.UnitError as problem:
            wrong[measure.name] = problem.sentence
    return given, wrong


def core_recipe(version: RecipeVersion) -> CoreRecipe:
    """The recipe of a version as the core takes it."""
    return CoreRecipe.from_dict(version.body)


def construction(takein: TakeIn) -> Construction:
    """How a board that was taken in is built, as the core takes it, and whether it is wet.

    The one way from rows to the core: it asks for the take-in, so that nobody can leave its water out.
    """
    board = takein.board
    return Construction(core=board.core, resin=board.resin, skin=board.skin, wet=takein.wet)  # type: ignore[arg-type]


def estimate(
    *,
    version: RecipeVersion,
    measures: Mapping[str, str | Given | float],
    day: date,
    board: Construction,
    inputs: Inputs | None = None,
    accepted_odd: Collection[str] = (),
) -> costing.Estimate:
    """A recipe worked out for one board. What is missing is in its `problems`; then it has no price.

    Measures are as typed, or already canonical. Raises Refused with a sentence per measure that cannot be read.
    """
    inputs = inputs or shop_inputs(day=day)
    recipe = core_recipe(version)
    typed = {name: text for name, text in measures.items() if isinstance(text, str)}
    given, wrong = read_typed(recipe, typed, volume_system=inputs.volume_system)
    if wrong:
        raise Refused({name: [sentence] for name, sentence in wrong.items()})
    handed = {name: value for name, value in measures.items() if not isinstance(value, str)}
    made = costing.estimate(recipe, {**handed, **given}, inputs.shop, board=board, accepted_odd=accepted_odd)
    if inputs.missing:
        made.problems, made.priced = [*inputs.missing, *made.problems], None
    return made


@dataclass(frozen=True)
class Asked:
    """One damage of a board as it is asked about: a key of the caller's, its name on the page, recipe and measures.

    Measures are as typed, or already canonical. `optional`: the customer may leave it.
    """

    key: str
    name: str
    version: RecipeVersion
    measures: Mapping[str, str | Given | float]
    accepted_odd: Collection[str] = ()
    optional: bool = False


def estimate_board(
    *,
    asked: Sequence[Asked],
    day: date,
    board: Construction,
    inputs: Inputs | None = None,
    choices: bool = True,
) -> costing.BoardEstimate:
    """Several damages of one board worked out as one job, with the price of each and of every choice.

    What is missing is in its `problems`; then it has no price. Raises Refused with a sentence per measure that cannot
    be read, under "KEY-MEASURE", or where these damages make no board (see `costing.estimate_board`).
    """
    inputs = inputs or shop_inputs(day=day)
    wrong: dict[str, list[str]] = {}
    damages = []
    for one in asked:
        recipe = core_recipe(one.version)
        typed = {name: text for name, text in one.measures.items() if isinstance(text, str)}
        given, unread = read_typed(recipe, typed, volume_system=inputs.volume_system)
        wrong |= {f"{one.key}-{name}": [f"{one.name}: {sentence}"] for name, sentence in unread.items()}
        handed = {name: value for name, value in one.measures.items() if not isinstance(value, str)}
        damages.append(
            costing.CoreDamage(one.key, one.name, recipe, {**handed, **given}, one.accepted_odd, one.optional)
        )
    if wrong:
        raise Refused(wrong)
    try:
        made = costing.estimate_board(damages, inputs.shop, board=board, choices=choices)
    except ValueError as no_board:
        raise Refused(str(no_board)) from no_board
    return made.without_price(inputs.missing) if inputs.missing else made


def price_way(
    snapshots: Sequence[Snapshot],
    *,
    inputs: Inputs,
    lines: Sequence[HandLine] = (),
    by_hand: Decimal | None = None,
) -> dict[str, Any]:
    """What a whole way costs and is sold at; money is None while a part has problems.

    `by_hand` is the price of the whole way as the customer sees it. Adds to the core's figures `lines` (the work, then
    the lines by hand, as prices are in this shop) and `document`, their totals. Raises Refused when a price by hand
    does not even hold the lines by hand.
    """
    pricing = inputs.shop.pricing
    extras = sum((line.price for line in lines), Decimal(0))
    work = None if by_hand is None else by_hand - extras
    if work is not None and work < 0:
        raise Refused(
            f"A price of {by_hand} does not hold the lines by hand, which come to {extras}: set a higher one.",
            field="price_by_hand",
        )
    way = costing.price_way(snapshots, pricing, shown=work)
    if way["price"] is None:
        return {**way, "lines": [], "document": None}
    rows, document = document_of(Decimal(way["shown"]), inputs=inputs, lines=lines)
    bought = sum((line.cost for line in lines), Decimal(0))
    cost = way["cost_unrounded"] + _float(bought)
    outlay = fsum(part.outlay or 0.0 for part in snapshots) + _float(bought)
    exact_cost = money.round_money(money.from_float(cost), inputs.currency)
    return {
        **way,
        "cost": str(exact_cost),
        "cost_unrounded": cost,
        "outlay": outlay,
        "price_before_tax": str(document.net),
        "tax": str(document.tax),
        "price": str(document.gross),
        "shown": str(document.lines_total),
        "earned_per_hour": earned_per_hour(_float(document.net), outlay, hands_on(snapshots)),
        "margin": _margin(way["margin"], document.net, exact_cost, lines),
        "lines": [
            {
                "words": row.words,
                "price": f"{row.unit_price:.{pricing.decimals}f}",
                "tax_category": row.tax_category,
                "tax_percent": f"{row.tax_percent.normalize():f}",
                "by_hand": index > 0,
            }
            for index, row in enumerate(rows)
        ],
        "document": document.as_dict(),
    }


def document_of(work: Decimal, *, inputs: Inputs, lines: Sequence[HandLine] = ()) -> tuple[list[DocumentLine], Totals]:
    """The lines of a way whose work is sold at `work`, then those by hand, all as prices are in this shop, and their
    totals."""
    rows = [DocumentLine("Work", Decimal(1), work, *inputs.tax)]
    rows += [DocumentLine(line.words, Decimal(1), line.price, *inputs.rate_of(line.percent)) for line in lines]
    return rows, totals(rows, currency=inputs.currency, prices_include_tax=inputs.prices_include_tax, tie=inputs.tie)


def _margin(work: Mapping[str, Any], net: Decimal, cost: Decimal, lines: Sequence[HandLine]) -> dict[str, Any]:
    """The margin of the whole way: the work's trail, then what the lines by hand add."""
    gain = net - cost
    added = [{"words": f"line by hand: {line.words}", "amount": str(line.price)} for line in lines]
    return {
        **work,
        "amount": str(gain),
        "of_price_percent": _float(gain / net * 100) if net else 0.0,
        "of_cost_percent": _float(gain / cost * 100) if cost else 0.0,
        "trail": [*work["trail"], *added],
    }


def shop_calendar() -> Calendar:
    """The shop's working days, closed days and hands-on hours, in two queries."""
    profile = Profile.objects.get()
    return Calendar(
        hours_per_day=_float(profile.bench_hours_per_day),
        working_days=frozenset(profile.working_days or MONDAY_TO_FRIDAY),
        closed=frozenset(ClosedDay.objects.values_list("day", flat=True)),
    )


def ready_on(parts: Sequence[Sequence[PlannedStep]], *, start: date, calendar: Calendar) -> date | None:
    """The day a way is ready when its first step is begun on `start`, a worked day. None if there is nothing to do.

    `parts` holds the planned steps of each part. Cures of different parts run side by side; hands do one thing at a
    time, so each part is reckoned as if the hands did all the others first, and the latest one counts.
    """
    hands = [fsum(step.minutes for step in steps) for steps in parts]
    last = None
    for steps, own in zip(parts, hands, strict=True):
        if not steps:
            continue
        first = replace(steps[0], minutes=steps[0].minutes + fsum(hands) - own)
        slots = lay_out(
            [first, *steps[1:]],
            hours_per_day=calendar.hours_per_day,
            is_open=lambda number: calendar.is_open(start + timedelta(number)),
        )
        last = max(last or 0, slots[-1].end_day)
    return None if last is None else start + timedelta(last)
