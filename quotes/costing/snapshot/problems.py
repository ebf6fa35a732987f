"""Problems that stand between a repair and its price, and where each is put right."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Literal, NamedTuple, cast

Where = Literal["measure", "material", "setting", "shop", "board", "recipe", "row"]


class Remedy(NamedTuple):
    """A place where a problem is put right.

    A measure, a material or a field of the shop by its `name`; a setting by its name in the `step` of the recipe; what
    of the board is to be said ("construction", "wet"); the recipe itself; a row of the wall price list by its key.
    """

    where: Where
    name: str = ""
    step: int = 0

    def __str__(self) -> str:
        """As it is kept: "measure:NAME", "setting:STEP:NAME", "recipe"."""
        return ":".join(filter(None, (self.where, str(self.step) if self.step else "", self.name)))

    @classmethod
    def from_json(cls, kept: str) -> Remedy:
        """Remedy read back from what `str` gives."""
        where, _, name = kept.partition(":")
        if where != "setting":
            return cls(cast(Where, where), name)
        step, _, name = name.partition(":")
        return cls("setting", name, int(step))


WET = Remedy("board", "wet")


class Problem(NamedTuple):
    """A reason why there is no price yet: its operation and field, a sentence, and where it is put right.

    `odd` marks a measure that only needs a yes (pass its name in `accepted_odd`).
    """

    operation: str
    field: str
    text: str
    remedy: Remedy
    odd: bool = False

    @property
    def for_want_of(self) -> str:
        """Key of the material that it is about, where that may be for want of a price; else ""."""
        return self.remedy.name if self.remedy.where == "material" and self.field == "material" else ""

    def to_json(self) -> dict[str, Any]:
        """Problem as the row keeps it."""
        return {"operation": self.operation, "field": self.field, "text": self.text, "fix": str(self.remedy),
                "odd": self.odd}  # fmt: skip

    @classmethod
    def from_json(cls, kept: Mapping[str, Any]) -> Problem:
        """Problem read back."""
        remedy = Remedy.from_json(kept["fix"])
        return cls(kept["operation"], kept["field"], kept["text"], remedy, kept.get("odd", False))
