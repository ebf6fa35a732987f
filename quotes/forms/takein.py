"""Take-in on one page: who brings the board, which board, what is damaged, what was looked at."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from quotes.models import Damage, TakeIn
from quotes.quoting import TAKE_IN_CHECK
from shop import drawings
from shop.acts import Refused
from shop.forms.fields import ODD, MeasureField
from shop.forms.people import AsksIfKnown, BoardForm
from shop.forms.words import DayField, MailField, PageForm, PickField, WordsField
from shop.models import Board, Customer
from shop.people import BOARD_ENTRIES

MOST_ROWS = 9
TENTH = Decimal("0.1")
SIDE_SIGN = {Damage.Side.LEFT_RAIL: -1, Damage.Side.RIGHT_RAIL: 1}
DAMAGE = ("kind", "side", "place", "from_tail", "from_stringer", "hand", "words", *Damage.SIZES)
BOARD_PLAIN = (
    "board_name",
    "maker",
    "length_mm",
    "width_mm",
    "nose_mm",
    "tail_mm",
    "tail_shape",
    "core",
    "resin",
    "skin",
    "fins",
)
PAYERS_AT_MOST = 200
OUTLINE = ("length_mm", "width_mm", "nose_mm", "tail_mm", "tail_shape")
LONGEST_DRAWN_MM = 10_000  # anything longer is a slip of the finger, asked about when the form is sent


def _length(label: str, *, high: int, hint: str = "", **more: Any) -> MeasureField:
    return MeasureField(label=label, dimension="length", unit="mm", high=high, hint=hint, required=False, **more)


def damage_fields(*, required: bool = True) -> dict[str, forms.Field]:
    """The boxes of one damage. Limits of the plausible are our own, no source."""
    blank = ("", "choose" if required else "no more damage")
    return {
        "kind": PickField(label="What is it", choices=[blank, *Damage.Kind.choices], required=required),
        "side": PickField(label="Which side", choices=[("", "choose"), *Damage.Side.choices], required=required),
        "place": PickField(
            label="Where", required=False, hint="A usual place; or tap the drawing, or measure.",
            choices=[("", "as measured"), *((place.key, place.words) for place in drawings.PLACES)],
        ),
        "from_tail": _length("From the tail", high=4300, hint="Along the stringer."),
        "from_stringer": _length("From the stringer", high=450, allow_negative=True),
        "hand": PickField(label="Seen from the deck", choices=[("left", "left"), ("right", "right")], radios=True, required=False),
        "words": WordsField(label="In words", most=400, required=False, hint="What a customer would call it."),
        "length": _length("Length", high=2500, hint="To sound glass."),
        "width": _length("Width", high=800, hint="Across, or round the rail."),
        "depth": _length("Depth", high=150, hint="To sound foam."),
    }  # fmt: skip


def check_fields() -> dict[str, forms.Field]:
    """A tick for each line of the take-in check, and a box for why it was left out."""
    fields: dict[str, forms.Field] = {}
    for number, line in enumerate(TAKE_IN_CHECK):
        fields[f"check_{number}"] = forms.BooleanField(label=line, required=False)
        fields[f"why_{number}"] = WordsField(label="Or why not", most=200, required=False)
    return fields


def said_fields() -> dict[str, forms.Field]:
    """What was left and said with the board."""
    return {
        "left_with_it": WordsField(label="Left with it", most=400, required=False, hint="Leash, fins, bag: all that must go back."),
        "wants": WordsField(label="What the customer wants", most=2000, lines=3, required=False),
        "needed_by": DayField(label="Needed by", required=False),
        "wet": forms.BooleanField(label="Water at the damage: it must dry before it is closed", required=False),
        "payer": PickField(label="Who pays", required=False, choices=[("", "who brings it")], width="long"),
    }  # fmt: skip


class Shown(PageForm):
    """A form whose template lays out groups of fields itself, each with its tick box where one is asked for."""

    def group(self, *names: str) -> list[BoundField]:
        return [self[one] for name in names for one in (name, ODD + name) if one in self.fields]

    def checked_lines(self) -> list[dict[str, Any]]:
        """The take-in check as the record keeps it."""
        data = self.cleaned_data
        return [
            {"line": line, "ok": data[f"check_{number}"], "reason": data[f"why_{number}"].strip()}
            for number, line in enumerate(TAKE_IN_CHECK)
        ]

    @property
    def check_rows(self) -> list[dict[str, Any]]:
        return [
            {"tick": self[f"check_{number}"], "why": self[f"why_{number}"],
             "open": bool(self[f"why_{number}"].value() or (self.is_bound and self[f"why_{number}"].errors))}
            for number in range(len(TAKE_IN_CHECK))
        ]  # fmt: skip

    def offer_payers(self, *more: Customer | None) -> None:
        """Who may pay: trade customers, and those named."""
        rows = {one.pk: one for one in Customer.objects.in_the_book().filter(kind="trade")[:PAYERS_AT_MOST]}
        rows |= {one.pk: one for one in more if one is not None}
        self.payers = rows
        self.fields["payer"].choices = [("", "who brings it"), *((str(pk), one.name) for pk, one in rows.items())]

    def payer(self) -> Customer | None:
        chosen = self.cleaned_data["payer"]
        return self.payers[int(chosen)] if chosen else None


class DamageForm(Shown):
    """One damage on a board that is here."""

    button = "Save the damage"

    def __init__(self, *args: Any, board: Board, **kwargs: Any) -> None:
        self.board = board
        self.base_fields = damage_fields()
        super().__init__(*args, **kwargs)

    @classmethod
    def showing(cls, damage: Damage) -> dict[str, Any]:
        across = damage.from_stringer_mm
        return {
            "kind": damage.kind, "side": damage.side, "words": damage.words,
            "from_tail": f"{damage.from_tail_mm.normalize():f} mm", "from_stringer": f"{abs(across).normalize():f} mm",
            "hand": "" if not across else "left" if across < 0 else "right", **damage.measures,
        }  # fmt: skip

    def clean(self) -> dict[str, Any]:
        super().clean()
        self.position = position(self, "", shape_of(self.board))
        return self.cleaned_data

    @property
    def where_fields(self) -> list[BoundField]:
        return self.group("from_tail", "from_stringer", "hand")

    @property
    def size_fields(self) -> list[BoundField]:
        return self.group(*Damage.SIZES)

    def fill(self, damage: Damage) -> Damage:
        """The row with what was entered."""
        return fill_damage(damage, self, "", self.position)


class TakeInForm(AsksIfKnown, Shown):
    """A new customer or a known one, a new board or a known one, and as many damages as `rows`."""

    button = "Take in the board"
    who = {"name": "who_name", "phone": "who_phone", "email": "who_email"}

    def __init__(
        self, *args: Any, customer: Customer | None, board: Board | None, rows: int = 1, **kwargs: Any
    ) -> None:
        self.customer, self.board, self.rows = customer, board, max(1, min(rows, MOST_ROWS))
        self.base_fields = deepcopy({
            **({} if customer else _who_fields()),
            **({} if board else _board_fields()),
            **{f"d{row}_{name}": field for row in range(self.rows) for name, field in damage_fields(required=row == 0).items()},
            **check_fields(),
            **said_fields(),
        })  # fmt: skip
        super().__init__(*args, **kwargs)
        self.offer_payers()

    @property
    def damage_rows(self) -> list[dict[str, Any]]:
        """For the template: each damage's groups of fields, and the ids its drawing fills."""
        return [
            {
                "number": row + 1,
                "what": self.group(f"d{row}_kind", f"d{row}_side", f"d{row}_place"),
                "where": self.group(f"d{row}_from_tail", f"d{row}_from_stringer", f"d{row}_hand"),
                "size": self.group(*(f"d{row}_{name}" for name in Damage.SIZES)),
                "words": self.group(f"d{row}_words"),
                "x": f"id_d{row}_from_tail",
                "y": f"id_d{row}_from_stringer",
                "hand": f"d{row}_hand",
                "measured": any(
                    self[f"d{row}_{name}"].value() or (self.is_bound and self[f"d{row}_{name}"].errors)
                    for name in ("from_tail", "from_stringer", "hand")
                ),
            }
            for row in range(self.rows)
        ]

    @property
    def who_fields(self) -> list[BoundField]:
        return self.group("known", *self.who.values())

    @property
    def board_groups(self) -> list[list[BoundField]]:
        plain = (("board_name",), ("length_mm", "width_mm", "tail_shape"), ("core", "resin"))
        return [self.group(*names) for names in plain]

    @property
    def board_more(self) -> list[list[BoundField]]:
        return [self.group("nose_mm", "tail_mm", "skin"), self.group("maker", "fins")]

    @property
    def more_is_open(self) -> bool:
        names = ("nose_mm", "tail_mm", "skin", "maker", "fins")
        return self.is_bound and any(self[name].errors for name in names if name in self.fields)

    def clean(self) -> dict[str, Any]:
        super().clean()
        shape = shape_of(self.board) if self.board else self._typed_shape()
        self.filled_rows = [row for row in range(self.rows) if self.cleaned_data.get(f"d{row}_kind")]
        self.positions = {row: position(self, f"d{row}_", shape) for row in self.filled_rows}
        return self.cleaned_data

    def _typed_shape(self) -> drawings.Shape | None:
        sizes = [self.cleaned_data.get(name) for name in ("length_mm", "width_mm", "nose_mm", "tail_mm")]
        if not (sizes[0] and sizes[1]):
            return None
        return drawings.Shape.measured(
            *(float(size) if size else None for size in sizes), self.cleaned_data.get("tail_shape", "")
        )  # type: ignore[arg-type]

    def entries(self, brought_by: Customer | None = None) -> dict[str, Any]:
        """What `quoting.take_in` takes; `brought_by` is somebody known, chosen for who was typed."""
        data = self.cleaned_data
        damages = [fill_damage(Damage(), self, f"d{row}_", self.positions[row]) for row in self.filled_rows]
        return {
            "brought_by": self.customer or brought_by or Customer(**self.who_entries()),
            "board": self.board or self._board(),
            "damages": damages,
            "checks": self.checked_lines(),
            "payer": self.payer(),
            **{name: data[name] for name in ("wants", "left_with_it", "needed_by", "wet")},
        }

    def _board(self) -> Board:
        entries = {name: self.cleaned_data.get("board_name" if name == "name" else name) for name in BOARD_ENTRIES}
        return Board(**{name: value for name, value in entries.items() if value not in (None, "")})

    def refuse(self, problem: Refused | ValidationError) -> None:
        """Damages are counted without the empty ones by the verb; here they are by their row."""
        if hasattr(problem, "error_dict"):
            for name in [name for name in problem.error_dict if name[:1] == "d" and name[1:2].isdigit()]:
                index, _, rest = name[1:].partition("_")
                problem.error_dict[f"d{self.filled_rows[int(index)]}_{rest}"] = problem.error_dict.pop(name)
        super().refuse(problem)


def _who_fields() -> dict[str, forms.Field]:
    phone = WordsField(label="Phone", most=40, required=False, width="middle", hint="To ring when the board is ready.")
    phone.widget.attrs["inputmode"] = "tel"
    return {
        "who_name": WordsField(label="Name", most=120, width="long"),
        "who_phone": phone,
        "who_email": MailField(required=False),
    }


def _board_fields() -> dict[str, forms.Field]:
    own = {"board_name" if name == "name" else name: field for name, field in BoardForm.base_fields.items()}
    return {name: own[name] for name in BOARD_PLAIN}


class TakeInEditForm(Shown):
    """What was seen or said about a board that is here."""

    button = "Save"

    def __init__(self, *args: Any, takein: TakeIn, **kwargs: Any) -> None:
        self.base_fields = {**check_fields(), **said_fields()}
        super().__init__(*args, **kwargs)
        self.offer_payers(takein.payer, takein.board.owner)

    @classmethod
    def showing(cls, takein: TakeIn) -> dict[str, Any]:
        own = {name: getattr(takein, name) for name in ("left_with_it", "wants", "needed_by", "wet")}
        by_line = {check["line"]: check for check in takein.checks}
        for number, line in enumerate(TAKE_IN_CHECK):
            check = by_line.get(line, {})
            own |= {f"check_{number}": check.get("ok", False), f"why_{number}": check.get("reason", "")}
        return {**own, "payer": str(takein.payer_id or "")}


def board_as_typed(data: Mapping[str, str]) -> Board | None:
    """A board of the sizes typed so far, to be drawn; None while length or width can not be read."""
    sizes: dict[str, Any] = {}
    for name in OUTLINE:
        try:
            sizes[name] = deepcopy(BoardForm.base_fields[name]).clean(data.get(name, ""))
        except ValidationError:
            sizes[name] = None
    if not (sizes["length_mm"] and sizes["width_mm"]) or sizes["length_mm"] > LONGEST_DRAWN_MM:
        return None
    sizes["tail_shape"] = sizes["tail_shape"] or Board.Tail.SQUASH
    return Board(**sizes)


def shape_of(board: Board) -> drawings.Shape:
    nose, tail = (float(size) if size else None for size in (board.nose_mm, board.tail_mm))
    return drawings.Shape.measured(float(board.length_mm), float(board.width_mm), nose, tail, board.tail_shape)


def position(form: Shown, prefix: str, shape: drawings.Shape | None) -> tuple[Decimal, Decimal] | None:
    """Mm from the tail and from the stringer (right is plus) out of what was measured, else the usual place chosen.

    None, with a sentence beside the box, where neither says it. `shape` None (sizes not readable yet) asks again later.
    """
    data = form.cleaned_data
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
    sign = SIDE_SIGN.get(side) or {"left": -1, "right": 1}.get(data.get(prefix + "hand", ""), 0)
    if across > 0 and not sign:
        form.add_error(prefix + "hand", "Left or right of the stringer, seen from the deck? Choose one.")
        return None
    return _tenth(along), _tenth(across if across <= 0 and not sign else abs(across) * sign)


def fill_damage(damage: Damage, form: Shown, prefix: str, place: tuple[Decimal, Decimal] | None) -> Damage:
    data = form.cleaned_data
    assert place is not None, "a form without a place is not valid"
    damage.kind, damage.side, damage.words = (data[prefix + name] for name in ("kind", "side", "words"))
    damage.from_tail_mm, damage.from_stringer_mm = place
    typed = {name: str(form.data.get(form.add_prefix(prefix + name), "")).strip() for name in Damage.SIZES}
    damage.measures = {name: text for name, text in typed.items() if text}
    return damage


def _tenth(value: float | Decimal) -> Decimal:
    return Decimal(str(value)).quantize(TENTH, ROUND_HALF_UP)
