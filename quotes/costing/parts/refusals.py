"""What must not be done to a board as it lies: one table of rules, asked wherever work is priced, agreed or begun.

A step is seen as a `Doing`: what it puts onto the board and where. `BoardState` is how the board lies when a step
begins: wet or dry, where its foam was laid open, where epoxy was laid before. Foam counts as bare from the cut until
cloth or a coat of resin was laid over it. What is not known counts as what is spoiled most easily: the core as EPS, the
skin's resin as epoxy. All of it is common practice, no source, but for the temperatures, whose sources stand beside
them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from typing import Literal, NamedTuple

from quotes.costing.basis import sources
from quotes.costing.basis.constants import Constant, practice, published
from quotes.costing.parts.inputs import Construction, CoreMaterial
from quotes.costing.snapshot import Does
from quotes.costing.snapshot.steps import Stuff as Stuff

System = Literal["polyester", "epoxy"]

FLOOR_POLYESTER = published(
    "polyester_floor_c", 15.5, 13.0, 18.0, "degC", "lowest shop temperature for polyester",
    source=sources.COLD_RESIN, data_sheet=True)  # fmt: skip
FLOOR_EPOXY = practice("epoxy_floor_c", 12.0, 10.0, 16.0, "degC", "lowest shop temperature for epoxy")
FLOOR_FOAM = practice("foam_floor_c", 15.0, 10.0, 21.0, "degC", "lowest temperature to pour foam at")
FLOORS: dict[str, Constant] = {"polyester": FLOOR_POLYESTER, "epoxy": FLOOR_EPOXY, "pour foam": FLOOR_FOAM}
FOAM_SAFE_EPS = practice("foam_safe_batch_eps_g", 60, 30, 100, "g", "largest pour into EPS or XPS")
EPS_MOST_C = 50.0  # °C, from memory: EPS begins to soften above; not a setting, so that nobody raises it

WET = "The core is wet, and nothing is sealed over a wet core: put a drying step before this one."
SOFT_SKIN = (
    "No resin and no paint holds on a soft skin of polyethylene or EVA: mend it with the maker's own glue and skin, "
    "as an allowance."
)
_SEALING = {"polyester", "epoxy", "cyanoacrylate", "solvent paint", "two-pack clear", "pour foam"}
_PAINTS = {"solvent paint": "Solvent paint", "two-pack clear": "Two-pack clear"}


class Doing(NamedTuple):
    """A step as the rules see it: what it puts onto the board, and where.

    `place` is the place that its own grew out of, "" where it is not known. `over` is what the recipe says lies under
    it, "" where it says nothing. `room_c` is the temperature in °C it warms the board to, 0 where it does not.
    """

    operation: str
    puts: tuple[Stuff, ...] = ()
    place: str = ""
    over: str = ""
    room_c: float = 0.0
    opens: bool = False
    closes: bool = False
    dries: bool = False
    on_skin: bool = False

    @property
    def kept(self) -> Does:
        """Part of it that the snapshot keeps; the rest is the operation's own."""
        return Does(self.puts, self.place, self.over, self.room_c)


class Refusal(NamedTuple):
    """A reason why a step must not be done: the sentence, the setting it hangs on, and what would have to change."""

    text: str
    setting: str
    because: Literal["construction", "wet", "order", "temperature"]


class BoardState:
    """State of a board before each step of a row of them."""

    def __init__(self, board: Construction, doings: Iterable[Doing], *, dry: bool = False) -> None:
        """`dry` says that a wet core was dried already."""
        self.board = board
        self.wet = board.wet and not dry
        self.bared: set[str] = set()
        self.epoxy: set[str] = set()
        self._covered = {doing.place for doing in doings if doing.closes}

    def bare(self, doing: Doing) -> bool:
        """Whether foam lies open where this is put, or where its drops and vapour reach."""
        return doing.over == "foam" or bool(self.bared)

    def after(self, doing: Doing) -> None:
        """Take note that a step was done; a cut that is never covered itself is covered by what is laid next."""
        if doing.dries:
            self.wet = False
        if doing.opens:
            self.bared.add(doing.place)
        elif doing.closes:
            self.bared = {place for place in self.bared if place != doing.place and place in self._covered}
        if doing.place and "epoxy" in doing.puts:
            self.epoxy.add(doing.place)

    def refusals(self, doing: Doing) -> Iterator[Refusal]:
        """Reasons why a step must not be done now."""
        for rule in RULES:
            yield from rule(doing, self)


def system_for(words: str, board: Construction) -> System:
    """Resin system: as the recipe says, or by the board.

    Polyester on a polyester-skinned PU board with a skin of glass or carbon, else epoxy.
    """
    if words == "polyester":
        return "polyester"
    if words == "epoxy":
        return "epoxy"
    return "polyester" if not any(_no_polyester(board)) else "epoxy"


def _no_polyester(board: Construction) -> Iterator[str]:
    """Reason why polyester must not go onto a board of this construction; nothing where it may."""
    if board.core in ("eps", "xps"):
        yield f"Polyester melts {board.core.upper()} foam, and this board's core is {board.core.upper()}: use epoxy."
    elif board.core == "unknown":
        yield "This board's core is not known and counts as EPS, which polyester melts: test the core, or use epoxy."
    elif board.core != "pu":
        yield f"Polyester is used on a PU core only, and this board is {board.core}: use epoxy."
    elif board.skin == "sandwich":
        yield "Polyester melts the foam in a moulded sandwich skin, and does not hold on its epoxy: use epoxy."
    elif board.skin == "soft":
        yield "Polyester eats the foam and the glue of a soft skin: use epoxy."
    elif board.resin == "epoxy":
        yield "Polyester does not hold on an epoxy skin: use epoxy."
    elif board.resin == "unknown":
        yield "This board's skin is not known and counts as epoxy, on which polyester does not hold: test it, or use epoxy."


def _polyester(doing: Doing, now: BoardState) -> Iterator[Refusal]:
    if "polyester" in doing.puts:
        for text in _no_polyester(now.board):
            yield Refusal(text, "system", "construction")


def _polyester_over_epoxy(doing: Doing, now: BoardState) -> Iterator[Refusal]:
    if "polyester" in doing.puts and doing.place in now.epoxy and not any(_no_polyester(now.board)):
        text = "Polyester does not hold on the epoxy that an earlier step lays here: use epoxy for this one too."
        yield Refusal(text, "system", "order")


def _cyanoacrylate(doing: Doing, now: BoardState) -> Iterator[Refusal]:
    if "cyanoacrylate" in doing.puts and now.board.soft_foam:
        text = (
            "Cyanoacrylate and its accelerator eat EPS and XPS foam (an unknown core counts as EPS): tack with epoxy."
        )
        yield Refusal(text, "glue", "construction")


def _solvent(doing: Doing, now: BoardState) -> Iterator[Refusal]:
    if "solvent" in doing.puts and now.board.soft_foam and now.bare(doing):
        text = "Acetone and other solvents eat bare EPS and XPS foam (an unknown core counts as EPS): glass it first."
        yield Refusal(text, "over", "construction")


def _paint(doing: Doing, now: BoardState) -> Iterator[Refusal]:
    for stuff in doing.puts:
        if stuff in _PAINTS and now.board.soft_foam and now.bare(doing):
            text = f"{_PAINTS[stuff]} eats bare EPS and XPS foam (an unknown core counts as EPS): glass it first."
            yield Refusal(text, "over", "construction")


def _sealed_wet(doing: Doing, now: BoardState) -> Iterator[Refusal]:
    if now.wet and _SEALING & set(doing.puts):
        yield Refusal(WET, "wet", "wet")


def _soft_skin(doing: Doing, now: BoardState) -> Iterator[Refusal]:
    if doing.on_skin and now.board.skin == "soft":
        yield Refusal(SOFT_SKIN, "place", "construction")


def _heat(doing: Doing, now: BoardState) -> Iterator[Refusal]:
    if doing.room_c > EPS_MOST_C and now.board.soft_foam:
        text = (
            f"{doing.room_c:g} °C softens EPS and XPS foam (an unknown core counts as EPS): "
            f"dry it at {EPS_MOST_C:g} °C or less."
        )
        yield Refusal(text, "room_c", "construction")


RULES: tuple[Callable[[Doing, BoardState], Iterator[Refusal]], ...] = (
    _polyester,
    _polyester_over_epoxy,
    _cyanoacrylate,
    _solvent,
    _paint,
    _sealed_wet,
    _soft_skin,
    _heat,
)


def refusals_in_order(
    doings: Sequence[Doing], board: Construction, *, dry: bool = False, not_done: Collection[int] = ()
) -> list[tuple[Refusal, ...]]:
    """Refusals for each step in order on this board; `dry` says that a wet core was dried before.

    Steps whose place is in `not_done` are looked at as the others, and leave the board as it was.
    """
    now, found = BoardState(board, doings, dry=dry), []
    for at, doing in enumerate(doings):
        found.append(tuple(now.refusals(doing)))
        if at not in not_done:
            now.after(doing)
    return found


def floor_c(what: str, facts: Mapping[str, float], figures: Mapping[str, float]) -> float:
    """Least temperature in °C at which polyester, epoxy or pour foam is mixed; minus infinity for what has none.

    The data sheet's own (`floor_c` of the material's facts) goes before the shop's figure.
    """
    known = FLOORS.get(what)
    return -math.inf if known is None else facts.get("floor_c") or figures[known.name]


def too_cold(
    what: str, temperature_c: float, facts: Mapping[str, float], figures: Mapping[str, float]
) -> Refusal | None:
    """Refusal to mix polyester, epoxy or pour foam at this temperature in °C; None where it may be mixed."""
    floor = floor_c(what, facts, figures)
    if temperature_c >= floor:
        return None
    first = "shop, board and foam" if what == "pour foam" else "shop, board and resin"
    text = f"The shop is at {temperature_c:g} °C, below the {floor:g} °C that {what} needs: warm {first} first."
    return Refusal(text, "temperature_c", "temperature")


def too_hot(pour_g: float, board: Construction, safe_g: float, advice: str) -> Refusal | None:
    """Refusal of one pour of so many grams into a core that heat spoils; None where it may be poured."""
    if not board.soft_foam or pour_g <= safe_g:
        return None
    text = f"{pour_g:.0f} g of foam in one pour is too hot for EPS: at most {safe_g:g} g, {advice}"
    return Refusal(text, "pours", "construction")


_BY_KEY: dict[str, Stuff] = {
    "resin-lam": "polyester", "resin-gloss": "polyester", "wax-styrene": "polyester", "mekp": "polyester",
    "epoxy-resin": "epoxy", "epoxy-hardener": "epoxy", "ca-glue": "cyanoacrylate", "acetone": "solvent",
    "thinner": "solvent", "basecoat": "solvent paint", "clear-2k": "two-pack clear", "clear-hardener": "two-pack clear",
}  # fmt: skip
_BY_KIND: dict[str, Stuff] = {"solvent": "solvent", "foam": "pour foam"}
_BY_WORD: tuple[tuple[str, Stuff], ...] = (
    ("cyanoacrylate", "cyanoacrylate"), ("acetone", "solvent"), ("polyester", "polyester"), ("styrene", "polyester"),
    ("epoxy", "epoxy"),
)  # fmt: skip


def stuff_of(key: str, material: CoreMaterial | None) -> tuple[Stuff, ...]:
    """Kinds of stuff that a material of the store is to a board: by its key, kind, facts, then name and hazard.

    A resin of which nothing is known counts as polyester; what is neither resin, glue, solvent nor paint is nothing.
    """
    if key in _BY_KEY:
        return (_BY_KEY[key],)
    if material is None:
        return ()
    if material.kind in _BY_KIND:
        return (_BY_KIND[material.kind],)
    if material.known.get("ratio_by_weight"):
        return ("epoxy",)
    if material.known.get("catalyst_high"):
        return ("polyester",)
    words = f"{material.name} {material.hazard}".lower()
    if material.kind == "paint":
        return () if material.unit == "g" or "water" in words else ("solvent paint",)
    said = next((stuff for word, stuff in _BY_WORD if word in words), None)
    if material.kind in ("resin", "hardener", "additive", ""):
        return (said,) if said else ("polyester",) if material.kind == "resin" else ()
    return ()
