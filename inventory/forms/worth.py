"""Between which days the store is looked at."""

from __future__ import annotations

from datetime import date
from typing import Any

from crispy_forms.layout import Row

from shop.forms.words import DayField, PageForm


class PeriodForm(PageForm):
    """Form of a period, from one day to another."""

    first = DayField(label="From")
    last = DayField(label="To, with that day")
    layout = (Row("first", "last"),)
    button = "Show it"

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.today = today

    def clean(self) -> dict[str, Any]:
        """Entries, refused where the period ends before it begins or in the future."""
        entries = super().clean() or self.cleaned_data
        first, last = entries.get("first"), entries.get("last")
        if first and last and first > last:
            self.add_error("last", "To must not lie before From.")
        elif last and last > self.today:
            self.add_error("last", "To must not lie in the future.")
        return entries
