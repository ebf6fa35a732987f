"""Form of a supplier’s price list that comes in."""

from __future__ import annotations

from datetime import date
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.forms.deliveries import LIST_MOST_BYTES
from shop.forms.words import DayField, PageForm
from shop.text.tables import NotATable, as_text


class PriceListForm(PageForm):
    """Form that takes a supplier's price list as a CSV file."""

    file = forms.FileField(
        label="Price list",
        help_text="A CSV file with a column headed article and one headed price, without tax; a third one headed name helps to guess.",
        widget=forms.ClearableFileInput({"accept": ".csv,text/csv,text/plain"}),
        error_messages={"required": "Price list is empty; choose a CSV file.", "empty": "The file is empty."},
    )
    from_day = DayField(label="Prices from")
    button = "Look at it"
    layout = ("file", "from_day")

    def __init__(self, *args: Any, today: date, **kwargs: Any) -> None:
        kwargs["initial"] = {"from_day": today}
        super().__init__(*args, **kwargs)

    def clean_file(self) -> Any:
        """File, refused where it is too large or no table."""
        file = self.cleaned_data["file"]
        if file.size > LIST_MOST_BYTES:
            raise ValidationError("The file is larger than 2 MB; a price list is not. Save only the columns needed.")
        try:
            self.text = as_text(file.read())
        except NotATable as problem:
            raise ValidationError(problem.sentence) from None
        return file

    def entries(self) -> dict[str, Any]:
        said = self.cleaned_data
        return {"name": said["file"].name[:120], "text": self.text, "from_day": said["from_day"]}
