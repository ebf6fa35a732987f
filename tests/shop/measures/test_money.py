"""Money as the counter types it, rounds it, shows it and spreads its cents. Numbers computed by hand."""

from __future__ import annotations

from decimal import Decimal

import numpy as np
import pytest
from babel.numbers import format_currency
from hypothesis import given
from hypothesis import strategies as st

from shop.measures import money, units


@pytest.mark.parametrize(
    ("amount", "half_up", "half_down"),
    [
        ("2.345", "2.35", "2.34"),
        ("2.3451", "2.35", "2.35"),
        ("2.355", "2.36", "2.35"),
        ("2.365", "2.37", "2.36"),
        ("2.344", "2.34", "2.34"),
        ("-2.345", "-2.35", "-2.34"),
        ("-0.004", "0.00", "0.00"),
    ],
)
def test_half_a_cent_goes_away_from_zero_unless_the_tax_profile_drops_it(amount, half_up, half_down):
    assert str(money.round_money(Decimal(amount), "EUR")) == half_up
    assert str(money.round_money(Decimal(amount), "EUR", "half_down")) == half_down


def test_a_currency_brings_its_own_decimals():
    assert money.round_money(Decimal("1234.5"), "JPY") == 1235
    assert money.round_money(Decimal("1.23456"), "KWD") == Decimal("1.235")
    with pytest.raises(ValueError, match="XXY is not a currency code"):
        money.round_money(Decimal(1), "XXY")


def test_what_is_shown_is_rounded_before_it_is_formatted():
    """Babel rounds half to even by itself: the second line of the pair is what we keep off the paper."""
    assert money.show_money(Decimal("2.345"), "AUD", "en_AU") == "$2.35"
    assert format_currency(Decimal("2.345"), "AUD", locale="en_AU") == "$2.34"
    assert money.show_money(Decimal("2.365"), "EUR", "en_IE") == "€2.37"


def test_money_is_set_as_the_locale_sets_it():
    assert money.show_money(Decimal("1234.5"), "EUR", "en_IE") == "€1,234.50"
    assert money.show_money(Decimal("1234.5"), "EUR", "de_DE") == "1.234,50\u00a0€"
    assert money.show_money(Decimal("1234.5"), "JPY", "en") == "¥1,235"
    assert money.show_money(Decimal("-0.001"), "EUR", "en_IE") == "€0.00"


def test_a_unit_price_keeps_the_decimals_it_has():
    assert money.show_price(Decimal("0.1212"), "EUR", "en_IE") == "€0.1212"
    assert money.show_price(Decimal(48), "EUR", "en_IE") == "€48.00"
    assert money.show_price(Decimal("7.12345"), "EUR", "en_IE") == "€7.1235"


def test_an_estimate_becomes_exact_by_its_shortest_name():
    assert money.from_float(0.1) == Decimal("0.1")
    assert money.from_float(np.float64(0.1)) == Decimal("0.1")
    assert money.from_float(2.675) == Decimal("2.675")
    for number in (float("nan"), float("inf"), -float("inf")):
        with pytest.raises(ValueError, match="not a finite number"):
            money.from_float(number)


def test_a_column_keeps_ten_thousandths():
    assert money.stored(Decimal("1.00005")) == Decimal("1.0001")
    assert money.stored(Decimal("-1.00005")) == Decimal("-1.0001")


def test_shown_cents_add_up():
    thirds = [Decimal(10) / 3] * 3
    assert money.spread(thirds, "EUR") == [Decimal("3.34"), Decimal("3.33"), Decimal("3.33")]
    assert money.spread([Decimal("0.336"), Decimal("0.333"), Decimal("0.331")], "EUR") == [
        Decimal("0.34"),
        Decimal("0.33"),
        Decimal("0.33"),
    ]
    assert money.spread([], "EUR") == []
    assert money.spread([Decimal("1.4"), Decimal("1.4")], "JPY") == [2, 1]


def test_a_total_the_parts_cannot_reach_is_a_slip():
    with pytest.raises(ValueError, match="not the sum of these parts"):
        money.spread([Decimal("1.00")], "EUR", total=Decimal("1.05"))
    with pytest.raises(ValueError, match="not the sum of these parts"):
        money.spread([Decimal("1.00")], "EUR", total=Decimal("1.001"))


@given(st.lists(st.decimals(-1000, 1000, places=6), max_size=30))
def test_spread_parts_always_add_up_and_none_moves_a_whole_cent(parts):
    shown = money.spread(parts, "EUR")
    assert sum(shown) == money.round_money(sum(parts, Decimal(0)), "EUR")
    assert all(abs(a - b) < Decimal("0.01") for a, b in zip(shown, parts, strict=True))


@pytest.mark.parametrize(
    ("text", "options", "amount"),
    [
        ("25", {}, "25"),
        ("25.00", {}, "25"),
        ("25,5", {}, "25.5"),
        ("€25", {}, "25"),
        ("25 €", {}, "25"),
        ("EUR 25", {}, "25"),
        ("25eur", {}, "25"),
        ("1 500,50", {}, "1500.5"),
        ("1,500.50", {}, "1500.5"),
        ("1.500,50", {}, "1500.5"),
        ("1,234,567", {}, "1234567"),
        ("1\u202f500 €", {}, "1500"),
        ("A$25", {"currency": "AUD"}, "25"),
        ("$25", {"currency": "AUD"}, "25"),
        ("£25", {"currency": "GBP"}, "25"),
        ("1500", {"currency": "JPY"}, "1500"),
        ("0.1234", {"places": 4}, "0.1234"),
        ("12.345", {"places": 4}, "12.345"),
        ("-5", {"allow_negative": True}, "-5"),
        ("-€5", {"allow_negative": True}, "-5"),
        ("€ −5", {"allow_negative": True}, "-5"),
        ("-0", {}, "0"),
    ],
)
def test_an_amount_is_read_however_it_is_written(text, options, amount):
    assert money.read_money(text, **options) == Decimal(amount)


@pytest.mark.parametrize("text", ["1,500", "1.500", "€1,500"])
def test_an_amount_that_can_be_read_two_ways_is_asked_about(text):
    with pytest.raises(units.Ambiguous) as caught:
        money.read_money(text, name="Deposit")
    assert caught.value.readings == ("1.5", "1500")
    assert caught.value.sentence == f"Deposit: does {text} mean 1.5 or 1500? Write the one you mean."


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "Deposit is empty; write an amount in EUR, like 25.00."),
        ("1" * 10_000, "Deposit is too long; write an amount in EUR, like 25.00."),
        ("-5", "Deposit must not be below zero; write an amount in EUR, like 25.00."),
        ("12.3456", "Deposit must have at most 2 decimals, like 25.00; 12.3456 has more."),
        ("9 999 999 999", "Deposit is larger than anything in a shop; write an amount in EUR, like 25.00."),
        ("$25", "Deposit must be an amount in EUR, like 25.00; “$25” cannot be read."),
    ],
)
def test_what_is_no_amount_gets_a_sentence(text, said):
    with pytest.raises(units.UnitError) as caught:
        money.read_money(text, name="Deposit")
    assert caught.value.sentence == said


@pytest.mark.parametrize(
    "text",
    [
        "nan",
        "inf",
        "1e999",
        "1e3",
        "9**9",
        "--5",
        "-€-5",
        "1/2",
        "12½",
        "🏄",
        "٢٥",
        "€",
        "25 kg",
        "1.2.3",
        "=1+1",
        "€ 5 $",
    ],
)
def test_what_is_no_amount_is_refused_quickly_whatever_it_is(text):
    with pytest.raises(units.UnitError, match="cannot be read"):
        money.read_money(text, allow_negative=True)


@given(st.text(max_size=60))
def test_no_text_at_all_breaks_the_reader(text):
    try:
        amount = money.read_money(text)
    except units.UnitError:
        return
    assert amount.is_finite()
    assert amount >= 0


@given(st.decimals(-(10**6), 10**6, places=2), st.sampled_from([("EUR", "fr_FR"), ("EUR", "pt_PT"), ("SEK", "sv_SE")]))
def test_what_is_shown_where_a_comma_divides_can_be_typed_again(amount, setting):
    currency, locale = setting
    shown = money.show_money(amount, currency, locale).replace("kr", currency)
    assert money.read_money(shown, currency=currency, allow_negative=True) == amount
