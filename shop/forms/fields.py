"""Form fields that read what people write, and the form that all of ours are made from.

A field's `clean` gives the exact canonical Decimal (length mm, area cm², volume mL, mass g, time min, …) or money;
what was typed stays in the box. A value beyond what is plausible is asked about once: a tick box appears beside it.
"""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any, Literal, TypeVar

from django import forms
from django.core.exceptions import ValidationError

from shop.measures import money, numerals, unit_table, units
from shop.models import Profile
from shop.platform.acts import Refused

Box = TypeVar("Box", bound=forms.Field)

ODD = "odd_"  # prefix of the tick box that says an odd value is right


class QuantityInput(forms.TextInput):
    """A text box with a number keypad; never type=number, which loses what was typed."""

    def __init__(self, inputmode: str = "decimal") -> None:
        super().__init__(attrs={"inputmode": inputmode, "autocomplete": "off", "autocapitalize": "off"})


class ReadField(forms.CharField):
    """A text box whose words are read into a number by one of our grammars.

    `doubts_point`: whether `1.500` in it is asked about, so that what we put there ourselves must leave no doubt.
    """

    doubts_point = False
    after: str  # the sign behind the box, where it is not that of its unit
    step: str  # what its plus and minus add and take, where it has them

    def __init__(self, *, hint: str = "", width: str = "short", **kwargs: Any) -> None:
        kwargs.setdefault("widget", QuantityInput())
        super().__init__(help_text=hint or kwargs.pop("help_text", ""), **kwargs)
        self.width = width

    @property
    def name_in_sentence(self) -> str:
        """Name of the field at the head of a sentence."""
        return str(self.label) if self.label else "This"

    def read(self, text: str) -> Any:
        """Value of a typed text; raises UnitError or ValidationError with a sentence."""
        raise NotImplementedError

    def clean(self, value: Any) -> Any:
        """Value of what was typed; None where nothing was and nothing must be."""
        text = "" if value is None else str(value)
        if not text.strip() and not self.required:
            return None
        try:
            return self.read(text)
        except units.UnitError as problem:
            raise ValidationError(problem.sentence, code="unreadable") from None


class MeasureField(ReadField):
    """A quantity of one dimension; `low` and `high` (canonical) are the limits of the plausible, `most` that of all.

    Without `most` it is twenty times `high`: beyond it nothing is asked, the value is refused.
    """

    BEYOND = 20
    doubts_point = True

    def __init__(
        self,
        *,
        dimension: units.Dimension,
        unit: str | None = None,
        example: str | None = None,
        low: float | Decimal | None = None,
        high: float | Decimal | None = None,
        most: float | Decimal | None = None,
        allow_negative: bool = False,
        above_zero: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(**kwargs)
        self.dimension = dimension
        self.unit = unit
        self.example = example
        self.low, self.high = low, high
        self.most = most if most is not None or high is None else self.BEYOND * Decimal(str(high))
        self.allow_negative = allow_negative
        self.above_zero = above_zero
        self.volume_system: units.VolumeSystem = "us"

    def read(self, text: str) -> Decimal:
        """Number in the canonical unit of the field's dimension."""
        quantity = units.read(
            text,
            dimension=self.dimension,
            default_unit=self.unit,
            volume_system=self.volume_system,
            allow_negative=self.allow_negative,
            name=self.name_in_sentence,
            example=self.example,
        )
        value = units.canonical_exact(quantity, self.dimension)
        if self.above_zero and value <= 0:
            like = f", like {self.example}" if self.example else ""
            raise ValidationError(f"{self.name_in_sentence} must be above zero{like}.", code="zero")
        if self.most is not None and abs(value) > Decimal(str(self.most)):
            least = units.show(Decimal(str(self.most)), unit_table.KINDS[self.dimension].canonical)
            raise ValidationError(
                f"{self.name_in_sentence} must be at most {least}; {numerals.echo(text)} is a slip.", code="most"
            )
        return value

    def odd(self, value: Decimal | None) -> bool:
        """Beyond the plausible, so worth asking about once."""
        if value is None:
            return False
        return (self.low is not None and value < Decimal(str(self.low))) or (
            self.high is not None and value > Decimal(str(self.high))
        )


class StockField(ReadField):
    """An amount of a material, typed in any unit that its facts can turn into its own. Cleans to a Decimal."""

    doubts_point = True
    DEFAULT_UNIT = {"g": "g", "mL": "mL", "m": "m", "m2": "m2", "piece": "piece"}

    def __init__(self, *, stock_unit: units.StockUnit = "g", above_zero: bool = True, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.stock_unit: units.StockUnit | Literal[""] = stock_unit  # empty while nobody has said what it is of
        self.above_zero = above_zero
        self.facts: units.UnitFacts = {}
        self.volume_system: units.VolumeSystem = "us"

    def of(self, material: Any) -> None:
        """Read for this material: its unit, and the facts that turn litres into grams and rolls into area."""
        self.stock_unit, self.facts = material.unit, material.unit_facts()

    def read(self, text: str) -> Decimal:
        """Quantity in the unit the material is counted in."""
        assert self.stock_unit
        quantity = units.read_amount(
            text,
            default_unit=self.DEFAULT_UNIT[self.stock_unit],
            volume_system=self.volume_system,
            name=self.name_in_sentence,
        )
        value = units.to_stock(quantity, self.stock_unit, name=self.name_in_sentence, **self.facts)
        if self.above_zero and value <= 0:
            raise ValidationError(f"{self.name_in_sentence} must be above zero.", code="zero")
        return value


class MoneyFormField(ReadField):
    """An amount of money in the shop's currency. Cleans to a Decimal."""

    def __init__(self, *, currency: str = "EUR", above_zero: bool = False, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.currency = currency
        self.above_zero = above_zero

    def read(self, text: str) -> Decimal:
        """Amount in the shop's currency."""
        amount = money.read_money(text, currency=self.currency, name=self.name_in_sentence)
        if self.above_zero and amount <= 0:
            raise ValidationError(f"{self.name_in_sentence} must be above zero, like 25.00.", code="zero")
        return amount


class PercentFormField(ReadField):
    """A percentage from `low` to `high` points. Cleans to a Decimal of points (13.5 for 13.5 %)."""

    doubts_point = True

    def __init__(self, *, low: int = 0, high: int = 100, below: bool = False, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.low, self.high, self.below = low, high, below

    def read(self, text: str) -> Decimal:
        """Percentage points within the limits of the field."""
        points = units.canonical_exact(
            units.read(text, dimension="percent", default_unit="percent", name=self.name_in_sentence, example="13.5"),
            "percent",
        )
        if not self.low <= points <= self.high or (self.below and points == self.high):
            span = f"from {self.low} to {'below ' if self.below else ''}{self.high}"
            raise ValidationError(f"{self.name_in_sentence} must be {span} per cent, like 13.5.", code="span")
        return points


class ShedForm(forms.Form):
    """The form all of ours are made from: no browser checks, odd values asked about once, refusals shown in place."""

    base_fields: dict[str, forms.Field]  # type: ignore[misc] # a form may bring fields of its own
    use_required_attribute = False
    error_css_class = "has-error"
    numbered: Mapping[str, str] = {}  # what an act has several of, and how its fields begin here

    def __init__(self, *args: Any, shop: Profile | None = None, **kwargs: Any) -> None:
        kwargs.setdefault("label_suffix", "")
        super().__init__(*args, **kwargs)
        self.shop = shop
        for field in self.fields.values():
            if isinstance(field, MeasureField | StockField) and shop is not None:
                field.volume_system = shop.volume_system
            if isinstance(field, MoneyFormField) and shop is not None:
                field.currency = shop.currency
            if field.required and isinstance(field, forms.CharField | forms.ChoiceField | forms.DateField):
                field.error_messages["required"] = f"{field.label or 'This'} is empty; fill it in."
        for name in list(self.fields):
            if self.data.get(self.add_prefix(ODD + name)):
                self._add_tick_box(name)

    def field(self, name: str, kind: type[Box]) -> Box:
        """The field of that name, known to be of this kind: for what not every field has."""
        field = self.fields[name]
        assert isinstance(field, kind)
        return field

    def get_initial_for_field(self, field: forms.Field, field_name: str) -> Any:
        """As it stands in the box: a figure of ours is written so that it can be sent back and is not asked about."""
        value = super().get_initial_for_field(field, field_name)
        asked = isinstance(field, ReadField) and field.doubts_point
        return numerals.undoubted(str(value)) if asked and isinstance(value, str | Decimal) else value

    def _add_tick_box(self, name: str) -> None:
        typed = str(self.data.get(self.add_prefix(name), ""))
        self.fields[ODD + name] = forms.BooleanField(required=False, label=f"Yes, it is really {typed.strip()}"[:80])
        order = [n for n in self.fields if n != ODD + name]
        order.insert(order.index(name) + 1, ODD + name)
        self.order_fields(order)

    def _clean_fields(self) -> None:
        super()._clean_fields()  # type: ignore[misc]
        for name, field in list(self.fields.items()):
            value = self.cleaned_data.get(name)
            if not isinstance(field, MeasureField) or not field.odd(value):
                continue
            if self.cleaned_data.get(ODD + name) or self.data.get(self.add_prefix(ODD + name)):
                continue
            self._add_tick_box(name)
            typed = str(self.data.get(self.add_prefix(name), "")).strip()
            self.add_error(
                name,
                ValidationError(f"{field.name_in_sentence} of {typed} is unusual. Tick the box if it is right.", "odd"),
            )

    def entries(self) -> dict[str, Any]:
        """What the act is called with, by its own names; a form that asks in other words than the act says so here."""
        return {name: value for name, value in self.cleaned_data.items() if not name.startswith(ODD)}

    def odd_accepted(self) -> list[str]:
        """Names of fields whose odd value was said to be right."""
        return [n for n, f in self.fields.items() if isinstance(f, MeasureField) and f.odd(self.cleaned_data.get(n))]

    def beside(self, said: str) -> str:
        """The field beside which a refusal stands; acts name their own entries, like `checks.3` for the fourth."""
        what, _, number = said.partition(".")
        return f"{self.numbered[what]}{number}" if what in self.numbered else said

    def refuse(self, problem: Refused | ValidationError) -> None:
        """Show a verb's refusal: beside its fields where the form has them, otherwise for the whole form."""
        if hasattr(problem, "error_dict"):
            for said, errors in problem.error_dict.items():
                name = self.beside(said)
                self.add_error(name if name in self.fields else None, errors)
        else:
            self.add_error(None, problem)
