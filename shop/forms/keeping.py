"""The keeper's small forms: rates, days, numbers."""

from __future__ import annotations

from typing import Any

from crispy_forms.layout import Row
from django import forms
from django.utils.dates import WEEKDAYS

from shop.forms.fields import MeasureField, MoneyFormField, PercentFormField
from shop.forms.shop import hours, series_field
from shop.forms.words import DayField, PageForm, PickField, WholeField, WordsField
from shop.models import NumberSeries, TaxRate, User

EVERYBODY = "everybody"


class TaxRateForm(PageForm):
    """Form of a tax rate with its first day."""

    name = WordsField(label="Name", most=60, width="middle", hint="As papers call it, like VAT reduced.")
    percent = PercentFormField(label="Per cent")
    category = PickField(label="Kind", choices=TaxRate._meta.get_field("category").choices, initial="S")
    from_day = DayField(label="First day")
    for_repairs = forms.BooleanField(
        label="Used for repair work",
        required=False,
        help_text="The rate used for repairs until then ends the day before.",
    )
    layout = ("name", Row("percent", "category"), "from_day", "for_repairs")
    button = "Add the rate"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.field("percent", PercentFormField).after = "%"


class EndRateForm(PageForm):
    """Form of the last day of a tax rate."""

    to_day = DayField(label="Last day")
    button = "End the rate"


class WageForm(PageForm):
    """Form of a wage for an hour, of one person or of all."""

    person = PickField(label="Whose", choices=[], hint="A wage of one's own comes before that of everybody else.")
    wage_per_hour = MoneyFormField(label="Wage for an hour", above_zero=True)
    from_day = DayField(label="First day")
    layout = ("person", Row("wage_per_hour", "from_day"))
    button = "Set the wage"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        people = User.objects.filter(is_active=True).order_by("name", "pk")
        own = [(str(person.pk), person.name) for person in people]
        self.field("person", PickField).choices = [(EVERYBODY, "Everybody without a wage of their own"), *own]

    def clean_person(self) -> User | None:
        """Whose wage it is; None is everybody's without one of their own."""
        chosen = self.cleaned_data["person"]
        return None if chosen == EVERYBODY else User.objects.get(pk=chosen)


class OverheadForm(PageForm):
    """Form of the overheads of a month and the hours that carry them."""

    monthly = MoneyFormField(label="Overheads in a month", hint="Rent, power, insurance, waste, tools.")
    productive_hours = MeasureField(
        label="Hands-on hours in a month",
        dimension="time",
        unit="h",
        example="120 h",
        low=10 * 60,
        high=600 * 60,
        above_zero=True,
        hint="Of everybody together, really spent on boards.",
    )
    from_day = DayField(label="First day")
    button = "Set the overheads"

    def entries(self) -> dict[str, Any]:
        entries = super().entries()
        return {**entries, "productive_hours": hours(entries["productive_hours"])}


class CloseDaysForm(PageForm):
    """Form of days on which the shop is closed."""

    first = DayField(label="Closed on")
    last = DayField(label="Last closed day", required=False, hint="Empty: just that one.")
    reason = WordsField(label="Reason", most=120, required=False, width="middle")
    layout = (Row("first", "last"), "reason")
    button = "Close"


class WorkingDaysForm(PageForm):
    """Form of the days of the week on which the shop works."""

    days = forms.TypedMultipleChoiceField(
        label="The shop works on",
        coerce=int,
        choices=[(str(number), str(name)) for number, name in WEEKDAYS.items()],
        widget=forms.CheckboxSelectMultiple(),
        error_messages={"invalid_choice": "The shop works on: tick days of the week."},
    )
    button = "Save the week"

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sentence = "Tick at least one day of the week, or no board would ever be ready."
        self.fields["days"].error_messages["required"] = sentence


class SeriesForm(PageForm):
    """One box a series, each named by its key."""

    button = "Save the numbers"

    def __init__(self, *args: Any, series: list[NumberSeries], year: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for row in series:
            field: WholeField = series_field(row.key)
            field.initial = row.next_number
            field.help_text = f"{row.next_number} or more; prints as {row.printed(row.next_number, year)}."
            self.fields[row.key] = field

    def entries(self) -> dict[str, Any]:
        return {"next_numbers": self.cleaned_data}
