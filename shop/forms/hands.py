"""Forms of hours at the bench, days away and calendar addresses."""

from __future__ import annotations

from typing import Any

from crispy_forms.layout import Row
from django import forms
from django.core.exceptions import ValidationError
from django.utils.dates import WEEKDAYS

from shop.business.hands import Week
from shop.forms.words import DayField, Laid, PageForm, PickField, WordsField
from shop.models import User
from shop.text.stretches import LIKE, Stretch, WrongStretch, in_order, read_stretches, said


class StretchesField(forms.CharField):
    """Hours of a day, typed as 9:00–13:00, 14:00–18:00. Cleans to stretches in order; none where it is empty."""

    def __init__(self, *, label: str) -> None:
        super().__init__(label=label, required=False, widget=forms.TextInput({"autocomplete": "off"}))
        self.width = "middle"

    def clean(self, value: Any) -> list[Stretch]:
        """Stretches, refused where they cannot be read or overlap."""
        try:
            return in_order(read_stretches(super().clean(value)))
        except WrongStretch as problem:
            raise ValidationError(f"{self.label}: {problem}", code="stretches") from None


class HoursForm(PageForm):
    """Form of a person's hours of the week, a box for each weekday."""

    numbered = {"week": "day_"}
    button = "Keep the hours"

    def __init__(self, *args: Any, week: Week, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for day, name in WEEKDAYS.items():
            self.fields[f"day_{day}"] = StretchesField(label=str(name))
            self.initial[f"day_{day}"] = said(week.get(day, []))
        self.fields["day_0"].help_text = f"Like {LIKE}. Empty: not there."

    def entries(self) -> dict[str, Any]:
        return {"week": {day: self.cleaned_data[f"day_{day}"] for day in range(7)}}


class AwayForm(PageForm):
    """Form of days on which somebody is away; whose they are is asked of the keeper only."""

    person = PickField(label="Who is away", choices=[])
    first = DayField(label="First day away")
    last = DayField(label="Last day away", required=False, hint="Empty: just that one.")
    reason = WordsField(label="Why", most=120, required=False, width="middle", hint="Seen by them and the keeper only.")
    layout: tuple[Laid, ...] = ("person", Row("first", "last"), "reason")
    button = "Enter the days away"

    def __init__(self, *args: Any, by: User, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.by = by
        if by.is_keeper:
            people = User.objects.filter(is_active=True).order_by("name", "pk")
            self.field("person", PickField).choices = [(str(one.pk), one.name) for one in people]
            self.initial.setdefault("person", str(by.pk))
        else:
            del self.fields["person"]
            self.layout = self.layout[1:]

    def entries(self) -> dict[str, Any]:
        entries = super().entries()
        chosen = entries.get("person")
        return {**entries, "person": User.objects.get(pk=chosen) if chosen else self.by}


class CalendarAddressForm(PageForm):
    """Form of a new address for a calendar."""

    name = WordsField(label="For whom", most=80, width="middle", hint="Like Orla’s phone.")
    button = "Make an address"
