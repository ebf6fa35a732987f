"""Unit factors and cloth and roving figures against published tables.

NIST SP 811: Guide for the Use of the International System of Units, National Institute of Standards and Technology,
appendix B.8, factors to seven figures; read in the transcription of the R package NISTunits, those of square and cubic
inch, foot and yard and of the pound per cubic foot from memory. Second witness: the units of SciPy (scipy.constants).
"""

from __future__ import annotations

from decimal import Context, Decimal

import pytest
from scipy import constants

from shop.measures import units

SEVEN = Context(prec=7)

# unit as typed, dimension, NIST SP 811 B.8 factor in the SI unit, canonical units in one SI unit
NIST = [
    ("1 in", "length", "0.0254", 1000),
    ("1 ft", "length", "0.3048", 1000),
    ("1 yd", "length", "0.9144", 1000),
    ("1 sq in", "area", "0.00064516", 10_000),
    ("1 sq ft", "area", "0.09290304", 10_000),
    ("1 sq yd", "area", "0.8361274", 10_000),
    ("1 US gal", "volume", "0.003785412", 1_000_000),
    ("1 US pt", "volume", "0.0004731765", 1_000_000),
    ("1 US fl oz", "volume", "0.00002957353", 1_000_000),
    ("1 imp gal", "volume", "0.00454609", 1_000_000),
    ("1 cu ft", "volume", "0.02831685", 1_000_000),
    ("1 cu in", "volume", "0.00001638706", 1_000_000),
    ("1 lb", "mass", "0.4535924", 1000),
    ("1 oz", "mass", "0.02834952", 1000),
    ("1 oz/yd²", "areal_weight", "0.03390575", 1000),
    ("1 lb/ft³", "density", "16.01846", 1),
]


@pytest.mark.parametrize(("text", "dimension", "factor", "scale"), NIST)
def test_factor_is_that_of_the_standard_to_its_seven_figures(text, dimension, factor, scale):
    ours = units.canonical_exact(units.read(text, dimension=dimension), dimension) / scale
    assert SEVEN.create_decimal(ours) == Decimal(factor)


def test_imperial_fluid_ounce_is_that_of_the_standard_to_the_last_figure_it_prints():
    """NIST SP 811 B.8 prints 2.841 306 E-05 m³; the exact 28.413 062 5 mL lies on the half, so one figure of slack."""
    ours = units.canonical_exact(units.read("1 imp fl oz", dimension="volume"), "volume")
    assert abs(ours - Decimal("28.41306")) <= Decimal("0.00001")


@pytest.mark.parametrize(
    ("text", "dimension", "witness"),
    [
        ("1 in", "length", constants.inch * 1e3),
        ("1 ft", "length", constants.foot * 1e3),
        ("1 yd", "length", constants.yard * 1e3),
        ("1 lb", "mass", constants.pound * 1e3),
        ("1 oz", "mass", constants.ounce * 1e3),
        ("1 US gal", "volume", constants.gallon_US * 1e6),
        ("1 US fl oz", "volume", constants.fluid_ounce_US * 1e6),
        ("1 imp gal", "volume", constants.gallon_imp * 1e6),
        ("1 imp fl oz", "volume", constants.fluid_ounce_imp * 1e6),
        ("1 h", "time", constants.hour / constants.minute),
        ("1 day", "time", constants.day / constants.minute),
        ("1 oz/yd²", "areal_weight", constants.ounce * 1e3 / constants.yard**2),
        ("1 lb/ft³", "density", constants.pound / constants.foot**3),
        ("75 °F", "temperature", constants.convert_temperature(75, "F", "C")),
        ("-40 °F", "temperature", constants.convert_temperature(-40, "F", "C")),
    ],
)
def test_a_second_witness_agrees(text, dimension, witness):
    ours = units.canonical(units.read(text, dimension=dimension, allow_negative=True), dimension)
    assert ours == pytest.approx(witness, rel=1e-9, abs=1e-9)


@pytest.mark.parametrize(("ounces", "grams"), [("6", 203), ("2.3", 78), ("5.0", 170), ("5.8", 197), ("9.0", 305)])
def test_cloth_by_its_ounces_weighs_what_the_weavers_table_says(ounces, grams):
    """CCI, Marine: design tips and fabrication overview, tables of weights and measures, fabrics; to half a gram."""
    ours = units.canonical(units.read(f"{ounces} oz", dimension="areal_weight"), "areal_weight")
    assert ours == pytest.approx(grams, abs=0.51)


@pytest.mark.parametrize(
    ("yards_per_pound", "tex"),
    [(113, 4400), (207, 2400), (225, 2200), (250, 2000), (450, 1100), (675, 735), (900, 550)],
)
def test_roving_sold_by_yield_has_the_tex_of_the_trade_table(yards_per_pound, tex):
    """Apparel Search, Textile measurements, Fiber yield: table of tex and yield; nominal values, to one per cent."""
    assert float(units.tex_from_yield(Decimal(yards_per_pound))) == pytest.approx(tex, rel=0.01)


def test_tex_of_a_yield_of_one_is_the_constant_of_the_lexicon():
    """IADC Lexicon, entry "tow tex", after ISO 14692-1:2017: tex = 496 054.6 / (yards per pound)."""
    assert units.tex_from_yield(Decimal(1)).quantize(Decimal("0.1")) == Decimal("496054.6")
    with pytest.raises(units.UnitError, match="above zero"):
        units.tex_from_yield(Decimal(0))


@pytest.mark.parametrize(("yards_per_pound", "tex"), [(3700, 134), (7500, 66), (15_000, 33)])
def test_glass_yarn_has_the_tex_of_the_composites_table(yards_per_pound, tex):
    """Composite Connections, Composite notes, glass yarn table; to one tex."""
    assert float(units.tex_from_yield(Decimal(yards_per_pound))) == pytest.approx(tex, abs=1)


def test_a_metre_of_six_ounce_cloth_thirty_inches_wide_weighs_155_grams():
    """By hand from NIST SP 811 B.8: 0.762 m × 1 m × 6 × 33.905 75 g/m² = 155.017 g."""
    cloth = units.canonical_exact(units.read("6 oz", dimension="areal_weight"), "areal_weight")
    weight = units.to_stock(
        units.read("1 m", dimension="length"), "g", roll_width_mm=Decimal(762), areal_weight_g_m2=cloth
    )
    assert weight == Decimal("155.017")
