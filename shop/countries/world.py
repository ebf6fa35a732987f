"""What a shop can choose from: countries, currencies, ways of writing amounts, time zones. From CLDR and tz."""

from __future__ import annotations

import zoneinfo
from decimal import Decimal
from functools import cache

from babel import Locale
from babel.numbers import format_currency, get_currency_name, get_territory_currencies

Choices = list[tuple[str, str]]

_NOT_COUNTRIES = {"EU", "EZ", "UN", "XA", "XB", "QO", "ZZ"}
_STYLES = (
    "en_IE", "en_GB", "en_US", "en_AU", "en_NZ", "en_CA", "en_ZA", "en_IN", "de_DE", "de_AT", "de_CH", "fr_FR", "fr_CA",
    "es_ES", "es_MX", "pt_PT", "pt_BR", "it_IT", "nl_NL", "da_DK", "sv_SE", "nb_NO", "fi_FI", "pl_PL", "ja_JP",
)  # fmt: skip
_REGIONS = ("Africa", "America", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")


@cache
def countries() -> Choices:
    """(two letters, name), by name."""
    names = Locale("en").territories
    found = [(c, n) for c, n in names.items() if len(c) == 2 and c.isalpha() and c not in _NOT_COUNTRIES]
    return sorted(found, key=lambda pair: pair[1])


@cache
def currencies() -> Choices:
    """(code, code and name) of every currency that is legal tender somewhere, by code."""
    codes = {code for country, _ in countries() for code in get_territory_currencies(country)}
    return [(code, f"{code}, {get_currency_name(code, locale='en')}") for code in sorted(codes)]


@cache
def styles() -> Choices:
    """(locale, an amount written its way), for those whose letters our papers have."""
    found = []
    for key in _STYLES:
        locale = Locale.parse(key)
        sample = format_currency(Decimal("1234.5"), get_territory_currencies(locale.territory or "")[0], locale=locale)
        found.append((key, f"{sample}, {locale.get_display_name('en')}"))
    return found


@cache
def time_zones() -> list[tuple[str, Choices]]:
    """(part of the world, its zones), each zone by the name of its place."""
    names = sorted(zoneinfo.available_timezones())
    return [
        (region, [(n, n.partition("/")[2].replace("_", " ")) for n in names if n.startswith(f"{region}/")])
        for region in _REGIONS
    ]
