"""What usually goes with a country, and what a shop usually begins with: set-up offers it, the shop may change it.

Currencies, languages and signs come from CLDR (through Babel), time zones from the tz database; what they lack stands
in small tables here, each with where it is from. Invariant: nothing here is ever taken for what the shop itself said.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from importlib.resources import files
from unicodedata import east_asian_width

from babel import Locale, UnknownLocaleError
from babel.core import get_global
from babel.numbers import get_territory_currencies

from shop.countries import tax, world
from shop.measures.money import show_money

# Unicode CLDR, supplemental data, measurementData, paperSize US-Letter; from memory.
LETTER = {
    "BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE",
}  # fmt: skip
# Where a gallon was the imperial one before litres came; common practice, no source.
IMPERIAL = {
    "AG", "AU", "BB", "BM", "BS", "CA", "DM", "FJ", "GB", "GD", "GG", "GI", "GY", "IE", "IM", "IN", "JE", "JM", "KE",
    "KN", "LC", "LK", "MT", "MU", "NZ", "SC", "TT", "VC", "ZA",
}  # fmt: skip
# The zone most people of a country live in, where the tz database does not name it first; from memory.
MOST_USUAL_ZONE = {
    "AU": "Australia/Sydney", "BR": "America/Sao_Paulo", "CA": "America/Toronto", "FM": "Pacific/Pohnpei",
    "RU": "Europe/Moscow", "UA": "Europe/Kyiv", "UZ": "Asia/Tashkent",
}  # fmt: skip
# Newer than the CLDR in use here: the euro from 1 January 2026; from memory.
NEWER_MONEY = {"BG": ("EUR",)}
# What an hour of a repairer's hands may cost the shop, in money of the place: guesses, invented by us.
GUESSED_WAGE = {
    code: Decimal(wage)
    for code, wage in {
        "AED": 60, "ARS": 9000, "AUD": 40, "BRL": 45, "CAD": 32, "CHF": 42, "CLP": 8000, "CNY": 60,
        "COP": 20000, "CRC": 4500, "CZK": 320, "DKK": 200, "DOP": 400, "EGP": 150, "EUR": 22, "FJD": 15, "GBP": 20,
        "GTQ": 50, "HKD": 120, "HNL": 130, "HUF": 4500, "IDR": 60000, "ILS": 80, "INR": 250, "ISK": 4500, "JPY": 2500,
        "KRW": 20000, "LKR": 800, "MAD": 60, "MXN": 150, "MYR": 30, "NIO": 200, "NOK": 300, "NZD": 35, "PAB": 10,
        "PEN": 25, "PHP": 200, "PLN": 60, "RON": 60, "SEK": 260, "SGD": 25, "THB": 200, "TRY": 400, "TWD": 350,
        "USD": 28, "UYU": 450, "VND": 120000, "XOF": 3000, "XPF": 2500, "ZAR": 150,
    }.items()
}  # fmt: skip
GUESSED_HOURS = Decimal(120)  # hands-on in a month, of one person who also answers the door; invented by us
_MONTH = 50  # hours' wages that a month's overheads may come to; invented by us
_STEP = Decimal("0.23")  # of an hour's wage, before it is rounded to 1, 2 or 5; invented by us


@dataclass(frozen=True)
class Country:
    """What usually goes with a country; text is empty, and rates None, where nothing is known.

    `currencies` and `zones`: all that are in use there, the most usual first. `repair_rate`, `goods_rate`: per cent.
    """

    code: str
    name: str
    currencies: tuple[str, ...]
    locale: str
    zones: tuple[str, ...]
    paper: str
    volume_system: str
    tax_profile: str
    repair_rate: Decimal | None
    goods_rate: Decimal | None

    @property
    def currency(self) -> str:
        """Code of the usual currency; "" where none is known."""
        return self.currencies[0] if self.currencies else ""

    @property
    def timezone(self) -> str:
        """Name of the first time zone; "" where none is known."""
        return self.zones[0] if self.zones else ""

    @property
    def summary(self) -> str:
        """What goes with the country in one line, for whoever sets up there."""
        papers = {"A4": "A4 paper", "letter": "US Letter paper"}
        like = show_money(Decimal("1234.5"), self.currency or "EUR", self.locale)
        money = f"Money in {self.currency}" if self.currency else "Pick a currency"
        zone = self.timezone.rpartition("/")[2].replace("_", " ")
        time = (
            f"the time of {zone}{' (there are others)' if len(self.zones) > 1 else ''}"
            if zone
            else "a time zone to pick"
        )
        return f"{money}, amounts like {like}, {time}, {papers[self.paper]}."

    @property
    def taxes(self) -> world.Choices:
        """(key, name) of the tax profiles to choose from: the country's own, and being registered for none."""
        return [(key, tax.profile(key).name) for key in dict.fromkeys((self.tax_profile, tax.NOT_REGISTERED))]


@dataclass(frozen=True)
class UsualFigures:
    """What a shop may begin with, in one currency: a wage an hour, overheads a month, smallest job, rounding step."""

    wage: Decimal
    overhead_monthly: Decimal
    minimum_price: Decimal
    price_step: Decimal


@cache
def country(code: str) -> Country:
    """What usually goes with a country, by its two letters. Raises ValueError for one that there is not."""
    names = dict(world.countries())
    if code not in names:
        raise ValueError(f"{code} is not a country, like IE")
    key = tax.profile_of(code)
    repair, goods = tax.usual_rates(code)
    return Country(
        code=code,
        name=names[code],
        currencies=NEWER_MONEY.get(code) or tuple(get_territory_currencies(code)),
        locale=_style(code),
        zones=_zones_of(code),
        paper="letter" if code in LETTER else "A4",
        volume_system="imperial" if code in IMPERIAL else "us",
        tax_profile=key,
        repair_rate=repair,
        goods_rate=goods,
    )


def measures_in(code: str) -> str:
    """The unit in which a shop of a country tells its customers how large a damage is."""
    return "in" if code == "US" else "mm"


@cache
def guess(currency: str) -> UsualFigures | None:
    """What a shop may begin with in a currency; None where we have no idea of its worth."""
    if currency not in GUESSED_WAGE:
        return None
    wage = GUESSED_WAGE[currency]
    step = _one_two_five(wage * _STEP)
    return UsualFigures(wage, _two_digits(wage * _MONTH), 5 * step, step)


def _one_two_five(amount: Decimal) -> Decimal:
    """The 1, 2 or 5 times a power of ten that is nearest by ratio; never below 1."""
    power = Decimal(10) ** int(amount.log10().to_integral_value(rounding="ROUND_FLOOR"))
    nearest = min((1, 2, 5, 10), key=lambda times: abs(math.log(amount / (times * power))))
    return max(Decimal(1), nearest * power)


def _two_digits(amount: Decimal) -> Decimal:
    """An amount with its first two digits only, written without an exponent."""
    return Decimal(f"{Decimal(f'{amount:.2g}'):f}")


@cache
def _zones() -> dict[str, list[str]]:
    """Zones by country, in the order of the tz database (zone.tab): the most populous first where its map allows."""
    found: dict[str, list[str]] = {}
    table = (files("tzdata") / "zoneinfo" / "zone.tab").read_text(encoding="utf-8")
    for line in table.splitlines():
        if line and not line.startswith("#"):
            code, _, zone = line.split("\t")[:3]
            found.setdefault(code, []).append(zone)
    return found


def _zones_of(code: str) -> tuple[str, ...]:
    offered = {zone for _, zones in world.time_zones() for zone, _ in zones}
    zones = [zone for zone in _zones().get(code, ()) if zone in offered]
    return tuple(sorted(zones, key=lambda zone: zone != MOST_USUAL_ZONE.get(code)))


def _style(code: str) -> str:
    """The way of writing amounts nearest to the country's own among those that our papers have letters for.

    Its own where there is one; else one of its language, else any, with the same decimal sign and group sign if it can
    be. The language is the likely one of CLDR. None in full-width signs (￥), which need a font of their own.
    """
    language = get_global("likely_subtags").get(f"und_{code}", f"en_Latn_{code}").partition("_")[0]
    spoken = _locale_of(language, code)
    plain = (key for key, words in world.styles() if all(east_asian_width(letter) != "F" for letter in words))
    styles = [Locale.parse(key) for key in plain]

    def unlike(style: Locale) -> tuple[bool, ...]:
        return (
            style.territory != code,
            style.language != spoken.language if style.territory == code else False,
            _sign(style, "decimal") != _sign(spoken, "decimal"),
            style.language != spoken.language,
            _sign(style, "group") != _sign(spoken, "group"),
        )

    return str(min(styles, key=unlike))


def _locale_of(language: str, code: str) -> Locale:
    for key in (f"{language}_{code}", language):
        try:
            return Locale.parse(key)
        except UnknownLocaleError:
            continue
    return Locale("en")


def _sign(locale: Locale, name: str) -> str:
    """A sign of its numbers; CLDR's many spaces are one."""
    sign = locale.number_symbols["latn"].get(name, ".")
    return " " if not sign.strip() else str(sign)
