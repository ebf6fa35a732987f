"""Whether a tax registration number can be right, by the check digits that python-stdnum knows.

A slip is caught before it is printed on an invoice. It is only ever asked about: rules change, and a library may lag.
"""

from __future__ import annotations

from typing import Any

from stdnum import get_cc_module
from stdnum.au import abn
from stdnum.exceptions import ValidationError
from stdnum.nz import ird

_OWN = {"au-gst": abn, "nz-gst": ird}  # kinds of number that are not called VAT in the library


def looks_wrong(number: str, *, country: str = "", tax_profile: str = "") -> bool:
    """Whether the number fails the check of its country. False too where no check is known.

    `country`: two letters; where empty, the number's own first two are taken. `tax_profile`: a key of countries.tax.
    """
    known = _OWN.get(tax_profile) or _of_country(country or number.strip()[:2])
    if known is None:
        return False
    try:
        known.validate(number)
    except ValidationError:
        return True
    return False


def _of_country(letters: str) -> Any:
    letters = letters.lower()
    if len(letters) != 2 or not letters.isascii() or not letters.isalpha():
        return None
    return get_cc_module("gr" if letters == "el" else letters, "vat")
