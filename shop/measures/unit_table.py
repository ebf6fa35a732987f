"""The closed table of units: what each measures, what people call it, and how it is printed.

A word that is not here is not a unit. `DEFINITIONS` are the lines the registry is built from, and all it knows.
Factors: NIST SP 811 (Guide for the Use of the International System of Units), appendix B.8. Exact: inch 25.4 mm, pound
453.592 37 g, imperial gallon 4.546 09 L, and (from memory) the US gallon as 231 cubic inches; the others follow.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Dimension = Literal[
    "length",
    "area",
    "volume",
    "mass",
    "count",
    "temperature",
    "time",
    "areal_weight",
    "density",
    "linear_weight",
    "percent",
]
VolumeSystem = Literal["us", "imperial"]

DEFINITIONS = (
    "metre = [length] = m",
    "millimetre = 0.001 * metre = mm",
    "centimetre = 0.01 * metre = cm",
    "inch = 0.0254 * metre",
    "foot = 12 * inch",
    "yard = 36 * inch",
    "gram = [mass] = g",
    "milligram = 0.001 * gram = mg",
    "kilogram = 1000 * gram = kg",
    "pound = 453.59237 * gram",
    "ounce = 0.0625 * pound",
    "litre = 0.001 * metre ** 3 = L",
    "millilitre = 0.001 * litre = mL",
    "us_gallon = 231 * inch ** 3",
    "us_quart = 0.25 * us_gallon",
    "us_pint = 0.125 * us_gallon",
    "us_fluid_ounce = 0.0078125 * us_gallon",
    "imperial_gallon = 4.54609 * litre",
    "imperial_quart = 0.25 * imperial_gallon",
    "imperial_pint = 0.125 * imperial_gallon",
    "imperial_fluid_ounce = 0.00625 * imperial_gallon",
    "minute = [time]",
    "hour = 60 * minute",
    "day = 24 * hour",
    "kelvin = [temperature]",
    "degC = kelvin; offset: 273.15",
    "degF = 5 / 9 * kelvin; offset: 459.67 * 5 / 9",
    "piece = [count]",
    "percent = [share]",
    "tex = 0.001 * gram / metre",
)


@dataclass(frozen=True)
class DimensionKind:
    """A dimension: its name in a sentence, and the unit the core counts it in."""

    words: str
    example: str
    canonical: str
    bare: str | None = None  # the unit of a number written without one, where only one can be meant


KINDS: dict[Dimension, DimensionKind] = {
    "length": DimensionKind("a length", "132 mm or 5 1/4 in", "mm"),
    "area": DimensionKind("an area", "120 cm² or 18 sq in", "cm2"),
    "volume": DimensionKind("a volume", "250 mL or 1/2 pt", "mL"),
    "mass": DimensionKind("a weight", "28 g or 1 oz", "g"),
    "count": DimensionKind("a number of pieces", "2 or 5 sheets", "piece", "piece"),
    "temperature": DimensionKind("a temperature", "20 °C or 68 °F", "degC"),
    "time": DimensionKind("a time", "25 min or 1 h 30 min", "min"),
    "areal_weight": DimensionKind("a weight per area", "200 g/m² or 6 oz/yd²", "g/m2"),
    "density": DimensionKind("a density", "64 kg/m³ or 4 lb/ft³", "kg/m3"),
    "linear_weight": DimensionKind("a weight per length", "2400 tex", "tex"),
    "percent": DimensionKind("a percentage", "1.5 %", "percent", "percent"),
}


@dataclass(frozen=True)
class UnitEntry:
    """A unit: its name in code, its dimension, its expression in the registry, people's words, and its print."""

    name: str
    dimension: Dimension
    expression: str
    words: str  # in small letters, divided by commas
    symbol: str


UNITS = (
    UnitEntry("mm", "length", "mm", "mm, millimetre, millimetres, millimeter, millimeters", "mm"),
    UnitEntry("cm", "length", "cm", "cm, centimetre, centimetres, centimeter, centimeters", "cm"),
    UnitEntry("m", "length", "m", "m, metre, metres, meter, meters", "m"),
    UnitEntry("in", "length", "inch", 'in, ", inch, inches, ins', "in"),
    UnitEntry("ft", "length", "foot", "ft, ', foot, feet", "ft"),
    UnitEntry("yd", "length", "yard", "yd, yds, yard, yards", "yd"),
    UnitEntry("cm2", "area", "cm ** 2", "cm², sq cm, square centimetres, square centimeters", "cm²"),
    UnitEntry("m2", "area", "m ** 2", "m², sq m, sqm, square metre, square metres, square meter, square meters", "m²"),
    UnitEntry("in2", "area", "inch ** 2", "in², sq in, square inch, square inches", "in²"),
    UnitEntry("ft2", "area", "foot ** 2", "ft², sq ft, sqft, square foot, square feet", "ft²"),
    UnitEntry("yd2", "area", "yard ** 2", "yd², sq yd, square yard, square yards", "yd²"),
    UnitEntry("mL", "volume", "mL", "ml, cc, cm³, millilitre, millilitres, milliliter, milliliters", "mL"),
    UnitEntry("L", "volume", "L", "l, litre, litres, liter, liters", "L"),
    UnitEntry("m3", "volume", "m ** 3", "m³, cubic metre, cubic metres, cubic meter, cubic meters", "m³"),
    UnitEntry("in3", "volume", "inch ** 3", "in³, cu in, cubic inch, cubic inches", "in³"),
    UnitEntry("ft3", "volume", "foot ** 3", "ft³, cu ft, cubic foot, cubic feet", "ft³"),
    UnitEntry("us_gal", "volume", "us_gallon", "us gal, us gallon, us gallons", "US gal"),
    UnitEntry("us_qt", "volume", "us_quart", "us qt, us quart, us quarts", "US qt"),
    UnitEntry("us_pt", "volume", "us_pint", "us pt, us pint, us pints", "US pt"),
    UnitEntry("us_floz", "volume", "us_fluid_ounce", "us fl oz, us fluid ounce, us fluid ounces", "US fl oz"),
    UnitEntry("imp_gal", "volume", "imperial_gallon", "imp gal, imperial gallon, imperial gallons", "imp gal"),
    UnitEntry("imp_qt", "volume", "imperial_quart", "imp qt, imperial quart, imperial quarts", "imp qt"),
    UnitEntry("imp_pt", "volume", "imperial_pint", "imp pt, imperial pint, imperial pints", "imp pt"),
    UnitEntry(
        "imp_floz",
        "volume",
        "imperial_fluid_ounce",
        "imp fl oz, imperial fluid ounce, imperial fluid ounces",
        "imp fl oz",
    ),
    UnitEntry("mg", "mass", "mg", "mg, milligram, milligrams", "mg"),
    UnitEntry("g", "mass", "g", "g, gram, grams, gramme, grammes", "g"),
    UnitEntry("kg", "mass", "kg", "kg, kgs, kilo, kilos, kilogram, kilograms", "kg"),
    UnitEntry("oz", "mass", "ounce", "oz, ounce, ounces", "oz"),
    UnitEntry("lb", "mass", "pound", "lb, lbs, pound, pounds", "lb"),
    UnitEntry(
        "piece", "count", "piece", "piece, pieces, pc, pcs, each, ea, sheet, sheets, disc, discs, disk, disks", "piece"
    ),
    UnitEntry("degC", "temperature", "degC", "°c, c, deg c, degc, celsius", "°C"),
    UnitEntry("degF", "temperature", "degF", "°f, f, deg f, degf, fahrenheit", "°F"),
    UnitEntry("min", "time", "minute", "min, mins, minute, minutes", "min"),
    UnitEntry("h", "time", "hour", "h, hr, hrs, hour, hours", "h"),
    UnitEntry("day", "time", "day", "d, day, days", "d"),
    # A cloth is called by its ounces: "6 oz" on a cloth means ounces per square yard (common practice, no source).
    UnitEntry("oz/yd2", "areal_weight", "ounce / yard ** 2", "oz/yd², oz/sq yd, oz, ounce, ounces", "oz/yd²"),
    UnitEntry("g/m2", "areal_weight", "g / m ** 2", "g/m², gsm, g/sq m", "g/m²"),
    UnitEntry("kg/m3", "density", "kg / m ** 3", "kg/m³", "kg/m³"),
    UnitEntry("g/cm3", "density", "g / cm ** 3", "g/cm³, g/ml, g/cc, kg/l", "g/cm³"),
    UnitEntry("lb/ft3", "density", "pound / foot ** 3", "lb/ft³, lbs/ft³, pcf, lb/cu ft", "lb/ft³"),
    UnitEntry("tex", "linear_weight", "tex", "tex, g/km", "tex"),
    UnitEntry("g/m", "linear_weight", "g / m", "g/m", "g/m"),
    UnitEntry("percent", "percent", "percent", "%, percent, per cent", "%"),
)

BY_NAME = {unit.name: unit for unit in UNITS}
_BY_WORD = {(unit.dimension, word): unit for unit in UNITS for word in unit.words.split(", ")}
_SYSTEM_WORDS = {
    **dict.fromkeys(("gal", "gallon", "gallons"), "gal"),
    **dict.fromkeys(("qt", "quart", "quarts"), "qt"),
    **dict.fromkeys(("pt", "pint", "pints"), "pt"),
    **dict.fromkeys(("fl oz", "floz", "fluid ounce", "fluid ounces"), "floz"),
}


def unit_called(word: str, *, wanted: Iterable[Dimension], volume_system: VolumeSystem) -> UnitEntry | None:
    """Unit that a word means among the `wanted` dimensions, else in any dimension, else None.

    Gallon, quart, pint and fluid ounce are those of the shop's `volume_system`.
    """
    if stem := _SYSTEM_WORDS.get(word):
        return BY_NAME[f"{'us' if volume_system == 'us' else 'imp'}_{stem}"]
    return next((unit for dimension in (*wanted, *KINDS) if (unit := _BY_WORD.get((dimension, word)))), None)
