"""What a pack of each starting material may cost, so that a new shop can price before it has typed any price.

Every figure is a guess: invented by us, plausible, of no supplier, without tax, and marked as a guess wherever it is
used. A pack's own price or a delivery takes its place. Other currencies are the guess in euro by a round factor from
memory, which gives the right size of a price and nothing more; a currency that is not here has no guesses.
"""

from __future__ import annotations

import math
from decimal import ROUND_HALF_UP, Decimal
from typing import NamedTuple

from shop.measures.money import round_money

D = Decimal


class Guess(NamedTuple):
    """A pack as the trade says it, and what it may cost in a currency, without tax."""

    words: str
    price: Decimal


GUESSES_IN_EURO: dict[str, Guess] = {
    "resin-lam": Guess("5 kg tin", D("44")),
    "resin-gloss": Guess("5 kg tin", D("48")),
    "mekp": Guess("500 mL bottle", D("13")),
    "wax-styrene": Guess("250 mL bottle", D("9.50")),
    "epoxy-resin": Guess("5 kg can", D("105")),
    "epoxy-hardener": Guess("2 kg can", D("52")),
    "foam-32": Guess("2 kg kit", D("36")),
    "foam-56": Guess("2 kg kit", D("38")),
    "foam-64": Guess("2 kg kit", D("39")),
    "microspheres": Guess("500 g bag", D("16")),
    "milled-fibre": Guess("1 kg bag", D("13")),
    "chopped-strand": Guess("1 kg bag", D("12")),
    "cloth-4oz": Guess("30 in × 25 m roll", D("115")),
    "cloth-6oz": Guess("30 in × 25 m roll", D("140")),
    "roving": Guess("spool of 900 m", D("16")),
    "tape-masking": Guess("box of 24 rolls, 25 mm × 50 m", D("72")),
    "masking-film": Guess("2 m × 50 m roll", D("18")),
    "release-film": Guess("1.5 m × 10 m roll", D("14")),
    "disc-p80": Guess("box of 50 discs", D("30")),
    "disc-p100": Guess("box of 50 discs", D("30")),
    "disc-p120": Guess("box of 50 discs", D("30")),
    "disc-p180": Guess("box of 50 discs", D("30")),
    "disc-p240": Guess("box of 50 discs", D("30")),
    "disc-p320": Guess("box of 50 discs", D("30")),
    "sheet-p400": Guess("pack of 50 sheets", D("35")),
    "sheet-p600": Guess("pack of 50 sheets", D("35")),
    "sheet-p800": Guess("pack of 50 sheets", D("37")),
    "sheet-p1200": Guess("pack of 50 sheets", D("40")),
    "basecoat": Guess("1 L tin", D("80")),
    "thinner": Guess("5 L can", D("38")),
    "clear-2k": Guess("1 L tin", D("45")),
    "clear-hardener": Guess("500 mL tin", D("29")),
    "compound": Guess("1 kg tub", D("26")),
    "polishing-pad": Guess("1 pad", D("14")),
    "acetone": Guess("5 L can", D("22")),
    "gloves": Guess("box of 50 pairs", D("12")),
    "cup": Guess("sleeve of 50 cups", D("9")),
    "stick": Guess("box of 100 sticks", D("4")),
    "brush": Guess("box of 24 brushes", D("13")),
    "rag": Guess("bag of 100 rags", D("20")),
    "cartridge-set": Guess("1 set", D("16")),
    "dust-bag": Guess("pack of 5 bags", D("34")),
    "router-bit": Guess("1 bit", D("22")),
    "blade": Guess("box of 50 blades", D("13")),
    "ca-glue": Guess("50 g bottle", D("15")),
    "syringe": Guess("box of 20 syringes", D("8")),
    "needle": Guess("box of 50 needles", D("7")),
    "dowel": Guess("bundle of 10 dowels", D("9")),
    "stringer": Guess("1 strip of 2.4 m", D("11")),
    "fin-box": Guess("bag of 4 boxes", D("38")),
    "leash-plug": Guess("bag of 5 plugs", D("23")),
}

# Of each currency for one euro, round figures from memory. They only make a guess the size of a price there.
FOR_ONE_EURO: dict[str, Decimal] = {
    "EUR": D(1), "GBP": D("0.85"), "CHF": D("0.95"), "USD": D("1.1"), "SGD": D("1.5"), "CAD": D("1.5"),
    "AUD": D("1.65"), "NZD": D("1.8"), "ILS": D(4), "PEN": D(4), "PLN": D("4.3"), "RON": D(5), "BRL": D(6),
    "DKK": D("7.5"), "MAD": D("10.5"), "NOK": D("11.5"), "SEK": D("11.5"), "MXN": D(20), "ZAR": D(20), "CZK": D(25),
    "TWD": D(35), "INR": D(90), "ISK": D(150), "JPY": D(160), "HUF": D(400), "CLP": D(1000), "KRW": D(1500),
    "IDR": D(17000),
}  # fmt: skip


def guess_of(key: str, currency: str) -> Guess | None:
    """The guess for a starting material in a currency; None where there is none."""
    guess, factor = GUESSES_IN_EURO.get(key), FOR_ONE_EURO.get(currency)
    if guess is None or factor is None:
        return None
    return guess._replace(price=_as_a_price(guess.price * factor, currency))


def _as_a_price(amount: Decimal, currency: str) -> Decimal:
    """An amount as round as a guess is: to a twentieth of its power of ten, 39.10 to 39, 122.4 to 120."""
    step = D(10) ** (math.floor(math.log10(amount))) / 20
    return round_money((amount / step).quantize(D(1), ROUND_HALF_UP) * step, currency)
