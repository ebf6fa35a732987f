"""Whether two telephone numbers, as people write them, reach the same telephone. PURE: text in, yes or no out."""

from __future__ import annotations

FEWEST_DIGITS = 5  # what is shorter is no number of a customer, so it is like none
TAIL = 6  # last digits that two ways to write one number always share
LEAST_SHARED = 7  # digits that must agree where a country's way to dial is not known here; range 6 to 9, ours

# Calling code, and the digit dialled before a number within the country. Codes as in ITU-T E.164; all from memory.
CALLING = {
    "AE": ("971", "0"), "AR": ("54", "0"), "AT": ("43", "0"), "AU": ("61", "0"), "BE": ("32", "0"),
    "BR": ("55", "0"), "CA": ("1", "1"), "CH": ("41", "0"), "CL": ("56", ""), "CR": ("506", ""),
    "CZ": ("420", ""), "DE": ("49", "0"), "DK": ("45", ""), "ES": ("34", ""), "FI": ("358", "0"),
    "FR": ("33", "0"), "GB": ("44", "0"), "GR": ("30", ""), "ID": ("62", "0"), "IE": ("353", "0"),
    "IL": ("972", "0"), "IN": ("91", "0"), "IS": ("354", ""), "IT": ("39", ""), "JP": ("81", "0"),
    "LK": ("94", "0"), "MA": ("212", "0"), "NL": ("31", "0"), "NO": ("47", ""), "NZ": ("64", "0"),
    "PE": ("51", "0"), "PH": ("63", "0"), "PL": ("48", ""), "PT": ("351", ""), "SE": ("46", "0"),
    "US": ("1", "1"), "ZA": ("27", "0"),
}  # fmt: skip


def digits_of(text: str) -> str:
    """The digits 0 to 9 of a text, nothing else."""
    return "".join(c for c in text if c.isdecimal() and c.isascii())


def tail(phone: str) -> str:
    """The last digits, to look rows up by before `same_phone` is asked; empty where there is no number."""
    digits = digits_of(phone)
    return digits[-TAIL:] if len(digits) >= FEWEST_DIGITS else ""


def same_phone(one: str, other: str, *, country: str) -> bool:
    """Whether both are the same number: `087 123 4567` and `+353 87 123 4567`, in a shop in Ireland.

    `country`: the shop's two letters; a number without a country's prefix is one of there. Where that country's way to
    dial is not known here, so many last digits must agree. A number of fewer than five digits is none.
    """
    if not (tail(one) and tail(other)):
        return False
    (first, first_abroad), (second, second_abroad) = (_read(phone, country) for phone in (one, other))
    if first_abroad == second_abroad:
        return first == second
    longer, shorter = (first, second) if first_abroad else (second, first)
    return len(shorter) >= LEAST_SHARED and longer.endswith(shorter)


def _read(phone: str, country: str) -> tuple[str, bool]:
    """The number's digits, and whether its country's code stands before them."""
    text = phone.strip()
    digits = digits_of(text)
    if text.startswith("+") or digits.startswith("00"):
        return _without_zero_in_brackets(text, digits.removeprefix("00")), True
    if country.upper() not in CALLING:
        return digits.lstrip("0"), False
    code, before = CALLING[country.upper()]
    return code + digits.removeprefix(before), True


def _without_zero_in_brackets(text: str, digits: str) -> str:
    """`+353 (0)87 …`: the zero in brackets is dialled within the country only."""
    ahead, bracket, _ = text.partition("(0)")
    if not bracket:
        return digits
    kept = len(digits_of(ahead).removeprefix("00"))
    return digits[:kept] + digits[kept + 1 :]
