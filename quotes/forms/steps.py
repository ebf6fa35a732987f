"""Entries about one step of a recipe: its operation says what may be set, between which limits, and checks it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from inventory.models import Kind
from quotes.costing import REGISTRY, Constant
from quotes.costing.basis.setting import Setting
from quotes.costing.steps.operation import Operation
from quotes.forms.figures import FigureField, figure_typed
from quotes.forms.recipes import RecipePartForm
from quotes.recipes.words import figure
from shop.forms.words import PickField, WordsField

PLIES = 3  # boxes for a list of materials, and always one more than are filled
Materials = Sequence[tuple[str, str, str]]  # key, name, kind
KINDS = dict(Kind.choices)
OPERATIONS = [(key, operation.name) for key, operation in REGISTRY.items()]


class MaterialField(PickField):
    """A material of a step: what fits is offered, and what is set already; another kind is refused."""

    def __init__(self, *, setting: Setting, materials: Materials, none: str, here: str = "", **kw: Any) -> None:
        self.setting, self.here = setting, here
        self.known = {key: (name, kind) for key, name, kind in materials}
        groups: dict[str, list[tuple[str, str]]] = {}
        for key, name, kind in materials:
            if key == here or self.fits(key):
                groups.setdefault(KINDS.get(kind, kind), []).append((key, name))
        super().__init__(choices=[("", none), *groups.items()], **kw)

    def fits(self, key: str) -> bool:
        """Whether a material is of a kind that the setting takes."""
        return not self.setting.kinds or self.known[key][1] in self.setting.kinds

    def validate(self, value: str) -> None:
        """Refuse a material of a kind that the setting does not take."""
        if value in self.known and value != self.here and not self.fits(value):
            name, kind = self.known[value]
            wanted = " or ".join(KINDS.get(one, one) for one in self.setting.kinds)
            raise ValidationError(
                f"{self.label} must be {wanted}: {name} is kept under {KINDS.get(kind, kind)}. Pick one of those offered."
            )
        super().validate(value)


class StepForm(RecipePartForm):
    """One step: the settings of its operation, and when it is left out."""

    part = "operations"

    def __init__(
        self, *args: Any, operation: Operation, materials: Materials, figures: Mapping[str, Any], **kwargs: Any
    ):
        self.operation, self.materials, self.figures = operation, materials, figures
        super().__init__(*args, **kwargs)

    def build(self) -> None:
        """Lay out a field for each setting of the operation."""
        act = self.core.acts[self.index] if self.index is not None else None
        self.stored = stored = act.settings if act else {}
        for setting in self.operation.settings:
            self._add(setting, stored.get(setting.name))
        self.fields["when"] = PickField(
            label="When it is done", choices=self.when_choices(self.core.measures, "always"), required=False
        )
        self.initial["when"] = act.when if act else ""

    def _add(self, setting: Setting, value: Any) -> None:
        name, label = setting.name, setting.label.capitalize()
        if setting.kind == "number":
            hint = self._default_words(setting)
            self.fields[name] = FigureField(
                unit=setting.unit, core=self.core, label=label, required=setting.required, hint=hint
            )
            self.initial[name] = figure_typed(value, setting.unit, self.core)
        elif setting.kind == "materials":
            for number in range(1, max(PLIES, len(value or ()) + 1) + 1):
                words = f"{label}, {_ordinal(number)}"
                here = dict(enumerate(value or (), 1)).get(number, "")
                must = setting.required and number == 1
                self.fields[f"{name}_{number}"] = self._material(setting, words, "none", here, required=must)
                self.initial[f"{name}_{number}"] = here
        elif setting.kind == "material":
            default = {key: words for key, words, _ in self.materials}.get(str(setting.default), setting.default)
            none = f"as usual: {default}" if setting.default else "none"
            self.fields[name] = self._material(setting, label, none, value or "", required=False)
            self.initial[name] = value or ""
        elif setting.kind == "choices":
            self.fields[name] = forms.MultipleChoiceField(
                label=label, choices=[(one, one) for one in setting.choices], widget=forms.CheckboxSelectMultiple,
                required=setting.required,
            )  # fmt: skip
            self.initial[name] = list(value or ())
        elif setting.kind == "words":
            self.fields[name] = WordsField(label=label, most=200, required=False)
            self.initial[name] = value or ""
        else:
            self.fields[name] = PickField(label=label, choices=self._few(setting))
            self.initial[name] = value if value is not None else ("" if setting.required else setting.default)

    def _few(self, setting: Setting) -> list[tuple[str, str]]:
        """The places of the recipe, or the words of a choice with the usual one marked."""
        if setting.kind == "place":
            return [(name, name.replace("_", " ")) for name in self.core.places]
        return [(one, f"{one} (as usual)" if one == setting.default else one) for one in setting.choices]

    def _material(self, setting: Setting, label: str, none: str, here: str, *, required: bool) -> MaterialField:
        return MaterialField(
            setting=setting, materials=self.materials, label=label, none=none, here=here, required=required
        )

    def _default_words(self, setting: Setting) -> str:
        """What an empty box means: the figure, its usual range, and where it comes from."""
        default = setting.default
        if isinstance(default, Constant):
            value = self.figures.get(default.name, default.value)
            usual = f"{default.low:g} to {default.high:g}"
            return f"Empty: {figure(value, setting.unit)}; usual {usual}; {default.source}."
        return "" if default is None else f"Empty: {figure(float(default), setting.unit)}."  # type: ignore[arg-type]

    def settings(self) -> dict[str, Any]:
        """What the recipe says itself; a box left empty, or left as usual and not said before, is not kept."""
        kept: dict[str, Any] = {}
        for setting in self.operation.settings:
            if setting.kind == "materials":
                boxes = (name for name in self.fields if name.startswith(f"{setting.name}_"))
                value: Any = [self.cleaned_data[name] for name in boxes if self.cleaned_data.get(name)]
            else:
                value = self.cleaned_data.get(setting.name)
            as_usual = setting.kind == "choice" and value == setting.default and setting.name not in self.stored
            if value in (None, "", []) or as_usual:
                continue
            kept[setting.name] = value
        return kept

    def item(self) -> dict[str, Any]:
        """Step in the JSON form of a recipe."""
        when = self.cleaned_data.get("when")
        made = {"operation": self.operation.key, "settings": self.settings()}
        return made | ({"when": when} if when else {})

    def clean(self) -> dict[str, Any]:
        """Entries, refused where the operation does not take its settings."""
        entries = super().clean()
        measures = [m.name for m in self.core.measures]
        for name, sentence in self.operation.check(self.settings(), measures, self.core.places):
            field = name if name in self.fields else f"{name}_1"
            if field not in self.errors:
                self.add_error(field if field in self.fields else None, f"{self.operation.name}: {sentence}")
        return entries


def _ordinal(number: int) -> str:
    return {1: "1st", 2: "2nd", 3: "3rd"}.get(number, f"{number}th")
