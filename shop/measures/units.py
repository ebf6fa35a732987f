"""Quantities: the one registry of units, and the only way a typed quantity gets in or a stored one gets out.

Typed text never reaches pint's parser. A small grammar cuts it into numbers (`shop.measures.numerals`) and words, each
word is looked up in a closed table (`shop.measures.unit_table`), and the result is a pint Quantity of a Decimal.
Invariant: every spelling of a quantity gives the same `canonical_exact`.
"""

from __future__ import annotations

import functools
import re
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal
from fractions import Fraction
from typing import Any, Literal, TypeAlias, TypedDict

import pint
from babel.numbers import get_decimal_symbol

from shop.measures.numerals import Ambiguous, EntryError, echo, readings, tidy, written
from shop.measures.unit_table import BY_NAME, DEFINITIONS, KINDS, Dimension, UnitEntry, VolumeSystem, unit_called

__all__ = [
    "STOCK_STEP",
    "Ambiguous",
    "Dimension",
    "Quantity",
    "StockUnit",
    "UnitError",
    "UnitFacts",
    "VolumeSystem",
    "canonical",
    "canonical_exact",
    "quantity",
    "read",
    "read_amount",
    "show",
    "show_sizes",
    "symbol",
    "tex_from_yield",
    "to_step",
    "to_stock",
]

UnitError = EntryError  # what a reader of quantities catches; Ambiguous is one of them
Quantity: TypeAlias = pint.registry.Quantity[Any]
StockUnit = Literal["g", "mL", "m", "m2", "piece"]


class UnitFacts(TypedDict, total=False):
    """Facts that turn litres into grams and rolls into area, by the names that `to_stock` takes them under."""

    density_kg_m3: Decimal | None
    areal_weight_g_m2: Decimal | None
    roll_width_mm: Decimal | None
    linear_weight_tex: Decimal | None


MOST = 10**9  # a larger typed number is a slip of the finger; our own limit
MOST_KEPT = 10**12  # with six places still well inside a column of 64 bits
STOCK_STEP: dict[StockUnit, Decimal] = {  # mg, µL, µm, 0.01 cm², 1/1000 piece
    "g": Decimal("0.001"),
    "mL": Decimal("0.001"),
    "m": Decimal("0.000001"),
    "m2": Decimal("0.000001"),
    "piece": Decimal("0.001"),
}
_STOCK_WORDS = {"g": "grams", "mL": "millilitres", "m": "metres", "m2": "square metres", "piece": "pieces"}
_FACTS: tuple[tuple[StockUnit, StockUnit, str], ...] = (
    ("mL", "g", "density"),
    ("m2", "g", "weight per square metre"),
    ("m", "m2", "roll width"),
    ("m", "g", "weight per metre"),
)
_AMOUNTS: tuple[Dimension, ...] = ("mass", "volume", "length", "area", "count")
_KEPT = Decimal("1e-9")  # a canonical value's last place: far below every stock step

registry: pint.UnitRegistry[Any] = pint.UnitRegistry(None, non_int_type=Decimal)
for _definition in DEFINITIONS:
    registry.define(_definition)

_PART = re.compile(r" *((?:[.,](?=[0-9]))?[0-9][0-9.,/ -]*)([^0-9]*)")
_POWER = re.compile(r"(?<=[a-z])\^?([23])(?![0-9a-z])")
_SMALLER = {"ft": ("in", 12), "lb": ("oz", 16), "h": ("min", 60)}  # what may follow, and how many of it make one


@dataclass(frozen=True)
class _Asked:
    """A question to a person; makes the sentences when the answer cannot be taken."""

    name: str
    text: str
    wanted: tuple[Dimension, ...]
    hint: str
    volume_system: VolumeSystem
    kept: bool = False
    typed: str = ""  # the whole of what was typed, where the text is a part of it or was put in other words

    def refuse(self, what: str) -> UnitError:
        """Error that says what is wrong with the answer."""
        return UnitError(f"{self.name} {what}; write {self.hint}.")

    def must_be(self, why_not: str) -> UnitError:
        """Error that says what the answer must be, and why it is not."""
        return UnitError(f"{self.name} must be {self.hint}; {why_not}.")

    def unreadable(self) -> UnitError:
        """Error for an answer that is no number with a unit."""
        return self.must_be(f"“{echo(self.typed or self.text)}” cannot be read")

    def which(self, meanings: tuple[str, ...]) -> Ambiguous:
        """Question which of several readings is meant."""
        asked = " or ".join(meanings)
        return Ambiguous(f"{self.name}: does {echo(self.text)} mean {asked}? Write the one you mean.", meanings)


def read(
    text: str,
    *,
    dimension: Dimension,
    default_unit: str | None = None,
    volume_system: VolumeSystem = "us",
    allow_negative: bool = False,
    name: str = "Quantity",
    example: str | None = None,
    kept: bool = False,
) -> Quantity:
    """Quantity read from typed text, of the dimension asked for, in the unit that was written.

    `default_unit`, a name such as "mm", is meant where no unit is written; `name` and `example` stand in the sentence.
    `kept` is text that was typed, asked about and stored before: its point is a decimal point. Raises UnitError with a
    sentence for the person, or Ambiguous with the readings to choose from.
    """
    kind = KINDS[dimension]
    hint = f"{kind.words}, like {example or kind.example}"
    return _read(_Asked(name, text, (dimension,), hint, volume_system, kept), default_unit or kind.bare, allow_negative)


def read_amount(
    text: str,
    *,
    default_unit: str | None = None,
    volume_system: VolumeSystem = "us",
    name: str = "Amount",
    example: str = "20 kg",
    typed: str = "",
) -> Quantity:
    """Quantity read from typed text as a weight, volume, length, area or number of pieces, whichever it is.

    Where `text` is only a part of it or was put in other words, `typed` is what the sentence says cannot be read.
    Raises UnitError or Ambiguous, as `read` does.
    """
    hint = f"an amount, like {example}"
    return _read(_Asked(name, text, _AMOUNTS, hint, volume_system, typed=typed), default_unit, False)


def quantity(number: Decimal | int | Fraction, unit: str) -> Quantity:
    """Quantity from a number of ours and the name of its unit in the table, for what nobody typed."""
    return registry.Quantity(_decimal(Fraction(number)), BY_NAME[unit].expression)


def canonical_exact(value: Quantity, dimension: Dimension) -> Decimal:
    """Number in the core's unit of a dimension, to nine decimals.

    Length mm, area cm², volume mL, mass g, count pieces, temperature °C, time min, areal weight g/m², density kg/m³,
    linear weight tex, percentage points. Raises UnitError for a quantity of another dimension.
    """
    kind = KINDS[dimension]
    unit = BY_NAME[kind.canonical]
    if not value.is_compatible_with(unit.expression):
        raise UnitError(f"{value.magnitude:f} {value.units} is not {kind.words}, like {kind.example}.")
    return _plain(_number_in(value, unit).quantize(_KEPT, ROUND_HALF_UP))


def canonical(value: Quantity, dimension: Dimension) -> float:
    """Number in the core's unit of a dimension, as the float that costing estimates with; see `canonical_exact`."""
    return float(canonical_exact(value, dimension))


def to_stock(
    value: Quantity,
    unit: StockUnit,
    *,
    density_kg_m3: Decimal | None = None,
    areal_weight_g_m2: Decimal | None = None,
    roll_width_mm: Decimal | None = None,
    linear_weight_tex: Decimal | None = None,
    name: str = "This material",
) -> Decimal:
    """Number in the unit its material is counted in, rounded half away from zero to that unit's step.

    The facts turn a volume, an area or a length into a weight, and a length of roll into an area, and back. Raises
    UnitError naming the fact that is missing, or if the result is too small or too large to be kept.
    """
    here: StockUnit | None = next((u for u in STOCK_STEP if value.is_compatible_with(BY_NAME[u].expression)), None)
    if here is None:
        raise UnitError(f"{name} is counted in {_STOCK_WORDS[unit]}; {_said(value)} is no amount of it.")
    facts = (density_kg_m3, areal_weight_g_m2, roll_width_mm, linear_weight_tex)
    rate = _rate(here, unit, facts)
    if rate is None:
        missing = next((f" without its {words}" for a, b, words in _FACTS if {a, b} == {here, unit}), "")
        raise UnitError(
            f"{name} is counted in {_STOCK_WORDS[unit]}; {_said(value)} cannot be turned into them{missing}."
        )
    number = Fraction(_number_in(value, BY_NAME[here])) * rate
    if abs(number) >= MOST_KEPT:
        raise UnitError(f"{name}: {_said(value)} is larger than can be kept.")
    kept = to_step(_decimal(number), unit)
    if number and not kept:
        raise UnitError(f"{name}: {_said(value)} is smaller than can be kept.")
    return kept


def to_step(amount: Decimal, unit: str) -> Decimal:
    """Amount in a material's unit, rounded half away from zero to the step that its stock is kept in."""
    return amount.quantize(STOCK_STEP[unit], ROUND_HALF_UP)  # type: ignore[index]


def tex_from_yield(yards_per_pound: Decimal) -> Decimal:
    """Linear weight in tex (g/km) of a roving sold by its yards per pound: 496 054.648 over the yield.

    From the pound and the yard, exact in NIST SP 811, appendix B.8: 453.592 37 g and 0.9144 m. Raises UnitError for a
    yield that is not above zero.
    """
    if yards_per_pound <= 0:
        raise UnitError("Yield must be above zero, like 450 yards per pound.")
    return Decimal("453.59237") / Decimal("0.0009144") / yards_per_pound


def symbol(unit: str) -> str:
    """Print of a unit: "m2" gives m²."""
    return BY_NAME[unit].symbol


def show(value: Decimal | Fraction | float, unit: str, *, places: int | None = None, locale: str = "en") -> str:
    """Text of a number with its unit, joined by a blank that does not break: 28 g, 0.42 g, 1.25 m², 10 000 g.

    Without `places`: three significant figures, the whole part never cut, no trailing zeros. With it: exactly so many.
    Rounds half away from zero. From 10 000 digits are set in threes by a thin blank (NIST SP 811, section 10.5.3),
    never by a comma, so that what is shown can be typed again; the decimal sign is the locale's. Raises ValueError for
    a number that is not finite.
    """
    number = (
        value
        if isinstance(value, Decimal)
        else _decimal(value)
        if isinstance(value, Fraction)
        else Decimal(str(float(value)))
    )
    if not number.is_finite():
        raise ValueError(f"{value} {unit} cannot be shown: it is not a finite number")
    kept = min(9, max(0, 2 - number.adjusted())) if places is None else places
    rounded = number.quantize(Decimal(1).scaleb(-kept), ROUND_HALF_UP)
    digits = f"{abs(_plain(rounded) if places is None else rounded):f}"
    whole, _, decimals = digits.partition(".")
    grouped = f"{int(whole):,}".replace(",", "\u202f") if len(whole) > 4 else whole
    sign = "-" if rounded < 0 else ""
    words = "pieces" if unit == "piece" and abs(rounded) != 1 else symbol(unit)
    return sign + grouped + (_decimal_sign(locale) + decimals if decimals else "") + "\u00a0" + words


def show_sizes(lengths_mm: Sequence[Decimal], unit: str, *, locale: str = "en") -> str:
    """Text of several lengths in one unit, which is said once: 118 × 34 × 23 mm, 4.65 × 1.34 × 0.91 in."""
    places = {"mm": 0, "cm": 1, "in": 2}[unit]
    shown = [
        show(_number_in(quantity(each, "mm"), BY_NAME[unit]), unit, places=places, locale=locale) for each in lengths_mm
    ]
    return " × ".join([*(each.partition("\u00a0")[0] for each in shown[:-1]), *shown[-1:]])


def _read(asked: _Asked, default_unit: str | None, allow_negative: bool) -> Quantity:
    """Quantity of the one or two parts that the text is cut into. Raises UnitError or Ambiguous."""
    tidied = tidy(asked.text)
    if tidied is None:
        raise asked.refuse("is too long")
    if not tidied:
        raise asked.refuse("is empty")
    minus, parts = _cut(tidied)
    if not parts or len(parts) > 2:
        raise asked.unreadable()
    unit = _unit(parts[0][1], asked, default_unit)
    meanings = readings(parts[0][0], point_may_group=not asked.kept)
    if not meanings:
        raise asked.unreadable()
    if len(parts) == 2:
        number, unit = _two_parts(meanings, unit, parts[1], asked)
    elif len(meanings) > 1:
        raise asked.which(tuple(f"{minus}{written(number)} {unit.symbol}" for number in meanings))
    else:
        number = meanings[0]
    if minus and number and not allow_negative:
        raise asked.refuse("must not be below zero")
    if number > MOST:
        raise asked.refuse("is larger than anything in a shop")
    return quantity(-number if minus else number, unit.name)


def _cut(tidied: str) -> tuple[str, list[tuple[str, str]]]:
    """Sign, and each number with the word behind it; no parts if something else is left over."""
    minus = "-" if tidied.startswith("-") else ""
    text = _POWER.sub(lambda m: "²" if m[1] == "2" else "³", tidied.removeprefix(minus or "+").lower())
    parts, at = [], 0
    while at < len(text):
        match = _PART.match(text, at)
        if not match:
            return minus, []
        parts.append((match[1].rstrip(" -"), " ".join(match[2].replace(".", "").split())))
        at = match.end()
    return minus, parts


def _unit(word: str, asked: _Asked, default_unit: str | None) -> UnitEntry:
    """Unit of a part. Raises UnitError if it has none, an unknown one, or one of another dimension."""
    if not word:
        if default_unit is None:
            raise asked.refuse("needs a unit")
        return BY_NAME[default_unit]
    unit = unit_called(word, wanted=asked.wanted, volume_system=asked.volume_system)
    if unit is None:
        raise asked.must_be(f"“{echo(word)}” is not a unit this shop knows")
    if unit.dimension not in asked.wanted:
        raise asked.must_be(f"{echo(asked.text)} is {KINDS[unit.dimension].words}")
    return unit


def _two_parts(
    first: tuple[Fraction, ...], unit: UnitEntry, second: tuple[str, str], asked: _Asked
) -> tuple[Fraction, UnitEntry]:
    """Feet and inches, pounds and ounces, hours and minutes, as one number of the smaller unit.

    Raises UnitError where the two do not go together.
    """
    if unit.name not in _SMALLER:
        raise asked.unreadable()
    smaller, count = _SMALLER[unit.name]
    rest = readings(second[0], point_may_group=False)
    if _unit(second[1], asked, smaller).name != smaller or len(first) != 1 or len(rest) != 1:
        raise asked.unreadable()
    if first[0].denominator != 1 or rest[0] >= count:
        raise asked.must_be(f"in “{echo(asked.text)}” the {unit.symbol} must be whole and the {smaller} below {count}")
    return first[0] * count + rest[0], BY_NAME[smaller]


def _rate(here: StockUnit, there: StockUnit, facts: tuple[Decimal | None, ...]) -> Fraction | None:
    """Factor from one stock unit to another by the material's facts, in one step or two; None without them."""
    per: dict[tuple[str, str], Fraction] = {(here, here): Fraction(1)}
    for (a, b, _), fact, scale in zip(_FACTS, facts, (1000, 1, 1000, 1000), strict=True):
        if fact:
            per[a, b], per[b, a] = Fraction(fact) / scale, scale / Fraction(fact)
    return next(
        (per[here, via] * per[via, there] for via in STOCK_STEP if (here, via) in per and (via, there) in per), None
    )


def _number_in(value: Quantity, unit: UnitEntry) -> Decimal:
    return Decimal(value.to(unit.expression).magnitude)


def _said(value: Quantity) -> str:
    """A quantity of a programmer's or person's making, in the unit it came in."""
    unit = next((u.name for u in BY_NAME.values() if value.units == registry.parse_units(u.expression)), None)
    return show(value.magnitude, unit) if unit else f"{value.magnitude:f} {value.units}"


def _decimal(number: Fraction) -> Decimal:
    return Decimal(number.numerator) / Decimal(number.denominator)


@functools.cache
def _decimal_sign(locale: str) -> str:
    return get_decimal_symbol(locale)


def _plain(number: Decimal) -> Decimal:
    """Without trailing zeros and without an exponent."""
    return number.quantize(Decimal(1)) if number == number.to_integral_value() else number.normalize()
