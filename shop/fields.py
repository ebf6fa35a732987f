"""Exact columns: a whole number in the database, a Decimal in Python.

A DecimalField is a floating column on SQLite, so stock and money are kept as whole numbers of a small step.
Sums, comparisons and check constraints are then exact on both databases. One type serves all:
six places for quantities (µg, µL carry mg and µL; µm for lengths; 0.01 cm² for areas), four for money.
"""

from __future__ import annotations

from decimal import Decimal, InvalidOperation
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db import models

WHOLE_NUMBER_LIMIT = 9_223_372_036_854_775_807  # signed 64 bit, the column's own


class ExactField(models.Field):  # type: ignore[type-arg]
    """A Decimal with a fixed number of places, kept as a whole number. Floats and dust are refused."""

    description = "Exact decimal number with %(places)s places"

    def __init__(self, *args: Any, places: int, **kwargs: Any) -> None:
        self.places = places
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> tuple[str, str, list[Any], dict[str, Any]]:
        name, path, args, kwargs = super().deconstruct()
        return name, path, list(args), {**kwargs, "places": self.places}

    def get_internal_type(self) -> str:
        return "BigIntegerField"

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Decimal | None:
        return None if value is None else Decimal(int(value)).scaleb(-self.places)

    def to_python(self, value: Any) -> Decimal | None:
        if value is None or isinstance(value, Decimal):
            return value
        if isinstance(value, float):
            raise TypeError(f"{self.name} takes a Decimal, not the float {value!r}")
        try:
            return Decimal(str(value))
        except InvalidOperation:
            raise ValidationError(f"{self.verbose_name} must be a number, like 12.5.") from None

    def get_prep_value(self, value: Any) -> int | None:
        number = value if isinstance(value, Decimal) else self.to_python(super().get_prep_value(value))
        if number is None:
            return None
        whole = number.scaleb(self.places)
        if not whole.is_finite() or whole != whole.to_integral_value():
            raise ValidationError(f"{self.verbose_name} must have at most {self.places} decimals; {number} has more.")
        if abs(whole) > WHOLE_NUMBER_LIMIT:
            raise ValidationError(f"{self.verbose_name} is larger than can be kept.")
        return int(whole)

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        return value if prepared else self.get_prep_value(value)

    def value_to_string(self, obj: models.Model) -> str:
        value = self.value_from_object(obj)
        return "" if value is None else str(value)

    def formfield(self, **kwargs: Any) -> Any:
        return super().formfield(**{"form_class": forms.DecimalField, "decimal_places": self.places, **kwargs})


class QuantityField(ExactField):
    """A stock quantity in the material's own unit (g, mL, m, m², pieces)."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"places": 6, **kwargs})


class MoneyField(ExactField):
    """An amount of the shop's currency, to 1/10 000."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"places": 4, **kwargs})


class PercentField(ExactField):
    """A percentage, to 1/1000 of a point (Quebec's 9.975 needs three)."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"places": 3, **kwargs})
