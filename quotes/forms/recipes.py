"""Entries about a recipe: its words, measures and places. Each form gives back the body with its part changed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from quotes.costing import Construction, Measure
from quotes.costing.basis.places import SHAPES, check_places
from quotes.costing.parts.measures import UNIT
from quotes.costing.recipes.recipe import CoreRecipe
from quotes.forms.figures import (
    FigureField,
    GrownForm,
    figure_typed,
    measure_fields,
    plain_typed,
    prefixed,
    typed_measures,
)
from quotes.models import Damage
from quotes.recipes.drafts import Body, put, read
from quotes.recipes.reference import Reference
from quotes.recipes.words import when_words
from shop.forms.fields import MeasureField, ReadField, ShedForm
from shop.forms.words import PickField, WordsField
from shop.measures import units
from shop.models import Board
from shop.platform.acts import Refused

DIMENSIONS = [(name, f"{name}, in {units.symbol(unit)}") for name, unit in UNIT.items()]


class WordsForm(ShedForm):
    """What the recipe is called, what it mends, and what customer and bench read."""

    name = WordsField(label="Name", most=120, width="long")
    about = WordsField(label="What it is", most=300, lines=2, required=False, hint="The customer reads it on a quote.")
    kinds = forms.MultipleChoiceField(
        label="Damages it mends", choices=Damage.Kind.choices, required=False, widget=forms.CheckboxSelectMultiple
    )
    may_turn_up = WordsField(
        label="What may turn up", most=500, lines=2, required=False, hint="Once the board is open; goes on the quote."
    )
    release_check = WordsField(
        label="Release check", most=2000, lines=6, required=False, hint="One check on each line, ticked before ready."
    )
    aftercare = WordsField(
        label="Aftercare", most=2000, lines=4, required=False, hint="One sentence on each line, for the rider."
    )
    LINES = ("release_check", "aftercare")

    def __init__(self, *args: Any, body: Body, **kwargs: Any) -> None:
        lines = {name: "\n".join(body.get(name, ())) for name in self.LINES}
        super().__init__(*args, initial={**body, **lines}, **kwargs)
        self.body = body

    def changed(self) -> Body:
        """The body with these words."""
        entries = dict(self.cleaned_data)
        for name in self.LINES:
            entries[name] = [line.strip() for line in entries[name].splitlines() if line.strip()]
        return {**self.body, **entries}


class NameForm(ShedForm):
    """The name of a new recipe or a copy."""

    name = WordsField(label="Name", most=120, width="long")


class NewForm(NameForm):
    """A new recipe: its name and what it mends."""

    kinds = WordsForm.base_fields["kinds"]


class RecipePartForm(GrownForm):
    """A form about one part of a recipe's body; `index` is its place in the list, None for a new one at the end."""

    part = ""

    def __init__(self, *args: Any, body: Body, index: int | None = None, after: int | None = None, **kwargs: Any):
        super().__init__(*args, **kwargs)
        self.body, self.index, self.after = body, index, after
        self.core = read(body)
        self.build()
        self.grown()

    def build(self) -> None:
        """Adds the fields that hang on the recipe."""

    def item(self) -> Any:
        """The part as the body keeps it, from the cleaned entries."""
        raise NotImplementedError

    def changed(self) -> Body:
        """The body with this part put in, or in place of the one that was there."""
        if self.index is None:
            return put(self.body, self.part, self.item(), self.after)
        return put(self.body, self.part, self.item(), self.index, instead=True)

    def clean(self) -> dict[str, Any]:
        """Entries, refused where the recipe could not be read with them."""
        entries = super().clean() or self.cleaned_data
        if not self.errors:
            try:
                read(self.changed())
            except Refused as wrong:
                self.refuse(wrong)
        return entries

    def when_choices(self, measures: Sequence[Measure], none: str) -> list[tuple[str, str]]:
        """When something is done or asked for: always, or only where there is some of a measure."""
        return [("", none), *((m.name, when_words(m)) for m in measures)]


class MeasureForm(RecipePartForm):
    """One thing to measure, with the limits of the plausible."""

    part = "measures"
    label = WordsField(label="What is measured", most=60, width="middle", hint="Like Length of the bubble.")
    dimension = PickField(label="Kind of measure", choices=DIMENSIONS)
    low = ReadField(label="Plausible from", hint="Below it the counter is asked once.")
    high = ReadField(label="Plausible up to", hint="Above it the counter is asked once.")
    default = ReadField(label="If nobody says", required=False, hint="Empty: it must be measured.")
    hint = WordsField(label="How to measure it", most=160, required=False)
    when = PickField(label="Asked for", choices=(), required=False)

    def build(self) -> None:
        """Lay out the fields for a measure, or for a new one."""
        here = self.core.measures[self.index] if self.index is not None else None
        before = self.core.measures[: self.index] if self.index is not None else self.core.measures
        self.field("when", PickField).choices = self.when_choices(before, "always")
        if here is not None:
            self.initial = {
                "label": here.label, "dimension": here.dimension, "hint": here.hint, "when": here.when,
                **{name: plain_typed(getattr(here, name), here.unit) for name in ("low", "high", "default")},
            }  # fmt: skip
        self.old = here
        wanted = self.data.get("dimension") if self.is_bound else here and here.dimension
        self.read_as: units.Dimension = wanted if wanted in UNIT else "length"
        for name in ("low", "high", "default"):
            field = self.fields[name]
            self.fields[name] = MeasureField(
                dimension=self.read_as, unit=UNIT[self.read_as], label=field.label, required=field.required,
                hint=field.help_text, allow_negative=self.read_as == "temperature",
            )  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Entries, refused where low is above high."""
        entries = self.cleaned_data
        low, high = entries.get("low"), entries.get("high")
        if low is not None and high is not None and low > high:
            self.add_error(
                "high", f"The measure {entries.get('label', '')} must have low ≤ high; {high} is below {low}."
            )
        return super().clean()

    def item(self) -> dict[str, Any]:
        """Measure in the JSON form of a recipe."""
        entries = self.cleaned_data
        name = self.old.name if self.old else _new_name(entries["label"], [m.name for m in self.core.measures])
        default = entries["default"]
        made = {
            "name": name,
            "label": entries["label"],
            "dimension": entries["dimension"],
            "low": float(entries["low"]),
            "high": float(entries["high"]),
            "hint": entries["hint"],
            "default": None if default is None else float(default),
        }
        return made | ({"when": entries["when"]} if entries["when"] else {})


class PlaceForm(RecipePartForm):
    """One place: a shape with its sizes, or an earlier place made larger all round."""

    part = "places"
    called = WordsField(label="What the place is called", most=40, width="middle", hint="Like patch, or left pocket.")

    def __init__(self, *args: Any, shape: str = "", **kwargs: Any) -> None:
        self.shape = shape
        super().__init__(*args, **kwargs)

    def build(self) -> None:
        """Lay out the fields for the shape of a place."""
        names = list(self.core.places)
        here = self.core.places[names[self.index]] if self.index is not None else {}
        self.old = names[self.index] if self.index is not None else ""
        self.shape = self.shape or str(here.get("shape", "rectangle"))
        if self.old:
            del self.fields["called"]
        if self.shape == "grown":
            above = names[: self.index] if self.index is not None else names
            choices = [(name, name.replace("_", " ")) for name in above]
            self.fields["of"] = PickField(label="The place it is made from", choices=choices)
        for size, required in _sizes(self.shape).items():
            label = "Larger on every side by" if size == "by" else size.replace("_", " ").capitalize()
            self.fields[size] = FigureField(unit="mm", core=self.core, required=required, label=label, width="middle")
            self.initial[size] = figure_typed(here.get(size), "mm", self.core)
        self.initial.setdefault("of", here.get("of", ""))

    def item(self) -> dict[str, Any]:
        """Place in the JSON form of a recipe."""
        entries = {name: value for name, value in self.cleaned_data.items() if name != "called" and value is not None}
        name = self.old or _new_name(self.cleaned_data["called"], list(self.core.places))
        return {"name": name, "shape": self.shape, **entries}

    def clean(self) -> dict[str, Any]:
        """Entries, refused where the place cannot be built."""
        entries = super().clean()
        if not self.errors:
            places = read(self.changed()).places
            name = self.item()["name"]
            for sentence in check_places(places, [m.name for m in self.core.measures]):
                if sentence.startswith((f"The place {name} ", f"The place {name},", f"The place {name}:")):
                    self.add_error(None, sentence)
        return entries


def _sizes(shape: str) -> dict[str, bool]:
    """The sizes of a shape and whether each must be said."""
    if shape == "grown":
        return {"by": True}
    _, sizes, optional = SHAPES[shape]
    return {size: size not in optional for size in sizes}


def _new_name(label: str, taken: Sequence[str]) -> str:
    """A name for the body made of a label's words: Left pocket is left_pocket."""
    words = "".join(c if c.isalnum() and c.isascii() else " " for c in label.lower()).split()
    name = "_".join(words) or "part"
    names = (name if number == 1 else f"{name}_{number}" for number in range(1, len(taken) + 2))
    return next(one for one in names if one not in taken)


SHAPE_WORDS = {
    "rectangle": "Rectangle: length × width, with a depth if it is a hole",
    "ellipse": "Oval: length × width, with a depth if it is a hole",
    "section": "The board cut across: width × thickness, with a gap as its depth",
    "rail-wrap": "Wrapped round the rail: length × tape round the edge",
    "box-pocket": "Pocket of a fin box: length × width × depth",
    "plug": "Round hole: diameter, depth",
    "fin": "Fin: base, height, tip",
    "band": "Band over one face of the board, rail to rail",
    "deck": "Whole deck or bottom: length × width of the board",
    "grown": "An earlier place, larger all round",
}
assert set(SHAPE_WORDS) == {*SHAPES, "grown"}


class ReferenceForm(GrownForm):
    """The board and the measures that the recipe's price is shown for."""

    def __init__(self, *args: Any, core: CoreRecipe, reference: Reference, **kwargs: Any) -> None:
        board = reference.board
        initial = {
            "core": board.core,
            "resin": board.resin,
            "skin": board.skin,
            "wet": board.wet,
            **prefixed(reference.measures),
        }
        super().__init__(*args, initial=initial, **kwargs)
        for name, label, choices in (
            ("core", "Core", Board.Core.choices),
            ("resin", "Skin resin", Board.Resin.choices),
            ("skin", "Skin", Board.Skin.choices),
        ):
            self.fields[name] = PickField(label=label, choices=choices)
        self.fields["wet"] = forms.BooleanField(label="Water in the core", required=False)
        self.fields |= measure_fields(core)
        self.grown()

    def reference(self) -> Reference:
        """As entered; a measure left empty is a usual one."""
        board = Construction(*(self.cleaned_data[name] for name in ("core", "resin", "skin", "wet")))
        return Reference(board, typed_measures(self))
