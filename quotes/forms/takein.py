"""Take-in on one page: who brings the board, which board, what is damaged, what was looked at."""

from __future__ import annotations

from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from quotes.forms.damages import (
    LONGEST_DRAWN_MM,
    POINTED,
    GroupedForm,
    damage_fields,
    fill_damage,
    pointing,
    position,
    shape_of,
)
from quotes.models import Damage, TakeIn
from quotes.quoting import TAKE_IN_CHECK
from shop.forms.people import AsksIfKnown, BoardForm, camera_field
from shop.forms.words import DayField, MailField, PickField, WordsField
from shop.models import Board, Customer
from shop.papers import drawings
from shop.people.customers import BOARD_ENTRIES

MOST_ROWS = 9
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
SAID_LATER = ("wants", "left_with_it", "needed_by", "payer")  # folded away until they are used
PAYERS_AT_MOST = 200
OUTLINE = ("length_mm", "width_mm", "nose_mm", "tail_mm", "tail_shape")


def check_fields() -> dict[str, forms.Field]:
    """A tick for each line of the take-in check, and a box for why it was left out."""
    fields: dict[str, forms.Field] = {}
    for number, line in enumerate(TAKE_IN_CHECK):
        fields[f"check_{number}"] = forms.BooleanField(label=line, required=False)
        fields[f"why_{number}"] = WordsField(label="Or why not", most=200, required=False)
    return fields


def all_field() -> dict[str, forms.Field]:
    """One tick for the whole take-in check; a line with a reason beside it is left out of it."""
    return {"all_looked_at": forms.BooleanField(label="All looked at", required=False)}


def said_fields() -> dict[str, forms.Field]:
    """What was left and said with the board."""
    return {
        "left_with_it": WordsField(label="Left with it", most=400, required=False, hint="Leash, fins, bag: all that must go back."),
        "wants": WordsField(label="What the customer wants", most=2000, lines=3, required=False),
        "needed_by": DayField(label="Needed by", required=False),
        "wet": forms.BooleanField(label="Water at the damage: it must dry before it is closed", required=False),
        "payer": PickField(label="Who pays", required=False, choices=[("", "who brings it")], width="long"),
    }  # fmt: skip


class Checked(GroupedForm):
    """What is asked of every board: the take-in check, what was said with it, and who pays."""

    numbered = {"checks": "why_"}

    def checked_lines(self) -> list[dict[str, Any]]:
        """The take-in check as the record keeps it; one tick for all ticks the lines that have no reason."""
        data, lines = self.cleaned_data, []
        for number, line in enumerate(TAKE_IN_CHECK):
            reason = data[f"why_{number}"].strip()
            ok = data[f"check_{number}"] or (bool(data.get("all_looked_at")) and not reason)
            lines.append({"line": line, "ok": ok, "reason": reason})
        return lines

    @property
    def checks_open(self) -> bool:
        """Whether single lines of the check need a look: something stands there, or is wrong there."""
        names = [name for name in self.fields if name.startswith(("check_", "why_"))]
        return any(self[name].value() or (self.is_bound and self[name].errors) for name in names)

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
        self.field("payer", PickField).choices = [
            ("", "who brings it"),
            *((str(pk), one.name) for pk, one in rows.items()),
        ]

    def payer(self) -> Customer | None:
        chosen = self.cleaned_data["payer"]
        return self.payers[int(chosen)] if chosen else None


class TakeInForm(AsksIfKnown, Checked):
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
            "photos": camera_field("Photos of the board"),
            **all_field(),
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
                "what": self.group(f"d{row}_kind", f"d{row}_side"),
                "place": self.group(f"d{row}_place"),
                "where": self.group(f"d{row}_from_tail", f"d{row}_from_stringer", f"d{row}_hand"),
                "size": self.group(*(f"d{row}_{name}" for name in Damage.SIZES)),
                "words": self.group(f"d{row}_words"),
                "photos": self.group(f"d{row}_photos"),
                "prefix": f"d{row}_",
                "x": f"id_d{row}_from_tail",
                "y": f"id_d{row}_from_stringer",
                "hand": f"d{row}_hand",
                "measured": any(
                    self[f"d{row}_{name}"].value() or (self.is_bound and self[f"d{row}_{name}"].errors)
                    for name in ("from_tail", "from_stringer", "hand", "words")
                ),
                **pointing({name: self[f"d{row}_{name}"].value() for name in POINTED}),
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
        self._say_what_has_no_kind()
        self._say_what_was_looked_at()
        return self.cleaned_data

    @property
    def said_is_open(self) -> bool:
        """Whether what was said with the board needs a look: something stands there, or is wrong there."""
        return any(self[name].value() or (self.is_bound and self[name].errors) for name in SAID_LATER)

    def go_on_at(self, name: str) -> None:
        """Shows the page where this box is, which is the next to be filled in."""
        self.fields[name].widget.attrs["autofocus"] = True

    def _say_what_has_no_kind(self) -> None:
        """Nothing that was typed or photographed is left out in silence."""
        names = damage_fields()
        for row in set(range(1, self.rows)) - set(self.filled_rows):
            if any(self.cleaned_data.get(f"d{row}_{name}") for name in names):
                self.add_error(f"d{row}_kind", f"Say what damage {row + 1} is, or empty its other boxes.")

    def _say_what_was_looked_at(self) -> None:
        """One sentence where nothing of the check was answered; single lines left open are the verb's to name."""
        data = self.cleaned_data
        lines = [data.get(f"{box}_{number}") for number in range(len(TAKE_IN_CHECK)) for box in ("check", "why")]
        if not data.get("all_looked_at") and not any(lines):
            self.add_error(
                "all_looked_at", "Tick All looked at; or tick single lines below it, and say why one was left out."
            )

    def _typed_shape(self) -> drawings.Shape | None:
        length, width, nose, tail = (self.cleaned_data.get(f"{of}_mm") for of in ("length", "width", "nose", "tail"))
        if not (length and width):
            return None
        ends = {"nose": float(nose) if nose else None, "tail": float(tail) if tail else None}
        shape = self.cleaned_data.get("tail_shape", "")
        return drawings.Shape.measured(float(length), float(width), **ends, tail_shape=shape)

    def entries(self, brought_by: Customer | None = None) -> dict[str, Any]:
        """What `quoting.take_in` takes; `brought_by` is somebody known, chosen for who was typed."""
        data = self.cleaned_data
        damages = [fill_damage(Damage(), self, f"d{row}_", self.positions[row]) for row in self.filled_rows]
        return {
            "brought_by": self.customer or brought_by or Customer(**self.who_entries()),
            "board": self.board or self._board(),
            "damages": damages,
            "photos": data["photos"],
            "damage_photos": [data[f"d{row}_photos"] for row in self.filled_rows],
            "checks": self.checked_lines(),
            "payer": self.payer(),
            **{name: data[name] for name in ("wants", "left_with_it", "needed_by", "wet")},
        }

    def _board(self) -> Board:
        entries = {name: self.cleaned_data.get("board_name" if name == "name" else name) for name in BOARD_ENTRIES}
        return Board(**{name: value for name, value in entries.items() if value not in (None, "")})

    def beside(self, said: str) -> str:
        """Damages are counted without the empty rows by the act; here they are by their row."""
        if said.startswith("damages."):
            _, index, name = said.split(".")
            return f"d{self.filled_rows[int(index)]}_{name}"
        return super().beside(said)


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


class TakeInEditForm(Checked):
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

    def entries(self) -> dict[str, Any]:
        said = {name: self.cleaned_data[name] for name in ("wants", "left_with_it", "needed_by", "wet")}
        return {**said, "checks": self.checked_lines(), "payer": self.payer()}


def board_as_typed(data: Mapping[str, str]) -> Board | None:
    """A board of the sizes typed so far, to be drawn; None while length or width cannot be read."""
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
