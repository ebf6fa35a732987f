"""Fields for words, days, whole numbers and choices, each with sentences of its own; and a form laid out as a page."""

from __future__ import annotations

from collections.abc import Iterable
from copy import deepcopy
from typing import Any, TypeAlias

from crispy_forms.helper import FormHelper
from crispy_forms.layout import ButtonHolder, Fieldset, Layout, LayoutObject, Row, Submit
from django import forms
from django.core.exceptions import ValidationError

from shop.forms.fields import ODD, QuantityInput, ReadField, ShedForm
from shop.measures.numerals import echo, tidy
from shop.text.writing import seen

Laid: TypeAlias = str | LayoutObject


class WordsField(forms.CharField):
    """Words in any language, up to what the column holds; `lines` above 1 makes the box a larger one.

    Blanks around them are left out, and what is pasted along and never seen: control characters, Unicode's line ends.
    """

    def __init__(
        self,
        *,
        label: str,
        most: int,
        lines: int = 1,
        hint: str = "",
        width: str = "full",
        fill: str = "off",
        **kw: Any,
    ) -> None:
        attrs = {"autocomplete": fill}
        kw.setdefault("widget", forms.Textarea({**attrs, "rows": lines}) if lines > 1 else forms.TextInput(attrs))
        super().__init__(label=label, help_text=hint, **kw)
        self.width, self.most, self.lines = width, most, lines

    def to_python(self, value: Any) -> Any:
        """Text without control characters."""
        return super().to_python(seen(value, lines=self.lines > 1) if isinstance(value, str) else value)

    def clean(self, value: Any) -> str:
        """Text, refused where it is longer than can be kept."""
        words: str = super().clean(value)
        if len(words) > self.most:
            raise ValidationError(
                f"{self.label} has {len(words)} characters; {self.most} is the most that can be kept.", code="long"
            )
        return words


class MailField(forms.EmailField):
    """An email address of a customer or supplier: never filled in by the phone with its owner's own."""

    def __init__(self, *, label: str = "Email", width: str = "long", **kw: Any) -> None:
        kw.setdefault("widget", forms.EmailInput({"autocomplete": "off", "inputmode": "email"}))
        super().__init__(label=label, max_length=254, **kw)
        self.width = width
        self.error_messages["invalid"] = f"{label} must be like name@place.example."


FIRST_YEAR, LAST_YEAR = 1950, 2199  # of what a shop writes down; others are slips of the finger


class DayField(forms.DateField):
    """A day, picked or typed as 2026-11-25. Cleans to a date."""

    def __init__(self, *, label: str, hint: str = "", **kw: Any) -> None:
        kw.setdefault("widget", forms.DateInput({"type": "date", "autocomplete": "off"}, format="%Y-%m-%d"))
        super().__init__(label=label, help_text=hint, input_formats=["%Y-%m-%d"], **kw)
        self.width = "middle"
        self.error_messages["invalid"] = f"{label} must be a day, like 2026-11-25."

    def clean(self, value: Any) -> Any:
        """Day, refused outside the years that the shop reckons with."""
        day = super().clean(value)
        if day is not None and not FIRST_YEAR <= day.year <= LAST_YEAR:
            raise ValidationError(
                f"{self.label} must be a day from {FIRST_YEAR} to {LAST_YEAR}, like 2026-11-25.", code="span"
            )
        return day


class WholeField(ReadField):
    """A whole number from `low` to `high`. Cleans to an int."""

    def __init__(self, *, low: int = 1, high: int = 99_999_999, **kw: Any) -> None:
        kw.setdefault("widget", QuantityInput("numeric"))
        super().__init__(**kw)
        self.low, self.high = low, high

    def read(self, text: str) -> int:
        """Whole number within the limits of the field."""
        digits = (tidy(text) or "").replace(" ", "")
        sentence = f"{self.name_in_sentence} must be a whole number from {self.low} to {self.high}, like {self.low}"
        if not (digits.isascii() and digits.isdigit()):
            raise ValidationError(f"{sentence}; “{echo(text)}” is none.", code="unreadable")
        if not self.low <= int(digits) <= self.high:
            raise ValidationError(f"{sentence}; {digits[:20]} is not.", code="span")
        return int(digits)


class PickField(forms.ChoiceField):
    """One of a few (radios) or of many (a list), with a sentence for anything else."""

    def __init__(
        self, *, label: str, choices: Any, hint: str = "", radios: bool = False, width: str = "", **kw: Any
    ) -> None:
        kw.setdefault("widget", forms.RadioSelect() if radios else forms.Select({"autocomplete": "off"}))
        super().__init__(label=label, choices=choices, help_text=hint, **kw)
        self.width = width or "middle"
        self.error_messages["invalid_choice"] = f"{label}: pick one of those offered."


class Fold(Fieldset):  # type: ignore[misc] # crispy_forms has no types
    """Fields that may wait, folded away under a line that says so; open where one of them needs a look."""

    template = "shed/layout/fold.html"
    open = False


class WithoutScript(Fieldset):  # type: ignore[misc] # crispy_forms has no types
    """Fields that only a page without its script needs."""

    template = "shed/layout/without_script.html"

    def __init__(self, *fields: Laid) -> None:
        super().__init__("", *fields)


class PageForm(ShedForm):
    """A form with its layout and its button; the tick box of an odd value stands right under what it is about."""

    layout: tuple[Laid, ...] = ()
    button = "Save"
    by_browser = False

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.in_order_of_layout()

    def in_order_of_layout(self) -> None:
        """Fields in the order they stand on the page, so that the summary of what is wrong follows it."""
        self.order_fields([both for name in _names(self.layout) for both in (name, ODD + name)])

    def ask_about(self, name: str, sentence: str) -> None:
        """Refuse the form once because of something unusual; a tick box beside the field takes it all the same."""
        if not self.data.get(self.add_prefix(ODD + name)):
            self._add_tick_box(name)
            self.add_error(name, ValidationError(sentence, code="odd"))

    @property
    def helper(self) -> FormHelper:
        """What `{% crispy form %}` asks for; made when shown, because tick boxes come with cleaning."""
        helper = FormHelper()
        helper.by_browser = self.by_browser
        helper.render_hidden_fields = True
        asked = tuple(name for name in self.fields if not name.startswith(ODD))
        parts = self._with_tick_boxes(deepcopy(self.layout) or asked)
        helper.layout = Layout(*parts, ButtonHolder(Submit("save", self.button)))
        return helper

    def _with_tick_boxes(self, parts: Iterable[Laid]) -> list[Laid]:
        laid: list[Laid] = []
        for part in parts:
            laid.append(part)
            if isinstance(part, Fold):
                part.open = any(self._needs_a_look(name) for name in _names([part]))
            if isinstance(part, str | Row):
                laid += [ODD + name for name in _names([part]) if ODD + name in self.fields]
            else:
                part.fields = self._with_tick_boxes(part.fields)
        return laid

    def _needs_a_look(self, name: str) -> bool:
        """Whether a field is wrong, or must be filled in and is empty."""
        if self.is_bound:
            return name in self.errors
        return self.fields[name].required and self[name].value() in (None, "")


def _names(parts: Iterable[Laid]) -> list[str]:
    """The fields of a layout in the order they stand there."""
    names: list[str] = []
    for part in parts:
        names += [part] if isinstance(part, str) else _names(part.fields)
    return names
