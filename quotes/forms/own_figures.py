"""Entries about one of the shop's own figures."""

from __future__ import annotations

from typing import Any

from django.core.exceptions import ValidationError

from quotes.forms.figures import figure_unit
from quotes.recipes.own_figures import OwnFigure
from shop.forms.fields import ReadField, ShedForm
from shop.measures import numerals


class NumberField(ReadField):
    """A number, zero or more, in a unit that is said beside it. Cleans to a float."""

    def read(self, text: str) -> float:
        """Number without a unit."""
        found = numerals.readings(numerals.tidy(text) or "", point_may_group=False)
        if len(found) != 1:
            sentence = f"{self.name_in_sentence} must be a number, like 1.5; “{numerals.echo(text)}” is none."
            raise ValidationError(sentence, code="unreadable")
        return float(found[0])


class OwnFigureForm(ShedForm):
    """What the shop works by, and the ends between which it lies on most days."""

    value = NumberField(label="Usual")
    low = NumberField(label="Low")
    high = NumberField(label="High")

    def __init__(self, *args: Any, figure: OwnFigure, **kwargs: Any) -> None:
        kwargs["initial"] = {name: f"{getattr(figure, name):g}" for name in ("value", "low", "high")}
        super().__init__(*args, **kwargs)
        for field in self.fields.values():
            if isinstance(field, ReadField):
                field.after = figure_unit(figure.constant.unit)

    def clean(self) -> None:
        """Entries, refused unless low ≤ value ≤ high."""
        found = self.cleaned_data
        value, low, high = (found.get(name) for name in ("value", "low", "high"))
        if low is not None and value is not None and low > value:
            self.add_error("low", f"Low is {low:g}, above the usual {value:g}; it must be {value:g} or less.")
        if high is not None and value is not None and high < value:
            self.add_error("high", f"High is {high:g}, below the usual {value:g}; it must be {value:g} or more.")
