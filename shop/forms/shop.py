"""The shop's own entries: at set-up, and as the keeper changes them."""

from __future__ import annotations

from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from crispy_forms.layout import Fieldset, Row
from django import forms

from shop import tax, tax_numbers, world
from shop.forms.fields import MeasureField, MoneyFormField, PercentFormField
from shop.forms.words import MailField, PageForm, PickField, WholeField, WordsField
from shop.models import Profile
from shop.numbering import STARTING_SERIES

SERIES_WORDS = {
    "tag": "Next take-in tag",
    "quote": "Next quote",
    "invoice": "Next invoice",
    "credit": "Next credit note",
    "receipt": "Next receipt",
}
HUNDRED = Decimal(100)
HUNDREDTH = Decimal("0.01")


def series_field(key: str) -> WholeField:
    """The box for the next number of a series."""
    return WholeField(label=SERIES_WORDS.get(key, f"Next {key}"), initial=1)


def hours(minutes: Decimal) -> Decimal:
    """Minutes, as time fields give them, in hours to 1/100."""
    return (minutes / 60).quantize(HUNDREDTH, ROUND_HALF_UP)


class ShopEntries(PageForm):
    """What set-up and the settings page both ask."""

    name = WordsField(label="Shop name", most=120, width="long", fill="organization")
    address = WordsField(label="Address", most=400, lines=3, width="long", hint="As it stands on your papers.")
    country = PickField(label="Country", choices=lambda: [("", "Pick one"), *world.countries()])
    phone = WordsField(label="Phone", most=40, required=False, width="middle")
    email = MailField(required=False)
    website = WordsField(label="Website", most=120, required=False, width="long")
    locale = PickField(label="Amounts are written like", choices=world.styles, width="long", initial="en_IE")
    timezone = PickField(label="Time zone", choices=world.time_zones, initial="Europe/Dublin")
    paper = PickField(label="Paper", choices=Profile._meta.get_field("paper").choices, radios=True, initial="A4")
    volume_system = PickField(
        label="Gallons, quarts and fluid ounces are",
        choices=Profile._meta.get_field("volume_system").choices,
        radios=True,
        initial="us",
        hint="Only matters where somebody types a volume in them.",
    )
    tax_profile = PickField(label="Tax", choices=tax.CHOICES, initial="none", width="long")
    tax_number = WordsField(label="Tax registration number", most=40, required=False, width="middle")
    prices_include_tax = forms.BooleanField(
        label="Prices shown to customers include tax",
        required=False,
        initial=True,
        help_text="Usual for private customers in Europe, Australia and New Zealand; not in the United States.",
    )
    margin_percent = PercentFormField(
        label="Margin", below=True, initial="25", hint="Part of the price without tax that is left after all costs."
    )
    minimum_price = MoneyFormField(label="Smallest job", initial="25", hint="No job is priced below this.")
    price_step = MoneyFormField(label="Round prices up to", above_zero=True, initial="5", hint="5 makes 87 into 90.")
    deposit_percent = PercentFormField(label="Deposit", initial="30", hint="Asked when the customer agrees.")

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in ("margin_percent", "deposit_percent"):
            self.fields[name].after = "%"

    def clean(self) -> dict[str, Any]:
        entries = super().clean() or self.cleaned_data
        key = entries.get("tax_profile")
        number = entries.get("tax_number", "")
        if key and tax.profile(key).number_word and not number and "tax_number" in entries:
            self.add_error("tax_number", f"{tax.profile(key).number_word} is empty; invoices must carry it.")
        checkable = key and number and tax.profile(key).registered
        if checkable and tax_numbers.looks_wrong(number, country=entries.get("country", ""), tax_profile=key):
            self.ask_about("tax_number", "The tax number's check digits do not agree. Tick the box if it is right.")
        return entries


ABOUT = ("name", "address", "country", Row("phone", "email"), "website")
STYLE = ("locale", "timezone", Row("paper", "volume_system"))
TAX = ("tax_profile", "tax_number", "prices_include_tax")
PRICES = (Row("margin_percent", "deposit_percent"), Row("minimum_price", "price_step"))


class SetupForm(ShopEntries):
    """The first page there is: everything a first quote needs, and the first login."""

    currency = PickField(label="Currency", choices=world.currencies, initial="EUR", hint="It can not be changed later.")
    repair_rate = PercentFormField(
        label="Tax on repair work",
        required=False,
        hint="Ireland 13.5, United Kingdom 20, Australia 10, New Zealand 15; elsewhere as your tax office says. "
        "Leave it empty if you are not registered.",
    )
    goods_rate = PercentFormField(label="Tax on goods you sell", required=False, hint="Where it is another one.")
    wage = MoneyFormField(label="Wage for an hour", above_zero=True, hint="What an hour of hands costs you, all in.")
    overhead_monthly = MoneyFormField(
        label="Overheads in a month", hint="Rent, power, insurance, waste, tools: what belongs to no single job."
    )
    productive_hours = MeasureField(
        label="Hands-on hours in a month",
        dimension="time",
        unit="h",
        example="120 h",
        low=10 * 60,
        high=600 * 60,
        above_zero=True,
        hint="Hours of everybody together really spent on boards; the overheads are spread over them.",
    )
    keeper_name = WordsField(label="Your name", most=120, width="middle", fill="name")
    username = WordsField(label="Login name", most=60, width="middle", fill="username")
    password = forms.CharField(
        label="Password",
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}, render_value=True),
        help_text="At least 10 characters. A few words in a row are easy to remember and hard to guess.",
    )
    password_again = forms.CharField(
        label="Password again",
        strip=False,
        widget=forms.PasswordInput({"autocomplete": "new-password"}, render_value=True),
    )
    button = "Set up the shop"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        chosen = str(self.data.get("currency", ""))
        for field in self.fields.values():
            if isinstance(field, MoneyFormField):  # the one chosen on this very page; before that none is shown
                field.currency = chosen if chosen in dict(world.currencies()) else "EUR" if self.is_bound else ""
        for key in STARTING_SERIES:
            self.fields[key] = series_field(key)
        for name in ("keeper_name", "username", "password", "password_again", "repair_rate", "goods_rate"):
            self.fields[name].width = "middle" if "rate" not in name else "short"
        for name in ("repair_rate", "goods_rate"):
            self.fields[name].after = "%"
        self.fields["username"].widget.attrs.update(autocapitalize="none", spellcheck="false")
        self.layout = (
            Fieldset("The shop", *ABOUT),
            Fieldset("Money, numbers and time", "currency", *STYLE),
            Fieldset("Tax", *TAX, Row("repair_rate", "goods_rate")),
            Fieldset("What an hour costs", "wage", "overhead_monthly", "productive_hours"),
            Fieldset("How prices are made", *PRICES),
            Fieldset("Where your numbers go on", Row(*STARTING_SERIES)),
            Fieldset("The first login, yours", "keeper_name", "username", "password", "password_again"),
        )
        self.in_order_of_layout()

    def clean(self) -> dict[str, Any]:
        entries = super().clean()
        if entries.get("password_again") and entries.get("password") != entries["password_again"]:
            self.add_error("password_again", "The two passwords differ. Type the same one twice.")
        registered = "tax_profile" in entries and tax.profile(entries["tax_profile"]).registered
        if registered and "repair_rate" in entries and entries["repair_rate"] is None:
            self.add_error("repair_rate", "Tax on repair work is empty; write its per cent, or 0 if there is none.")
        return entries

    def tax_rates(self) -> list[dict[str, Any]]:
        """The rates for `shop.setup.set_up`: the one for repairs, and the one for goods where it is another."""
        chosen = tax.profile(self.cleaned_data["tax_profile"])
        if not chosen.registered:
            return [{"name": "No tax", "category": "O", "percent": Decimal(0), "for_repairs": True}]
        repair, goods = self.cleaned_data["repair_rate"], self.cleaned_data["goods_rate"]
        rates = [{**_named(chosen, repair), "for_repairs": True}]
        if goods is not None and goods != repair:
            rates.append({**_named(chosen, goods), "for_repairs": False})
        return rates

    def profile(self) -> dict[str, Any]:
        """The fields of Profile among the entries."""
        return {name: self.cleaned_data[name] for name in (*ShopEntries.base_fields, "currency")}

    def keeper(self) -> dict[str, str]:
        entries = self.cleaned_data
        return {"username": entries["username"], "name": entries["keeper_name"], "password": entries["password"]}


def _named(chosen: tax.TaxProfile, percent: Decimal) -> dict[str, Any]:
    """A rate with the name and category that the profile offers for it, where it offers one."""
    for rate in chosen.rates:
        if rate.percent == percent:
            return {"name": f"{chosen.tax_word} {rate.name.lower()}", "category": rate.category, "percent": percent}
    return {"name": chosen.tax_word, "category": "S" if percent else "Z", "percent": percent}


class ShopForm(ShopEntries):
    """Everything the keeper may change about the shop; the currency is not among it."""

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
    terms = WordsField(label="Terms on quotes and invoices", most=4000, lines=5, required=False)
    payment_words = WordsField(label="How to pay", most=1000, lines=3, required=False, hint="Stands on invoices.")
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
        Fieldset("On your papers", "quote_days", "may_turn_up", "terms", "payment_words"),
    )

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
