"""Tax profiles: what a shop's tax is called, how it is rounded, and what its papers must carry, as plain frozen data.

A profile holds what the law of a place says in general; rates with their days are the shop's own rows, those offered
here only save typing at set-up. None of this is legal advice: the shop's own jurisdiction decides.
Sources stand beside each profile. Adding one is one entry in `PROFILES`.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from shop.measures.money import Tie


@dataclass(frozen=True)
class OfferedRate:
    """A rate offered at set-up: its name, its category in EN 16931 (S, Z, E, O) and its per cent."""

    name: str
    category: str
    percent: Decimal


@dataclass(frozen=True)
class TaxProfile:
    """How one place taxes a repair. Amounts are gross, in the place's currency; None means the law names no limit."""

    key: str
    name: str
    tax_word: str  # printed beside the amount; empty where no tax is charged
    number_word: str  # printed before the shop's registration number; empty where there is none
    prices_include_tax: bool  # as prices to consumers must be shown
    document_title: str
    credit_title: str
    tie: Tie  # what becomes of an exact half cent of tax
    simplified_up_to: Decimal | None  # largest total of a simplified invoice
    buyer_optional_up_to: Decimal | None  # largest total of an invoice that need not name the buyer
    cash_step: Decimal | None  # smallest step a cash total is rounded to
    tax_on_deposit: bool  # whether tax falls due on a deposit when it is received
    rates: tuple[OfferedRate, ...]
    note: str  # printed under the totals; empty where nothing need be said
    source: str
    address_of_trade: bool = False  # whether a full invoice to a business must carry its address
    contact_of_buyer: bool = False  # whether a buyer that must be named must be reachable too
    two_thirds_rule: bool = False  # whether goods that cost more than two thirds of a service's price set its rate
    taxes_kept_deposits: bool = True  # whether tax stays due on a deposit that is kept and nothing was done

    def lacks_of(self, gross: Decimal, *, trade: bool, address: str, contact: str) -> str:
        """What an invoice of this total lacks of its named buyer: "address", "contact" or nothing."""
        if self.address_of_trade and trade and not self.may_be_simplified(gross) and not address.strip():
            return "address"
        if self.contact_of_buyer and self.needs_buyer(gross) and not (address.strip() or contact.strip()):
            return "contact"
        return ""

    @property
    def registered(self) -> bool:
        """Whether tax is charged at all."""
        return bool(self.tax_word)

    def may_be_simplified(self, gross: Decimal) -> bool:
        """Whether an invoice of this total may leave out what only a full one must carry."""
        return self.simplified_up_to is not None and gross <= self.simplified_up_to

    def needs_buyer(self, gross: Decimal) -> bool:
        """Whether an invoice of this total must name its buyer."""
        return self.buyer_optional_up_to is not None and gross > self.buyer_optional_up_to


def _rates(*rates: tuple[str, str, str]) -> tuple[OfferedRate, ...]:
    return tuple(OfferedRate(name, category, Decimal(percent)) for name, category, percent in rates)


def _vat(
    key: str,
    name: str,
    limit: str,
    rates: tuple[OfferedRate, ...],
    source: str,
    *,
    taxes_kept: bool = True,
    two_thirds: bool = False,
) -> TaxProfile:
    """A value added tax as in Europe: consumer prices with tax, a deposit taxed when it is received."""
    return TaxProfile(
        key=key,
        name=name,
        tax_word="VAT",
        number_word="VAT number",
        prices_include_tax=True,
        document_title="Invoice",
        credit_title="Credit note",
        tie="half_up",
        simplified_up_to=Decimal(limit),
        buyer_optional_up_to=Decimal(limit),
        cash_step=None,
        tax_on_deposit=True,
        rates=rates,
        note="",
        source=source,
        address_of_trade=True,
        taxes_kept_deposits=taxes_kept,
        two_thirds_rule=two_thirds,
    )


_ALL = (
    TaxProfile(
        key="none",
        name="Not registered for tax",
        tax_word="",
        number_word="",
        prices_include_tax=True,
        document_title="Invoice",
        credit_title="Credit note",
        tie="half_up",
        simplified_up_to=None,
        buyer_optional_up_to=None,
        cash_step=None,
        tax_on_deposit=False,
        rates=_rates(("No tax", "O", "0")),
        note="Not registered for tax; no tax is charged.",
        source="EN 16931, category O, outside the scope of tax",
    ),
    _vat(
        "ie-vat",
        "Ireland, VAT",
        "100.00",
        _rates(("Standard", "S", "23"), ("Reduced", "S", "13.5"), ("Zero", "Z", "0"), ("Exempt", "E", "0")),
        "Revenue (Ireland), Information required on a VAT invoice, and Other types of VAT invoices; rates from memory; "
        "a deposit that is kept stays taxed since 2022: Chartered Accountants Ireland, news of November 2021; "
        "the two-thirds rule: Value-Added Tax Consolidation Act 2010, section 41",
        two_thirds=True,
    ),
    _vat(
        "eu-vat",
        "European Union, VAT",
        "100.00",
        _rates(("Zero", "Z", "0"), ("Exempt", "E", "0")),
        "Directive 2006/112/EC, articles 65, 220a, 226, 226b; a state may set another simplified limit (article 238); "
        "a deposit that is kept is compensation: Court of Justice, C-277/05, from memory",
        taxes_kept=False,
    ),
    _vat(
        "uk-vat",
        "United Kingdom, VAT",
        "250.00",
        _rates(("Standard", "S", "20"), ("Reduced", "S", "5"), ("Zero", "Z", "0"), ("Exempt", "E", "0")),
        "Value Added Tax Regulations 1995, regulations 14 and 16A; HMRC VAT Time of Supply manual, VATTOS5120; "
        "a deposit that is kept stays taxed since 2019, from memory",
    ),
    TaxProfile(
        key="au-gst",
        name="Australia, GST",
        tax_word="GST",
        number_word="ABN",
        prices_include_tax=True,
        document_title="Tax invoice",
        credit_title="Adjustment note",
        tie="half_up",
        simplified_up_to=None,
        buyer_optional_up_to=Decimal("999.99"),
        cash_step=Decimal("0.05"),
        tax_on_deposit=True,
        rates=_rates(("GST", "S", "10"), ("GST-free", "Z", "0")),
        note="",
        source="A New Tax System (Goods and Services Tax) Act 1999 (Australia), sections 9-90, 29-5, 29-70, 29-75; "
        "cash step: common practice, no source",
    ),
    TaxProfile(
        key="nz-gst",
        name="New Zealand, GST",
        tax_word="GST",
        number_word="GST number",
        prices_include_tax=True,
        document_title="Tax invoice",
        credit_title="Credit note",
        tie="half_down",
        simplified_up_to=None,  # since April 2023 it is the same paper, with less on it
        buyer_optional_up_to=Decimal("1000.00"),
        cash_step=Decimal("0.10"),
        tax_on_deposit=True,
        rates=_rates(("GST", "S", "15"), ("Zero", "Z", "0")),
        note="",
        source="Goods and Services Tax Act 1985 (New Zealand), sections 19E (above 1,000 dollars the buyer’s name and one "
        "of address, phone, email) and 19O; cash step from memory",
        contact_of_buyer=True,
    ),
    TaxProfile(
        key="us-sales",
        name="United States, sales tax",
        tax_word="Sales tax",
        number_word="",
        prices_include_tax=False,
        document_title="Invoice",
        credit_title="Credit note",
        tie="half_up",
        simplified_up_to=None,
        buyer_optional_up_to=None,
        cash_step=None,
        tax_on_deposit=False,
        rates=_rates(("Not taxed", "O", "0")),
        note="",
        source="Streamlined Sales and Use Tax Agreement, section 324; what is taxed differs by state",
    ),
)

NOT_REGISTERED = "none"

# Standard rates of value added tax in the states of the European Union; from memory, and they change: the shop looks.
_EU_STANDARD = {
    "AT": "20", "BE": "21", "BG": "20", "CY": "19", "CZ": "21", "DE": "19", "DK": "25", "EE": "24", "ES": "21",
    "FI": "25.5", "FR": "20", "GR": "24", "HR": "25", "HU": "27", "IE": "23", "IT": "22", "LT": "21", "LU": "17",
    "LV": "21", "MT": "18", "NL": "21", "PL": "23", "PT": "23", "RO": "21", "SE": "25", "SI": "22", "SK": "23",
}  # fmt: skip
_OWN_PROFILE = {"IE": "ie-vat", "GB": "uk-vat", "IM": "uk-vat", "AU": "au-gst", "NZ": "nz-gst", "US": "us-sales"}
# Per cent on repair work and on goods where a country's two differ or it is outside the Union. Ireland taxes repair of
# movable goods at its reduced rate; all from memory. None in the United States: it differs by state and town.
_OWN_RATES = {"IE": ("13.5", "23"), "GB": ("20", "20"), "IM": ("20", "20"), "AU": ("10", "10"), "NZ": ("15", "15")}

PROFILES: dict[str, TaxProfile] = {profile.key: profile for profile in _ALL}
CHOICES: list[tuple[str, str]] = [(profile.key, profile.name) for profile in _ALL]


def profile(key: str) -> TaxProfile:
    """The profile of a key. Raises ValueError for an unknown one."""
    if key not in PROFILES:
        raise ValueError(f"{key} is not a tax profile; there are {', '.join(PROFILES)}")
    return PROFILES[key]


def profile_of(country: str) -> str:
    """The key of the profile for those registered in a country (two letters); of "none" where we hold no rules."""
    return _OWN_PROFILE.get(country) or ("eu-vat" if country in _EU_STANDARD else NOT_REGISTERED)


def usual_rates(country: str) -> tuple[Decimal | None, Decimal | None]:
    """Per cent on repair work and on goods in a country (two letters), to be offered; None where none is known."""
    standard = _EU_STANDARD.get(country)
    repair, goods = _OWN_RATES.get(country, (standard, standard))
    return repair and Decimal(repair), goods and Decimal(goods)  # type: ignore[return-value]
