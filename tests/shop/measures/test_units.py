"""What a repairer types into a box for a quantity, and what is shown back. Numbers computed by hand."""

from __future__ import annotations

from decimal import Decimal
from fractions import Fraction

import numpy as np
import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from inventory.catalogue.packs import pack_content
from shop.measures import units

BLANK = "\u00a0"


def exact(text: str, dimension: units.Dimension = "length", **options) -> Decimal:
    return units.canonical_exact(units.read(text, dimension=dimension, **options), dimension)


def sentence(text: str, dimension: units.Dimension = "length", **options) -> str:
    with pytest.raises(units.UnitError) as caught:
        units.read(text, dimension=dimension, **{"name": "Fin base", **options})
    return caught.value.sentence


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("132 mm", "132"),
        ("132mm", "132"),
        ("13.2 cm", "132"),
        ("13,2 CM", "132"),
        (".132 m", "132"),
        ("0,132 m", "132"),
        ("5 1/4 in", "133.35"),
        ("5¼ in", "133.35"),
        ("5 ¼″", "133.35"),
        ("5-1/4 inches", "133.35"),
        ('5.25"', "133.35"),
        ("5,25 in.", "133.35"),
        ("½ in", "12.7"),
        ("15/16 in", "23.8125"),
        ("6'2\"", "1879.6"),
        ("6'2", "1879.6"),
        ("6′2″", "1879.6"),
        ("6’ 2”", "1879.6"),
        ("6' 2''", "1879.6"),
        ("6 ft. 2 in.", "1879.6"),
        ("6ft2in", "1879.6"),
        ("6 ft", "1828.8"),
        ("5 ft 6 in", "1676.4"),
        ("5′6 1/2″", "1689.1"),
        ("5′6½", "1689.1"),
        ("1 yd", "914.4"),
        ("1 500 mm", "1500"),
        ("1\u202f500\u00a0mm", "1500"),
        ("1 500,5 mm", "1500.5"),
        ("1,500.5 mm", "1500.5"),
        ("1.500,5 mm", "1500.5"),
        ("1,234,567 mm", "1234567"),
        ("0,500 m", "500"),
        ("+5 mm", "5"),
        ("\u200e5 mm\ufeff", "5"),
        ("0 mm", "0"),
    ],
)
def test_a_length_is_read_however_it_is_written(text, mm):
    assert exact(text) == Decimal(mm)


@pytest.mark.parametrize(
    ("text", "dimension", "canonical"),
    [
        ("120 cm2", "area", "120"),
        ("120 cm^2", "area", "120"),
        ("0.012 m²", "area", "120"),
        ("1 sq ft", "area", "929.0304"),
        ("250 mL", "volume", "250"),
        ("250 cc", "volume", "250"),
        ("1/4 l", "volume", "250"),
        ("28 g", "mass", "28"),
        ("1,5 kg", "mass", "1500"),
        ("2 lb 3 oz", "mass", "992.233309375"),
        ("5", "count", "5"),
        ("5 discs", "count", "5"),
        ("½ sheet", "count", "0.5"),
        ("68 °F", "temperature", "20"),
        ("20 C", "temperature", "20"),
        ("1 h 30 min", "time", "90"),
        ("1h30", "time", "90"),
        ("1.5 h", "time", "90"),
        ("200 g/m2", "areal_weight", "200"),
        ("200 gsm", "areal_weight", "200"),
        ("64 kg/m^3", "density", "64"),
        ("1.13 g/cm³", "density", "1130"),
        ("2.4 g/m", "linear_weight", "2400"),
        ("1,5 %", "percent", "1.5"),
        ("1.5", "percent", "1.5"),
    ],
)
def test_every_dimension_has_its_units(text, dimension, canonical):
    assert exact(text, dimension) == Decimal(canonical)


def test_gallon_and_fluid_ounce_follow_the_shop():
    assert exact("1 gal", "volume") == Decimal("3785.411784")
    assert exact("1 gal", "volume", volume_system="imperial") == Decimal("4546.09")
    assert exact("1 fl. oz.", "volume", volume_system="imperial") == Decimal("28.4130625")
    assert exact("1 US gal", "volume", volume_system="imperial") == Decimal("3785.411784")
    assert exact("2 imp pt", "volume") == Decimal("1136.5225")


def test_an_ounce_of_cloth_is_an_ounce_per_square_yard_and_an_ounce_of_resin_is_not():
    assert exact("6 oz", "areal_weight") == exact("6 oz/yd²", "areal_weight")
    assert exact("6 oz", "mass") == Decimal("170.09713875")
    assert sentence("6 oz", "volume").endswith("6 oz is a weight.")


def test_the_unit_is_assumed_only_where_the_field_says_so():
    assert exact("132", default_unit="mm") == 132
    assert exact("6'2", default_unit="mm") == Decimal("1879.6")
    assert sentence("132") == "Fin base needs a unit; write a length, like 132 mm or 5 1/4 in."


def test_a_wrong_dimension_is_a_plain_sentence():
    assert sentence("3 kg") == "Fin base must be a length, like 132 mm or 5 1/4 in; 3 kg is a weight."
    assert sentence("20 °C", "mass", name="Resin", example="28 g").startswith(
        "Resin must be a weight, like 28 g; 20 °C is"
    )


@pytest.mark.parametrize(
    ("text", "readings", "values"),
    [
        ("1,500 mm", ("1.5 mm", "1500 mm"), (Decimal("1.5"), 1500)),
        ("1.500 mm", ("1.5 mm", "1500 mm"), (Decimal("1.5"), 1500)),
        ("1.524 m", ("1.5240 m", "1524 m"), (1524, 1_524_000)),
        ("12,500", ("12.5 mm", "12500 mm"), (Decimal("12.5"), 12500)),
        ("51/4 in", ("5.25 in", "12.75 in"), (Decimal("133.35"), Decimal("323.85"))),
    ],
)
def test_what_can_be_read_two_ways_is_asked_about_and_each_answer_can_be_typed(text, readings, values):
    with pytest.raises(units.Ambiguous) as caught:
        units.read(text, dimension="length", default_unit="mm", name="Fin base")
    assert caught.value.readings == readings
    assert f"{readings[0]} or {readings[1]}?" in caught.value.sentence
    assert tuple(exact(reading) for reading in readings) == values


def test_what_was_asked_about_and_kept_is_read_as_it_was():
    assert units.read("1.500 m", dimension="length", kept=True) == units.quantity(Decimal("1.5"), "m")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "   ",
        "9**9**9 m",
        "(1+1) m",
        "1" * 10_000,
        "1" * 10_000 + " mm",
        " " * 10_000,
        "nan",
        "nan mm",
        "inf mm",
        "-inf",
        "1e999 m",
        "1e3 m",
        "0x10 mm",
        "1_000 mm",
        "🏄",
        "5 🏄",
        "١٢ مم",
        "٥ mm",
        "\uff15 mm",
        "\u202e5 mm",
        "5² mm",
        "--5 mm",
        "-5 mm",
        "+-5 mm",
        "1/0 in",
        "5 5/4 in",
        "1/2/3 in",
        "1.2.3 mm",
        "1,23,4 mm",
        "5 furlong",
        "mm",
        "mm 5",
        "30-50 mm",
        "5 ft 14 in",
        "5.5 ft 3 in",
        "5 in 3 ft",
        "1 m 3 mm",
        "1 m 2 m 3 m",
        "10 000 000 000 m",
        "\x00",
        "<script>alert(1)</script>",
        "{{ 7*7 }} mm",
    ],
)
def test_what_cannot_be_read_gets_a_sentence_naming_the_field_and_an_example(text):
    said = sentence(text)
    assert said.startswith("Fin base ")
    assert "like 132 mm or 5 1/4 in" in said
    assert len(said) < 200
    assert "\u202e" not in said
    assert "\x00" not in said


def test_below_zero_is_taken_only_where_it_makes_sense():
    assert exact("-5 °C", "temperature", allow_negative=True) == -5
    assert exact("−5 °C", "temperature", allow_negative=True) == -5
    assert exact("-1' 6\"", allow_negative=True) == Decimal("-457.2")
    assert sentence("-5 mm") == "Fin base must not be below zero; write a length, like 132 mm or 5 1/4 in."


@given(st.text(max_size=60))
def test_no_text_at_all_breaks_the_reader(text):
    try:
        value = units.canonical_exact(units.read(text, dimension="length", default_unit="mm"), "length")
    except units.UnitError:
        return
    assert value.is_finite()


@given(sixty_fourths=st.integers(0, 64 * 200))
def test_any_spelling_of_a_length_gives_the_same_quantity(sixty_fourths):
    inches = Fraction(sixty_fourths, 64)
    whole, part = divmod(sixty_fourths, 64)
    feet, rest = divmod(inches, 12)
    decimal = f"{Decimal(sixty_fourths) / 64:.6f}"
    spellings = [
        f"{whole} {part}/64 in",
        f"{whole}-{part}/64″",
        f"{decimal} in",
        f"{decimal} in".replace(".", ","),  # six decimals are no group of three
        f"{feet}′ {rest.numerator // rest.denominator} {rest % 1 * 64}/64″",
        f"{Decimal(decimal) * Decimal('25.4'):f} mm",
    ]
    assert {exact(text) for text in spellings} == {(Decimal(sixty_fourths) / 64 * Decimal("25.4")).normalize()}


@given(st.decimals(0, 10**9, places=3), st.sampled_from(["en", "en_IE", "de", "fr", "pt_PT"]))
def test_what_is_shown_can_be_typed_again(number, locale):
    shown = units.show(number, "mm", places=1, locale=locale)
    assert abs(exact(shown) - number) <= Decimal("0.05")


@pytest.mark.parametrize(
    ("value", "unit", "shown"),
    [
        (28, "g", "28 g"),
        (28.34, "g", "28.3 g"),
        (0.42, "g", "0.42 g"),
        (Decimal("0.4200"), "g", "0.42 g"),
        (1.25, "m2", "1.25 m²"),
        (132.4, "mm", "132 mm"),
        (9.996, "g", "10 g"),
        (0.0226, "m2", "0.0226 m²"),
        (Fraction(1, 3), "in", "0.333 in"),
        (9999.6, "g", "10\u202f000 g"),
        (1234567, "g", "1\u202f234\u202f567 g"),
        (0, "g", "0 g"),
        (-2.5, "degC", "-2.5 °C"),
        (-0.0, "g", "0 g"),
        (1, "piece", "1 piece"),
        (2, "piece", "2 pieces"),
        (13.5, "percent", "13.5 %"),
    ],
)
def test_a_quantity_is_shown_with_sensible_figures(value, unit, shown):
    assert units.show(value, unit) == BLANK.join(shown.rsplit(" ", 1))


def test_places_and_the_decimal_sign_can_be_fixed_for_a_column():
    assert units.show(Decimal("1.5"), "kg", places=2, locale="de_DE") == f"1,50{BLANK}kg"
    assert units.show(Decimal("2.345"), "kg", places=2) == f"2.35{BLANK}kg"
    with pytest.raises(ValueError, match="finite"):
        units.show(float("nan"), "g")


def test_a_litre_of_resin_is_booked_in_grams_by_its_density():
    litre = units.read_amount("1 L")
    assert units.to_stock(litre, "g", density_kg_m3=Decimal(1130)) == Decimal("1130.000")
    assert units.to_stock(units.quantity(Decimal(565), "g"), "mL", density_kg_m3=Decimal(1130)) == Decimal("500.000")


def test_a_length_of_cloth_is_booked_as_area_or_weight():
    cloth = {"roll_width_mm": Decimal(762), "areal_weight_g_m2": Decimal(200)}
    length = units.read_amount("2 m")
    assert units.to_stock(length, "m2", **cloth) == Decimal("1.524000")
    assert units.to_stock(length, "g", **cloth) == Decimal("304.800")
    assert units.to_stock(units.quantity(24, "g"), "m", linear_weight_tex=Decimal(2400)) == Decimal("10.000000")


@pytest.mark.parametrize(
    ("text", "unit", "said"),
    [
        ("1 L", "g", "Resin is counted in grams; 1 L cannot be turned into them without its density."),
        ("2 m", "m2", "Resin is counted in square metres; 2 m cannot be turned into them without its roll width."),
        ("3 kg", "piece", "Resin is counted in pieces; 3 kg cannot be turned into them."),
        ("0.0001 g", "g", "Resin: 0.0001 g is smaller than can be kept."),
        ("1 000 000 000 kg", "g", "Resin: 1 000 000 000 kg is larger than can be kept."),
    ],
)
def test_what_cannot_be_booked_says_which_fact_is_missing(text, unit, said):
    with pytest.raises(units.UnitError) as caught:
        units.to_stock(units.read_amount(text), unit, name="Resin")
    assert caught.value.sentence.replace("\u202f", " ").replace(BLANK, " ") == said


def test_stock_is_rounded_half_away_from_zero_to_its_step():
    assert units.to_stock(units.quantity(Decimal("1.0005"), "g"), "g") == Decimal("1.001")
    assert units.to_stock(units.quantity(Decimal("-1.0005"), "g"), "g") == Decimal("-1.001")
    assert units.to_stock(units.quantity(Decimal("0.005"), "cm2"), "m2") == Decimal("0.000001")


def test_an_amount_with_a_temperature_is_refused():
    with pytest.raises(units.UnitError, match="20 °C is a temperature"):
        units.read_amount("20 °C", name="Used")
    with pytest.raises(units.UnitError, match="is no amount of it"):
        units.to_stock(units.quantity(20, "min"), "g")


@pytest.mark.parametrize(
    ("text", "unit", "content"),
    [
        ("20 kg", "g", "20000"),
        ("20 kg drum", "g", "20000"),
        ("box of 50 discs", "piece", "50"),
        ("50 pieces", "piece", "50"),
        ("6 × 1 L", "mL", "6000"),
        ("6x500 mL", "mL", "3000"),
        ("5-gal pail", "mL", "18927.059"),
        ("30 in × 50 m roll", "m2", "38.1"),
        ("30 in x 50 m roll", "m", "50"),
        ("762 mm by 50 m", "m2", "38.1"),
        ("12 pieces × 50 m", "m", "600"),
        ("600 mm × 400 mm × 50 mm block", "mL", "12000"),
    ],
)
def test_a_pack_says_what_it_holds(text, unit, content):
    assert pack_content(text, unit) == Decimal(content)


def test_a_pack_is_turned_into_stock_by_the_facts_of_its_material():
    assert pack_content("1 gal", "g", density_kg_m3=Decimal(1130)) == Decimal("4277.515")
    assert pack_content("50 m roll", "m2", roll_width_mm=Decimal(762)) == Decimal("38.1")


@pytest.mark.parametrize(
    "text",
    ["", "drum", "0 kg", "2400 x 1200 mm", "30 × 50 m", "10 kg × 4 m", "1,500 g", "9**9**9 kg", "x" * 10_000, "🏄 kg"],
)
def test_a_pack_that_cannot_be_read_gets_a_sentence(text):
    with pytest.raises(units.UnitError) as caught:
        pack_content(text, "m2", roll_width_mm=Decimal(762), areal_weight_g_m2=Decimal(200))
    assert caught.value.sentence.startswith("Pack")


def test_a_slip_in_our_own_code_names_both_sides():
    with pytest.raises(units.UnitError, match=r"3 kilogram is not a length"):
        units.canonical(units.quantity(3, "kg"), "length")
    with pytest.raises(pint.DimensionalityError):
        units.quantity(3, "kg") + units.quantity(3, "m")


def test_dropping_the_unit_on_the_way_to_numpy_is_an_error():
    """The suite turns pint's warning into an error; a single number refuses by itself."""
    with pytest.raises(pint.UnitStrippedWarning):
        np.asarray(units.registry.Quantity(np.array([3.0]), "kilogram"))
    with pytest.raises(pint.DimensionalityError):
        float(units.quantity(3, "kg"))
