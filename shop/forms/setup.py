"""Forms of the first day: the country, then the shop."""

from __future__ import annotations

from decimal import Decimal
from typing import Any, cast

from crispy_forms.layout import Fieldset, Row
from django import forms

from shop.business.numbering import STARTING_SERIES
from shop.countries import tax, usual, world
from shop.forms.fields import MeasureField, MoneyFormField, PercentFormField
from shop.forms.shop import GUESSED, PRICES, RATE_HINTS, STAYS_LATER, STYLE, ShopEntries, plain_money, series_field
from shop.forms.staff import check_password, password_field
from shop.forms.words import Fold, Laid, PageForm, PickField, WithoutScript, WordsField
from shop.models import User


class CountryForm(PageForm):
    """The first question of set-up: nearly all the rest follows from it."""

    country = PickField(label="Country", choices=lambda: [("", "Pick one"), *world.countries()])


class SetupForm(ShopEntries):
    """Everything a first quote needs, and the first login; what goes with the country stands there already."""

    repair_rate = PercentFormField(label="Tax on repair work", required=False)
    goods_rate = PercentFormField(label="Tax on goods you sell", required=False, hint="Where it is another one.")
    wage = MoneyFormField(label="Wage for an hour", above_zero=True, hint="What an hour of hands costs you, all in.")
    overhead_monthly = MoneyFormField(
        label="Overheads in a month",
        hint="Rent, power, insurance, waste, tools: what belongs to no single job.",
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
    username = WordsField(
        label="Login name", most=60, width="middle", fill="username", hint="It cannot be changed later."
    )
    password = password_field("Password")
    password_again = password_field("Password again", hint="", required=False)
    button = "Set up the shop"

    def __init__(self, *args: Any, country: usual.Country | None = None, **kwargs: Any) -> None:
        """`country`: the one picked; None only where a form came without any that there is."""
        super().__init__(*args, initial=_usual_entries(country) if country else None, **kwargs)
        for key in STARTING_SERIES:
            self.fields[key] = series_field(key)
        self.fields["country"].widget = forms.HiddenInput()
        self.fields["currency"].help_text = STAYS_LATER
        self.fields["repair_rate"].help_text = RATE_HINTS[bool(country and country.repair_rate)]
        for name in ("currency", "timezone"):
            if not self.initial.get(name):
                picks = self.field(name, PickField)
                picks.choices = [("", "Pick one"), *cast(world.Choices, picks.choices)]
        for name in GUESSED:
            if self.initial.get(name):
                self.fields[name].help_text += " This is a guess of ours: put in yours."
        for name in ("repair_rate", "goods_rate"):
            rate = self.field(name, PercentFormField)
            rate.width, rate.after = "short", "%"
        for field in self.fields.values():
            if isinstance(field, MoneyFormField) and not self.is_bound:
                field.currency = country.currency if country else ""
        self._offer_taxes(country)
        rules = tax.profile(country.tax_profile) if country else None
        self.fields["username"].widget.attrs.update(autocapitalize="none", spellcheck="false")
        self.layout = self._laid(rules)
        self.in_order_of_layout()

    def _offer_taxes(self, country: usual.Country | None) -> None:
        """Only what a shop of the country can be registered for, as a question with an answer for each."""
        if country is None:
            return
        offered = PickField(label="Registered for tax?", choices=country.taxes, radios=True)
        if country.tax_profile == tax.NOT_REGISTERED:
            offered.help_text = (
                f"{country.name}: Dryrack holds no tax rules of it yet, so it prints no tax; ask your tax office whether "
                "you may work with it."
            )
        elif word := tax.profile(country.tax_profile).number_word:
            self.fields["tax_number"].label = word
            self.fields["tax_number"].help_text = "Leave it empty if you are not registered."
        self.fields["tax_profile"] = offered

    def _needs_a_look(self, name: str) -> bool:
        """Amounts, too, where another currency was picked than that of their guesses."""
        amount = isinstance(self.fields[name], MoneyFormField)
        return super()._needs_a_look(name) or (amount and self.is_bound and "currency" in self.errors)

    def _laid(self, rules: tax.TaxProfile | None) -> tuple[Laid, ...]:
        """The page; of tax only what those rules ask for, all where they are not known."""
        taxed: list[Laid] = ["tax_profile"]
        if rules is None or rules.registered:
            taxed.append(Row("repair_rate", "goods_rate"))
        if rules is None or rules.number_word:
            taxed.append("tax_number")
        return (
            "country",
            Fieldset("The shop", "name", "currency"),
            Fieldset("Tax", *taxed),
            Fieldset("Your login", "keeper_name", "username", "password", WithoutScript("password_again")),
            Fold(
                "Everything else has a usual value: look at it now, or later under Shop",
                Fieldset("On your papers", "address", Row("phone", "email"), "website"),
                Fieldset("Numbers and time", *STYLE),
                Fieldset("What an hour costs", *GUESSED),
                Fieldset("How prices are made", *PRICES, "prices_include_tax"),
                Fieldset("Where your numbers go on; later they only go up", Row(*STARTING_SERIES)),
            ),
        )

    def clean(self) -> dict[str, Any]:
        """Entries, refused where passwords differ or a tax rate is missing."""
        entries = super().clean()
        if entries.get("password_again") and entries.get("password") != entries["password_again"]:
            self.add_error("password_again", "The two passwords differ. Type the same one twice.")
        check_password(self, User(username=entries.get("username", ""), name=entries.get("keeper_name", "")))
        registered = "tax_profile" in entries and tax.profile(entries["tax_profile"]).registered
        if registered and "repair_rate" in entries and entries["repair_rate"] is None:
            self.add_error("repair_rate", "Tax on repair work is empty; write its per cent, or 0 if there is none.")
        return entries

    def tax_rates(self) -> list[dict[str, Any]]:
        """The rates for `setup.set_up`: the one for repairs, and the one for goods where it is another."""
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
        return {name: self.cleaned_data[name] for name in ShopEntries.base_fields}

    def left_as_guessed(self) -> list[str]:
        """What an hour costs, as far as it still is our guess."""
        return [name for name in GUESSED if self.initial.get(name) and name not in self.changed_data]

    def keeper(self) -> dict[str, str]:
        """Login of the first keeper, as the verb takes it."""
        entries = self.cleaned_data
        return {"username": entries["username"], "name": entries["keeper_name"], "password": entries["password"]}


def _usual_entries(country: usual.Country) -> dict[str, Any]:
    """What stands in the boxes of set-up before anybody touches it."""
    guess = usual.guess(country.currency)
    rules = tax.profile(country.tax_profile)
    names = ("locale", "timezone", "paper", "volume_system", "currency", "tax_profile", "repair_rate", "goods_rate")
    amounts = ("wage", "overhead_monthly", "minimum_price", "price_step")
    return {
        "country": country.code,
        **{name: getattr(country, name) for name in names},
        "prices_include_tax": rules.prices_include_tax,
        "productive_hours": f"{usual.GUESSED_HOURS}",
        **{name: plain_money(getattr(guess, name)) for name in amounts if guess},
    }


def _named(chosen: tax.TaxProfile, percent: Decimal) -> dict[str, Any]:
    """A rate with the name and category that the profile offers for it, where it offers one."""
    for rate in chosen.rates:
        if rate.percent == percent:
            return {"name": f"{chosen.tax_word} {rate.name.lower()}", "category": rate.category, "percent": percent}
    return {"name": chosen.tax_word, "category": "S" if percent else "Z", "percent": percent}
