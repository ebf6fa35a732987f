"""The same telephone is known however its number is written; two telephones stay two."""

from __future__ import annotations

import pytest

from shop.text.phones import CALLING, digits_of, same_phone, tail

# ITU-T E.123, Notation for national and international telephone numbers, e-mail addresses and Web addresses: a national
# number is written with its trunk prefix, in brackets or not, the international one with + and the country's code and
# without the prefix. The codes themselves, of ITU-T E.164, are from memory.
SAME = [
    ("IE", "087 123 4567", "+353 87 123 4567"),
    ("IE", "087 123 4567", "00353 87 1234567"),
    ("IE", "(087) 123-4567", "+353 (0)87 123 4567"),
    ("IE", "0871234567", "00353 (0)87 123 4567"),
    ("GB", "01273 496 000", "+44 1273 496000"),
    ("DE", "030 123456", "+49 30 123456"),
    ("US", "(607) 555-0123", "+1 607 555 0123"),
    ("US", "1-607-555-0123", "607 555 0123"),
    ("ES", "912 345 678", "+34 912 345 678"),
    ("IT", "06 1234 5678", "+39 06 1234 5678"),  # its zero belongs to the number
    ("AU", "0491 570 156", "+61 491 570 156"),
    ("ie", "087 123 4567", "087-1234567"),
    ("XX", "087 123 4567", "+353 87 123 4567"),
    ("XX", "087 123 4567", "0871234567"),
    ("IE", "+1 607 555 0123", "+1 (607) 555-0123"),
]
OTHER = [
    ("IE", "087 123 4567", "+44 87 123 4567"),
    ("GB", "087 123 4567", "+353 87 123 4567"),
    ("IE", "087 123 4567", "087 123 4568"),
    ("IE", "087 123 4567", "086 123 4567"),
    ("US", "607 555 0123", "+1 608 555 0123"),
    ("IT", "6 1234 5678", "+39 06 1234 5678"),
    ("IE", "", ""),
    ("IE", "12", "12"),
    ("IE", "no phone", "none"),
    ("XX", "4567", "+353 87 123 4567"),
]


@pytest.mark.parametrize(("country", "one", "other"), SAME)
def test_one_number_however_it_is_written(country, one, other):
    assert same_phone(one, other, country=country)
    assert same_phone(other, one, country=country)
    assert tail(one) == tail(other) != ""  # so that it is looked up at all


@pytest.mark.parametrize(("country", "one", "other"), OTHER)
def test_two_numbers_stay_two(country, one, other):
    assert not same_phone(one, other, country=country)
    assert not same_phone(other, one, country=country)


def test_only_plain_digits_count():
    assert digits_of("+٣٥٣ 087 x½") == "087"


def test_codes_are_those_that_can_be_told_apart():
    codes = {code for code, _ in CALLING.values()}
    assert not [(a, b) for a in codes for b in codes if a != b and b.startswith(a)]  # no code begins another
