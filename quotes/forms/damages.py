"""One damage of a board: what it is, on which side, where it lies by place, drawing or measure, and how large it is."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from quotes.models import Damage
from shop.forms.fields import ODD, MeasureField
from shop.forms.people import camera_field
from shop.forms.words import PageForm, PickField, WordsField
from shop.models import Board
from shop.papers import drawings

TENTH = Decimal("0.1")
SIDE_SIGN: dict[str, int] = {Damage.Side.LEFT_RAIL: -1, Damage.Side.RIGHT_RAIL: 1}
POINTED = ("side", "from_tail", "from_stringer", "hand")
LONGEST_DRAWN_MM = 10_000  # anything longer is a slip of the finger, asked about when the form is sent


def _length(label: str, *, high: int, hint: str = "", **more: Any) -> MeasureField:
    return MeasureField(label=label, dimension="length", unit="mm", high=high, hint=hint, required=False, **more)


def damage_fields(*, required: bool = True) -> dict[str, forms.Field]:
    """The boxes of one damage. Limits of the plausible are our own, no source."""
    blank = ("", "choose" if required else "no more damage")
    return {
        "kind": PickField(label="What is it", choices=[blank, *Damage.Kind.choices], required=required),
        "side": PickField(label="Which side", choices=[("", "as the place says"), *Damage.Side.choices], required=False),
        "place": PickField(
            label="Where, or tap the drawing", required=False,
            choices=[("", "as measured"), *((place.key, place.words) for place in drawings.PLACES)],
        ),
        "from_tail": _length("From the tail", high=4300, hint="Along the stringer."),
        "from_stringer": _length("From the stringer", high=450, allow_negative=True),
        "hand": PickField(label="Seen from the deck", choices=[("left", "left"), ("right", "right")], radios=True, required=False),
        "words": WordsField(label="In words", most=400, required=False, hint="What a customer would call it."),
        "length": _length("Length", high=2500),
        "width": _length("Width", high=800),
        "depth": _length("Depth", high=150),
        "photos": camera_field("Photos of it"),
    }  # fmt: skip


class GroupedForm(PageForm):
    """A form whose template lays out groups of fields itself, each with its tick box where one is asked for."""

    def group(self, *names: str) -> list[BoundField]:
        """Fields of these names, each with the box that asks about it."""
        return [self[one] for name in names for one in (name, ODD + name) if one in self.fields]


class DamageForm(GroupedForm):
    """One damage on a board that is here."""

    button = "Save the damage"

    def __init__(self, *args: Any, board: Board, **kwargs: Any) -> None:
        self.board = board
        self.base_fields = damage_fields()
        super().__init__(*args, **kwargs)

    @classmethod
    def showing(cls, damage: Damage) -> dict[str, Any]:
        """Entries that show a damage as it is."""
        across = damage.from_stringer_mm
        return {
            "kind": damage.kind, "side": damage.side, "words": damage.words,
            "from_tail": f"{damage.from_tail_mm.normalize():f} mm", "from_stringer": f"{abs(across).normalize():f} mm",
            "hand": "" if not across else "left" if across < 0 else "right", **damage.measures,
        }  # fmt: skip

    def clean(self) -> dict[str, Any]:
        """Entries, with the place of the damage on the board."""
        super().clean()
        self.position = position(self, "", shape_of(self.board))
        return self.cleaned_data

    @property
    def where_fields(self) -> list[BoundField]:
        """Fields that say where the damage is."""
        return self.group("from_tail", "from_stringer", "hand")

    @property
    def size_fields(self) -> list[BoundField]:
        """Fields that say how large the damage is."""
        return self.group(*Damage.SIZES)

    def fill(self, damage: Damage) -> Damage:
        """The row with what was entered."""
        return fill_damage(damage, self, "", self.position)


def shape_of(board: Board) -> drawings.Shape:
    """Outline of a board from its sizes in mm."""
    nose, tail = (float(size) if size else None for size in (board.nose_mm, board.tail_mm))
    return drawings.Shape.measured(float(board.length_mm), float(board.width_mm), nose, tail, board.tail_shape)


def position(form: GroupedForm, prefix: str, shape: drawings.Shape | None) -> tuple[Decimal, Decimal] | None:
    """Mm from the tail and from the stringer (right is plus) out of what was measured, else the usual place chosen.

    None, with a sentence beside the box, where neither says it. `shape` None (sizes not readable yet) asks again later.
    """
    data = form.cleaned_data
    _say_side(form, prefix)
    along, across, side = (data.get(prefix + name) for name in ("from_tail", "from_stringer", "side"))
    if any(prefix + name in form.errors for name in ("from_tail", "from_stringer", "side")):
        return None
    if along is None and across is None:
        if not data.get(prefix + "place"):
            form.add_error(prefix + "place", "Say where it is: choose a place, tap the drawing, or measure.")
            return None
        if shape is None:
            return None
        x, y = drawings.named_place(shape, data[prefix + "place"])
        return _tenth(x), _tenth(y)
    if along is None:
        form.add_error(prefix + "from_tail", "From the tail is empty; measure it along the stringer, like 230 mm.")
        return None
    if across is None:
        across = _tenth(drawings.half_width(shape, float(along)) if shape and side in SIDE_SIGN else 0)
    sign = SIDE_SIGN.get(side or "") or {"left": -1, "right": 1}.get(data.get(prefix + "hand", ""), 0)
    if across > 0 and not sign:
        form.add_error(prefix + "hand", "Left or right of the stringer, seen from the deck? Choose one.")
        return None
    return _tenth(along), _tenth(across if across <= 0 and not sign else abs(across) * sign)


def _say_side(form: GroupedForm, prefix: str) -> None:
    """The side that the usual place says where none was chosen; a sentence beside the box where it does not."""
    data = form.cleaned_data
    if prefix + "side" in form.errors or data.get(prefix + "side"):
        return
    data[prefix + "side"] = drawings.side_of_place(data.get(prefix + "place") or "")
    if not data[prefix + "side"]:
        form.add_error(prefix + "side", "Which side is empty; choose one, like deck or bottom.")


def pointing(data: Mapping[str, Any]) -> dict[str, Any]:
    """For the drawing: whether the bottom is to be shown, and what was pointed at, mm from tail and stringer."""
    measured = {}
    for name in ("from_tail", "from_stringer"):
        try:
            measured[name] = damage_fields()[name].clean(data.get(name) or "")
        except ValidationError:
            measured[name] = None
    along, across = measured["from_tail"], measured["from_stringer"]
    pointed = None
    if along is not None and across is not None and max(along, abs(across)) <= LONGEST_DRAWN_MM:
        left = data.get("hand") == "left" or data.get("side") == Damage.Side.LEFT_RAIL
        pointed = (float(along), -abs(float(across)) if left else float(across))
    return {"under": data.get("side") == Damage.Side.BOTTOM, "pointed": pointed}


def fill_damage(damage: Damage, form: GroupedForm, prefix: str, place: tuple[Decimal, Decimal] | None) -> Damage:
    """Damage with what was typed about it, not saved yet."""
    data = form.cleaned_data
    assert place is not None, "a form without a place is not valid"
    damage.kind, damage.side, damage.words = (data[prefix + name] for name in ("kind", "side", "words"))
    damage.from_tail_mm, damage.from_stringer_mm = place
    typed = {name: str(form.data.get(form.add_prefix(prefix + name), "")).strip() for name in Damage.SIZES}
    damage.measures = {name: text for name, text in typed.items() if text}
    return damage


def _tenth(value: float | Decimal) -> Decimal:
    return Decimal(str(value)).quantize(TENTH, ROUND_HALF_UP)
