"""Money: Decimal amounts of one currency, rounded once, spread without a cent lost, read and shown.

Invariant: no float becomes money except through `from_float`; nothing is formatted that was not rounded here first,
because Babel rounds half to even. Minor units of a currency: ISO 4217 as carried by CLDR, through Babel.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from decimal import ROUND_DOWN, ROUND_HALF_DOWN, ROUND_HALF_UP, Decimal
from typing import Literal

from babel.numbers import format_currency, get_currency_precision, get_currency_symbol, is_currency

from shop.measures.apportion import in_steps
from shop.measures.numerals import Ambiguous, EntryError, echo, readings, tidy, written

Tie = Literal["half_up", "half_down"]

STORED_STEP = Decimal("0.0001")  # what a money column keeps: 1/10 000 of the currency unit
MOST = Decimal(10**9)  # a larger typed amount is a slip of the finger; our own limit
_AMOUNT = re.compile(r"(-?) ?([^0-9.,\- ]*) ?(-?) ?([0-9.,][0-9., ]*?) ?([^0-9.,\- ]*)")
_TIES = {"half_up": ROUND_HALF_UP, "half_down": ROUND_HALF_DOWN}


def minor_digits(currency: str) -> int:
    """Decimals of a currency: 2 for EUR, 0 for JPY. Raises ValueError for a code that ISO 4217 does not know."""
    if not is_currency(currency):
        raise ValueError(f"{currency} is not a currency code, like EUR")
    return get_currency_precision(currency)


def smallest_coin(currency: str) -> Decimal:
    """Step of a currency's amounts: 0.01 for EUR, 1 for JPY."""
    return Decimal(1).scaleb(-minor_digits(currency))


def round_money(amount: Decimal, currency: str, tie: Tie = "half_up") -> Decimal:
    """Amount rounded to the currency's minor unit, half away from zero: 2.345 gives 2.35, -2.345 gives -2.35.

    With the tie rule "half_down" an exact half is dropped, as a New Zealand supplier may (Goods and Services Tax Act
    1985, section 19O): 2.345 gives 2.34, 2.3451 gives 2.35. Never gives a negative zero.
    """
    return amount.quantize(smallest_coin(currency), _TIES[tie]) + 0


def stored(amount: Decimal) -> Decimal:
    """Amount to 1/10 000 of the currency unit, half away from zero: what a money column keeps."""
    return amount.quantize(STORED_STEP, ROUND_HALF_UP) + 0


def from_float(number: float) -> Decimal:
    """Decimal of an estimate, the one crossing to exact: the shortest decimal that names the float, 0.1 gives 0.1.

    Takes NumPy floats. Raises ValueError for what is not finite.
    """
    if not math.isfinite(number):
        raise ValueError(f"{number} is not a finite number")
    return Decimal(str(float(number)))


def spread(parts: Sequence[Decimal], currency: str, total: Decimal | None = None) -> list[Decimal]:
    """Parts rounded to the currency's minor unit so that they add up to `total`, by default their rounded sum.

    By largest remainder (`shop.measures.apportion`). Raises ValueError for a total that is out of their reach.
    """
    if total is None:
        total = round_money(sum(parts, Decimal(0)), currency)
    return in_steps(parts, total, smallest_coin(currency))


def read_money(
    text: str,
    *,
    currency: str = "EUR",
    places: int | None = None,
    allow_negative: bool = False,
    name: str = "Price",
    example: str | None = None,
) -> Decimal:
    """Amount read from typed text, with at most `places` decimals (default: those of the currency).

    The currency's sign or code may stand before or behind. `1,500` is asked about, and so is `1.500` where an amount
    cannot have three decimals. Raises EntryError with a sentence for the person, or Ambiguous with the readings.
    """
    digits = minor_digits(currency) if places is None else places
    example = example or f"{Decimal(25):.{minor_digits(currency)}f}"
    like = f"an amount in {currency}, like {example}"
    tidied = tidy(text)
    if tidied is None:
        raise EntryError(f"{name} is too long; write {like}.")
    if not tidied:
        raise EntryError(f"{name} is empty; write {like}.")
    minus, number = _number(tidied, currency)
    meanings = readings(number, point_may_group=digits < 3)
    if not meanings:
        raise EntryError(f"{name} must be {like}; “{echo(text)}” cannot be read.")
    if len(meanings) > 1:
        which = tuple(minus + written(meaning) for meaning in meanings)
        raise Ambiguous(f"{name}: does {echo(text)} mean {' or '.join(which)}? Write the one you mean.", which)
    amount = Decimal(written(meanings[0]))
    if minus and amount and not allow_negative:
        raise EntryError(f"{name} must not be below zero; write {like}.")
    if amount > MOST:
        raise EntryError(f"{name} is larger than anything in a shop; write {like}.")
    if amount != amount.quantize(Decimal(1).scaleb(-digits), ROUND_DOWN):
        raise EntryError(
            f"{name} must have at most {digits} decimals, like {example or '25.00'}; {echo(text)} has more."
        )
    return (-amount if minus else amount) + 0


def show_money(amount: Decimal, currency: str, locale: str) -> str:
    """Text of an amount in currency, rounded half away from zero and set as the locale does: €1,234.50."""
    return format_currency(round_money(amount, currency), currency, locale=locale)


def show_price(amount: Decimal, currency: str, locale: str) -> str:
    """Text of a unit price in currency, with up to four decimals where it has them: €0.1212, €48.00."""
    return format_currency(stored(amount), currency, locale=locale, decimal_quantization=False)


def _number(tidied: str, currency: str) -> tuple[str, str]:
    """Sign, and the text without it and the currency's own sign or code; no text if another word is there."""
    match = _AMOUNT.fullmatch(tidied)
    if not match:
        return "", ""
    before, number, after = match[2], match[4], match[5]
    short = get_currency_symbol(currency, "en").lower()
    own = {"", currency.lower(), short, short[-1] if not short[-1].isalpha() else short}
    if not {before.lower(), after.lower()} <= own or (match[1] and match[3]):
        return "", ""
    return match[1] or match[3], number
