"""Boxes for a recipe's figures: a number with its unit or the name of a measure, and a box for each measure to take."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from quotes.costing.recipes.recipe import CoreRecipe
from quotes.recipes.words import figure, measure_label
from shop.forms.fields import ODD, MeasureField, ReadField, ShedForm
from shop.measures import numerals, units

READ_AS: dict[str, units.Dimension] = {"mm": "length", "min": "time", "g": "mass"}  # else a bare number
MEASURE = "m_"  # before a measure's name in a form, so that it never meets another field


class GrownForm(ShedForm):
    """A form that gets its fields only once it knows what it is about; `grown` is called when they are all there."""

    def grown(self) -> None:
        """Gives the new fields what the form gave those it began with."""
        for name, field in list(self.fields.items()):
            if isinstance(field, MeasureField) and self.shop is not None:
                field.volume_system = self.shop.volume_system
            if field.required:
                field.error_messages["required"] = f"{field.label or 'This'} is empty; fill it in."
            if self.data.get(self.add_prefix(ODD + name)) and ODD + name not in self.fields:
                self._add_tick_box(name)


class FigureField(ReadField):
    """A number in `unit`, or the name of one of the recipe's measures. Cleans to a float or the measure's name."""

    def __init__(self, *, unit: str, core: CoreRecipe, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.TextInput({"autocomplete": "off", "autocapitalize": "off"}))
        super().__init__(**kwargs)
        self.after = figure_unit(unit)
        self.dimension = READ_AS.get(unit)
        self.doubts_point = self.dimension is not None
        self.default_unit = unit
        self.measures = {text.casefold(): m.name for m in core.measures for text in (m.label, m.name)}
        self.labels = [m.label for m in core.measures]

    def read(self, text: str) -> float | str:
        """Number in the canonical unit, or the name of a measure."""
        name = self.measures.get(text.strip().casefold())
        if name:
            return name
        if self.dimension:
            quantity = units.read(
                text, dimension=self.dimension, default_unit=self.default_unit, name=self.name_in_sentence
            )
            return units.canonical(quantity, self.dimension)
        found = numerals.readings(numerals.tidy(text.removesuffix(self.after or "\0")) or "", point_may_group=False)
        if len(found) == 1:
            return float(found[0])
        measures = f", or one of the measures {', '.join(self.labels)}" if self.labels else ""
        raise ValidationError(
            f"{self.name_in_sentence} must be a number, like 1.5{measures}; “{numerals.echo(text)}” is none.",
            code="unreadable",
        )


def figure_unit(unit: str) -> str:
    """The sign beside a box, empty for a bare number."""
    return figure(0, unit).removeprefix("0").strip()


def figure_typed(value: Any, unit: str, core: CoreRecipe) -> str:
    """A stored figure as one would type it."""
    if value is None:
        return ""
    return measure_label(core, value) if isinstance(value, str) else figure(value, unit)


def measure_fields(core: CoreRecipe) -> dict[str, MeasureField]:
    """A box for each measure of a recipe, read in any unit, asked about once beyond the plausible."""
    return {
        MEASURE + m.name: MeasureField(
            dimension=m.dimension, unit=m.unit, label=m.label, hint=m.hint, low=m.low, high=m.high, most=m.most,
            required=m.default is None and not m.when, allow_negative=m.dimension == "temperature",
        )
        for m in core.measures
    }  # fmt: skip


def typed_measures(form: ShedForm) -> dict[str, str]:
    """What was typed for the measures of a form, by measure name; what was left empty is left out."""
    names = [name for name in form.fields if name.startswith(MEASURE)]
    typed = {name.removeprefix(MEASURE): str(form.data.get(form.add_prefix(name), "")).strip() for name in names}
    return {name: text for name, text in typed.items() if text}


def prefixed(measures: Mapping[str, str]) -> dict[str, str]:
    """Typed measures under the names of their fields."""
    return {MEASURE + name: text for name, text in measures.items()}


def plain_typed(value: float | None, unit: str) -> str:
    """Text of a number in its unit as it can be typed; "" for None."""
    return "" if value is None else f"{value:g}" if unit == "piece" else f"{value:g} {units.symbol(unit)}"
