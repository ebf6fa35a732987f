"""Exact columns: a whole number in the database, a Decimal in Python.

A DecimalField is a floating column on SQLite, so stock and money are kept as whole numbers of a small step.
Sums, comparisons and check constraints are then exact on both databases. One type serves all:
six places for quantities (µg, µL carry mg and µL; µm for lengths; 0.01 cm² for areas), four for money.
A plain number beside `F()` would be added to the whole number as it stands, five as five millionths: it is refused.
`exact(Decimal(5), like=…)` is the way to write one.
"""

from __future__ import annotations

from collections.abc import Iterable
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any, TypeVar

from django import forms
from django.core.exceptions import ValidationError
from django.db import connection, models
from django.db.models import lookups
from django.db.models.expressions import Col, Combinable, CombinedExpression

WHOLE_NUMBER_LIMIT = 9_223_372_036_854_775_807  # signed 64 bit, the column's own


def exact(number: Decimal, *, like: models.Field[Any, Any]) -> models.Value:
    """A number to stand beside `F()` of an exact column, in the whole numbers of that column.

    `like` is the column: `F("quantity_left") + exact(Decimal(5), like=Lot._meta.get_field("quantity_left"))`.
    """
    return models.Value(number, output_field=like.clone())


def columns(row: models.Model, names: Iterable[str]) -> list[Any]:
    """A row's values as its columns keep them, for a sentence of SQL that is handed to Django's cursor."""
    known = {field.name: field for field in row._meta.concrete_fields}
    fields = [known[name] for name in names]
    return [field.get_db_prep_save(getattr(row, field.attname), connection) for field in fields]


def check_scaled(expression: Any, places: int) -> None:
    """Raises TypeError where an expression mixes columns of so many places with a plain number or with other places.

    It looks into sums, products and wrappers, not into functions. Times a whole number is the one calculation with a
    plain number that stays exact.
    """
    if isinstance(expression, Col) and getattr(expression.target, "places", places) != places:
        raise TypeError(f"{expression.target.name} has other places than {places}; work it out in Python.")
    if isinstance(expression, models.Value):
        own = getattr(expression, "_output_field_or_none", None)
        if expression.value is not None and getattr(own, "places", None) != places:
            raise TypeError(
                f"{expression.value!r} stands beside a column of whole numbers with {places} places, as it is: "
                "write it as shop.fields.exact(number, like=the column)."
            )
        return
    if isinstance(expression, CombinedExpression) and expression.connector == "*":
        for side in (expression.lhs, expression.rhs):
            if not (isinstance(side, models.Value) and isinstance(side.value, int)):
                check_scaled(side, places)
        return
    if isinstance(expression, CombinedExpression) and expression.connector not in ("+", "-"):
        raise TypeError(f"{expression.connector} on a column with {places} places is not exact; work it out in Python.")
    if isinstance(expression, CombinedExpression | models.ExpressionWrapper):
        for part in expression.get_source_expressions():
            check_scaled(part, places)


_Set = TypeVar("_Set", contravariant=True)
_Get = TypeVar("_Get", covariant=True)

if TYPE_CHECKING:

    class _Column(models.Field[_Set, _Get]):
        _pyi_private_set_type: Decimal | int | Combinable  # read by the plugin of django-stubs
        _pyi_private_get_type: Decimal

else:

    class _Column(models.Field):
        """Django's own field, which takes no types in brackets while the program runs."""

        def __class_getitem__(cls, _types):
            return cls


class ExactField(_Column[_Set, _Get]):
    """A Decimal with a fixed number of places, kept as a whole number. Floats and dust are refused."""

    description = "Exact decimal number with %(places)s places"

    def __init__(self, *args: Any, places: int, **kwargs: Any) -> None:
        self.places = places
        super().__init__(*args, **kwargs)

    def deconstruct(self) -> tuple[str, str, list[Any], dict[str, Any]]:
        """Arguments that make the field again in a migration, `places` among them."""
        name, path, args, kwargs = super().deconstruct()
        return name, path, list(args), {**kwargs, "places": self.places}

    def get_internal_type(self) -> str:
        """Column type: a whole number of 64 bits."""
        return "BigIntegerField"

    def from_db_value(self, value: Any, expression: Any, connection: Any) -> Decimal | None:
        """Decimal of the whole number that the column holds."""
        return None if value is None else Decimal(int(value)).scaleb(-self.places)

    def to_python(self, value: Any) -> Decimal | None:
        """Decimal of what was assigned. Raises TypeError for a float, ValidationError for what is no number."""
        if value is None or isinstance(value, Decimal):
            return value
        if isinstance(value, float):
            raise TypeError(f"{self.name} takes a Decimal, not the float {value!r}")
        try:
            return Decimal(str(value))
        except InvalidOperation:
            raise ValidationError(f"{self.verbose_name} must be a number, like 12.5.") from None

    def get_prep_value(self, value: Any) -> int | None:
        """Whole number that the column keeps. Raises ValidationError for too many decimals or too large a number."""
        number = value if isinstance(value, Decimal) else self.to_python(super().get_prep_value(value))
        if number is None:
            return None
        whole = number.scaleb(self.places)
        if not whole.is_finite() or whole != whole.to_integral_value():
            raise ValidationError(f"{self.verbose_name} must have at most {self.places} decimals; {number} has more.")
        if abs(whole) > WHOLE_NUMBER_LIMIT:
            raise ValidationError(f"{self.verbose_name} is larger than can be kept.")
        return int(whole)

    def get_db_prep_save(self, value: Any, connection: Any) -> Any:
        """Sees every expression on its way into the column. Raises TypeError where it is not in its whole numbers."""
        if hasattr(value, "as_sql"):
            check_scaled(value, self.places)
        return super().get_db_prep_save(value, connection)

    def get_db_prep_value(self, value: Any, connection: Any, prepared: bool = False) -> Any:
        return value if prepared else self.get_prep_value(value)

    def value_to_string(self, obj: models.Model) -> str:
        """Value as text, to the last digit."""
        value = self.value_from_object(obj)
        return "" if value is None else str(value)

    def formfield(self, **kwargs: Any) -> Any:
        """Decimal field of a form with as many places."""
        return super().formfield(**{"form_class": forms.DecimalField, "decimal_places": self.places, **kwargs})


class QuantityField(ExactField[_Set, _Get]):
    """A stock quantity in the material's own unit (g, mL, m, m², pieces)."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"places": 6, **kwargs})


class MoneyField(ExactField[_Set, _Get]):
    """An amount of the shop's currency, to 1/10 000."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"places": 4, **kwargs})


class PercentField(ExactField[_Set, _Get]):
    """A percentage, to 1/1000 of a point (Quebec's 9.975 needs three)."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **{"places": 3, **kwargs})


def _comparing(lookup: type[lookups.Lookup]) -> type[lookups.Lookup]:
    """A lookup that refuses plain numbers beside `F()` on its right."""

    def get_prep_lookup(self: Any) -> Any:
        if isinstance(self.rhs, CombinedExpression | models.Value):
            check_scaled(self.rhs, self.lhs.output_field.places)
        return lookup.get_prep_lookup(self)

    return type(f"Exact{lookup.__name__}", (lookup,), {"get_prep_lookup": get_prep_lookup})


for _lookup in (
    lookups.Exact,
    lookups.GreaterThan,
    lookups.GreaterThanOrEqual,
    lookups.LessThan,
    lookups.LessThanOrEqual,
):
    ExactField.register_lookup(_comparing(_lookup))
