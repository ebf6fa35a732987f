"""The shop's own entries: at set-up, and as the keeper changes them."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from crispy_forms.layout import Fieldset, Row
from django import forms

from shop.countries import tax, tax_numbers, usual, world
from shop.forms.fields import MeasureField, MoneyFormField, PercentFormField
from shop.forms.words import MailField, PageForm, PickField, WholeField, WordsField
from shop.models import Profile

SERIES_WORDS = {
    "tag": "Next take-in tag",
    "quote": "Next quote",
    "invoice": "Next invoice",
    "credit": "Next credit note",
    "receipt": "Next receipt",
}
HUNDRED = Decimal(100)
HUNDREDTH = Decimal("0.01")
GUESSED = ("wage", "overhead_monthly", "productive_hours")
STAYS_LATER = (
    "It can be changed until the first quote, invoice, receipt or price list is given out; then it stays. Amounts typed "
    "before keep their figures: 20 stays 20."
)
RATE_HINTS = {
    True: "The usual one, from memory: look whether it still holds.",
    False: "As your tax office says; 0 if there is none. Empty if you are not registered.",
}


def series_field(key: str) -> WholeField:
    """The box for the next number of a series."""
    return WholeField(label=SERIES_WORDS.get(key, f"Next {key}"), initial=1)


def hours(minutes: Decimal) -> Decimal:
    """Minutes, as time fields give them, in hours to 1/100."""
    return (minutes / 60).quantize(HUNDREDTH, ROUND_HALF_UP)


class ShopEntries(PageForm):
    """What set-up and the settings page both ask."""

    name = WordsField(label="Shop name", most=120, width="long", fill="organization")
    address = WordsField(
        label="Address", most=400, lines=3, width="long", required=False,
        hint="As it stands on your papers. It may wait, but no quote or invoice is given out without it.",
    )  # fmt: skip
    country = PickField(label="Country", choices=lambda: [("", "Pick one"), *world.countries()])
    currency = PickField(label="Currency", choices=world.currencies)
    phone = WordsField(label="Phone", most=40, required=False, width="middle")
    email = MailField(required=False)
    website = WordsField(label="Website", most=120, required=False, width="long")
    locale = PickField(label="Amounts are written like", choices=world.styles, width="long")
    timezone = PickField(label="Time zone", choices=world.time_zones)
    paper = PickField(label="Paper", choices=Profile._meta.get_field("paper").choices, radios=True)
    volume_system = PickField(
        label="Gallons, quarts and fluid ounces are",
        choices=Profile._meta.get_field("volume_system").choices,
        radios=True,
        hint="Only matters where somebody types a volume in them.",
    )
    tax_profile = PickField(label="Tax", choices=tax.CHOICES, width="long")
    tax_number = WordsField(label="Tax registration number", most=40, required=False, width="middle")
    prices_include_tax = forms.BooleanField(
        label="Prices shown to customers include tax",
        required=False,
        help_text="Usual for private customers in Europe, Australia and New Zealand; not in the United States.",
    )
    margin_percent = PercentFormField(
        label="Margin", below=True, initial="25", hint="Part of the price without tax that is left after all costs."
    )
    minimum_price = MoneyFormField(label="Smallest job", hint="No job is priced below this.")
    price_step = MoneyFormField(label="Round prices up to", above_zero=True, hint="5 makes 87 into 90.")
    deposit_percent = PercentFormField(label="Deposit", initial="30", hint="Asked when the customer agrees.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("margin_percent", "deposit_percent"):
            self.field(name, PercentFormField).after = "%"
        chosen = str(self.data.get("currency", ""))
        if chosen in dict(world.currencies()):  # amounts are typed in the one chosen on this very page
            for field in self.fields.values():
                if isinstance(field, MoneyFormField):
                    field.currency = chosen

    def clean(self) -> dict[str, Any]:
        """Entries; what does not go with the tax profile is refused or asked about."""
        entries = super().clean() or self.cleaned_data
        self._ask_what_disagrees(entries)
        key = entries.get("tax_profile")
        number = entries.get("tax_number", "")
        if key and tax.profile(key).number_word and not number and "tax_number" in entries:
            self.add_error("tax_number", f"{tax.profile(key).number_word} is empty; invoices must carry it.")
        checkable = key and number and tax.profile(key).registered
        if checkable and tax_numbers.looks_wrong(number, country=entries.get("country", ""), tax_profile=key or ""):
            self.ask_about("tax_number", "The tax number's check digits do not agree. Tick the box if it is right.")
        return entries

    def _ask_what_disagrees(self, entries: dict[str, Any]) -> None:
        """Once, where something just picked is not what goes with the country."""
        if not entries.get("country"):
            return
        there = usual.country(entries["country"])
        sentences = {
            "currency": f"{there.name}: money is {' or '.join(there.currencies)}, not {entries.get('currency')}. If it "
            "is right, tick the box and look at every amount on this page: it is taken as typed.",
            "timezone": f"{there.name}: {entries.get('timezone')} is no time zone there. Tick the box if it is right.",
            "paper": f"{there.name}: the usual paper is {PAPERS[there.paper]}. Tick the box if you print on another.",
            "tax_profile": f"{there.name}: {dict(tax.CHOICES).get(entries.get('tax_profile', ''))} is not its tax. Tick "
            "the box if it is right.",
        }
        fit = {
            "currency": there.currencies,
            "timezone": there.zones,
            "paper": (there.paper,),
            "tax_profile": tuple(key for key, _ in there.taxes),
        }
        changed = set(self.changed_data)
        for name, those in fit.items():
            if those and name in entries and entries[name] not in those and changed & {name, "country"}:
                self.ask_about(name, sentences[name])


PAPERS = dict(Profile._meta.get_field("paper").flatchoices)
ABOUT = ("name", "address", Row("country", "currency"), Row("phone", "email"), "website")
STYLE = ("locale", "timezone", Row("paper", "volume_system"))
TAX = ("tax_profile", "tax_number", "prices_include_tax")
PRICES = (Row("margin_percent", "deposit_percent"), Row("minimum_price", "price_step"))


class AddressForm(PageForm):
    """What no paper goes out without, asked where it is missing."""

    address = WordsField(
        label="Address", most=400, lines=3, width="long", fill="street-address", hint="As it stands on your papers."
    )
    button = "Keep the address"


class ShopForm(ShopEntries):
    """Everything the keeper may change about the shop; the currency until something was given out in it."""

    price_method = PickField(
        label="Prices are made with",
        choices=Profile._meta.get_field("price_method").choices,
        radios=True,
        hint="A margin of 25 % and a markup of 33.3 % make the same price.",
    )
    margin_percent = PercentFormField(
        label="Margin or markup",
        high=500,
        hint="Margin: part of the price without tax. Markup: what is put on the costs.",
    )
    carries_again = forms.BooleanField(
        label="Prices carry what is done again",
        required=False,
        help_text="A step that now and then has to be done again here costs so much more: 1 foam pour in 14 done again "
        "puts about a fourteenth of a pour on each. Off, it comes out of your margin.",
    )
    quote_days = WholeField(label="Days a quote is held", low=1, high=366)
    bench_hours_per_day = MeasureField(
        label="Hands-on hours in a day",
        dimension="time",
        unit="h",
        example="5 h",
        low=30,
        high=24 * 60,
        above_zero=True,
        hint="Ready dates are reckoned with this.",
    )
    shop_temperature_c = MeasureField(
        label="Usual temperature in the shop", dimension="temperature", unit="degC", example="20 °C", low=5, high=40
    )
    valuation = PickField(
        label="Stock is valued",
        choices=Profile._meta.get_field("valuation").choices,
        radios=True,
        hint="Settled once anything has moved on the shelf.",
    )
    may_turn_up = WordsField(
        label="A word on what may turn up",
        most=1000,
        lines=3,
        required=False,
        hint="Stands on every quote: what is only seen once the board is open.",
    )
    receipt_paper = PickField(
        label="Receipts are printed on", choices=Profile._meta.get_field("receipt_paper").choices, radios=True
    )
    measures_in = PickField(
        label="Measures on customers’ papers",
        choices=Profile._meta.get_field("measures_in").choices,
        radios=True,
        hint="Whatever they were typed in.",
    )
    terms = WordsField(label="Terms on quotes and invoices", most=4000, lines=5, required=False)
    payment_days = WholeField(
        label="Days to pay an invoice", low=0, high=366, hint="The invoice names the day; 0: the day it is issued."
    )
    payment_words = WordsField(
        label="How to pay",
        most=1000,
        lines=3,
        required=False,
        hint="Stands on invoices with the day it is due; for transfers put your account in.",
    )
    layout = (
        Fieldset("The shop", *ABOUT),
        Fieldset("Numbers and time", *STYLE),
        Fieldset("Tax", *TAX),
        Fieldset(
            "How prices are made",
            "price_method",
            *PRICES,
            "carries_again",
            Row("bench_hours_per_day", "shop_temperature_c"),
            "valuation",
        ),
        Fieldset(
            "On your papers",
            Row("quote_days", "payment_days"),
            Row("receipt_paper", "measures_in"),
            "may_turn_up",
            "terms",
            "payment_words",
        ),
    )

    def __init__(self, *args: Any, currency_stays: str = "", **kwargs: Any) -> None:
        """`currency_stays`: the sentence why the currency does not change any more, empty while it may."""
        super().__init__(*args, **kwargs)
        currency = self.field("currency", PickField)
        currency.help_text = currency_stays or STAYS_LATER
        if currency_stays and self.shop is not None:
            currency.choices = [(code, words) for code, words in world.currencies() if code == self.shop.currency]
            currency.error_messages["invalid_choice"] = currency_stays

    @classmethod
    def showing(cls, shop: Profile) -> dict[str, Any]:
        """What stands in the boxes before anybody changes it."""
        entries = {name: getattr(shop, name) for name in cls.base_fields}
        for name in ("margin_percent", "deposit_percent", "shop_temperature_c", "bench_hours_per_day"):
            entries[name] = f"{entries[name].normalize():f}"
        for name in ("minimum_price", "price_step"):
            entries[name] = plain_money(entries[name])
        return entries

    def clean(self) -> dict[str, Any]:
        """Entries, refused where a margin is 100 % or more."""
        entries = super().clean()
        if entries.get("price_method") == "margin" and (entries.get("margin_percent") or 0) >= HUNDRED:
            self.add_error("margin_percent", "A margin must be below 100 % of the price, like 25.")
        return entries

    def entries(self) -> dict[str, Any]:
        """The fields of Profile, times as the rows keep them."""
        cleaned = {name: self.cleaned_data[name] for name in ShopForm.base_fields}
        cleaned["bench_hours_per_day"] = hours(cleaned["bench_hours_per_day"])
        cleaned["shop_temperature_c"] = cleaned["shop_temperature_c"].quantize(Decimal("0.1"), ROUND_HALF_UP)
        return cleaned


def plain_money(amount: Decimal) -> str:
    """An amount as it can be typed: 25, 22.50, 0.1212."""
    shown = f"{amount.normalize():f}"
    return shown if "." not in shown else f"{amount:.2f}" if amount == amount.quantize(HUNDREDTH) else shown
