"""Which two days are compared."""

from __future__ import annotations

from datetime import date

from shop.forms.fields import ShedForm
from shop.forms.words import DayField


class CompareForm(ShedForm):
    """The prices of one day against those of another, which may lie ahead."""

    all_optional = True
    since = DayField(label="Prices of", required=False)
    day = DayField(label="Against those of", required=False)

    def days(self, since: date, day: date) -> tuple[date, date]:
        """The two days; what cannot be read is as given."""
        self.is_valid()
        said = self.cleaned_data
        return said.get("since") or since, said.get("day") or day
