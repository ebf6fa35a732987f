"""Sessions: the same kind of work done in one go on everything that is ready for it, with one set-up for all of it.

The steps of a job lie in stages, counted by lap (a coat after sanding begins another lap) and by how far into a lap the
kind of work lies. What is done before paint is laid out from the front, paint and the last rubbing down from the back,
so that damages of one board meet there however long the way of each. Steps of one kind in one stage meet: the longest
of their set-ups is borne once. The first board of a session bears the set-up S, each further one a share of it: with n
boards each bears S × (1 + share × (n − 1)) / n; a job worked alone bears S.
Invariant: where a step lies hangs on its own damage alone. So a further damage never changes what others share.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

from quotes.costing.basis.constants import Constant, practice
from quotes.costing.parts.inputs import Shop

if TYPE_CHECKING:
    from quotes.costing.steps.windows import WindowedStep

SessionKind = Literal[
    "", "cut back", "fill or foam", "laminate", "coat", "machine sanding", "spraying", "wet sanding", "polishing"
]

RESIN_BOARDS = practice(
    "boards_in_a_resin_session", 3, 1, 6, "board", "boards usually done together with resin or foam"
)
SANDING_BOARDS = practice("boards_in_a_sanding_session", 2, 1, 4, "board", "boards usually cut back or sanded together")
SPRAY_BOARDS = practice("boards_in_a_spray_session", 2, 1, 4, "board", "boards usually sprayed together")
FURTHER_SHARE = practice(
    "further_board_share", 0.35, 0.2, 0.6, "1", "set-up of a further board in a session, as a share of the first one's"
)
HANDLING = practice("place_min", 1.5, 0.5, 3, "min", "handle one place: turn the board to it, clean it, look it over")
INSPECT_MORE = practice("inspect_further_min", 2, 1, 4, "min", "inspect each further damage of a board")
RELEASE_MORE = practice("release_further_min", 1, 0.5, 2, "min", "release check of each further damage of a board")
FURTHER_VISIT = {"inspect": INSPECT_MORE, "release": RELEASE_MORE}
VISITS = frozenset(FURTHER_VISIT)  # operations that a board takes once, however many damages it has

BOARDS: dict[str, Constant] = {
    "cut back": SANDING_BOARDS,
    "fill or foam": RESIN_BOARDS,
    "laminate": RESIN_BOARDS,
    "coat": RESIN_BOARDS,
    "machine sanding": SANDING_BOARDS,
    "spraying": SPRAY_BOARDS,
    "wet sanding": SANDING_BOARDS,
    "polishing": SANDING_BOARDS,
}
# how far into a lap each kind lies; sanding opens a place, levels a fill and takes a coat down
_PHASES: dict[str, tuple[int, ...]] = {
    "cut back": (0,),
    "fill or foam": (2,),
    "laminate": (4,),
    "coat": (5,),
    "machine sanding": (1, 3, 6),
    "spraying": (7,),
    "wet sanding": (8,),
    "polishing": (9,),
}
_PAINT_LAP, _LAST_LAP, _END_LAP = 97, 98, 99


class Stage(NamedTuple):
    """Position of a step: its lap, how far into it, and which face of the board where one is turned between."""

    lap: int
    phase: int
    face: int


def set_up_share(shop: Shop, kind: str) -> tuple[float, float]:
    """Number of boards that meet in a session of this kind, and the share of its set-up that each of them bears."""
    boards = 1.0 if shop.alone else shop.figures[BOARDS[kind].name]
    return boards, share_borne(shop, boards)


def share_borne(shop: Shop, boards: float) -> float:
    """Share of a set-up that each of so many boards bears: (1 + share × (n − 1)) / n. Three boards: 0.567."""
    return part_of_set_up(boards, shop.figures[FURTHER_SHARE.name])


def part_of_set_up(boards: float, further: float) -> float:
    """Share of a set-up that each of so many boards bears, where each further one adds the share `further`."""
    return (1.0 + further * (boards - 1.0)) / boards


def boards_together(shop: Shop) -> dict[str, float]:
    """Number of boards this shop reckons with in a session, by what is done: resin, sanding, spraying."""
    kinds = {"resin": RESIN_BOARDS, "sanding": SANDING_BOARDS, "spraying": SPRAY_BOARDS}
    return {name: 1.0 if shop.alone else shop.figures[constant.name] for name, constant in kinds.items()}


def together_in_words(boards: Mapping[str, float]) -> str:
    """Sentence for the shop on how many boards a price reckons with, from `boards_together`."""
    said = {name: f"{round(number, 1):g}" for name, number in boards.items()}
    if set(said.values()) == {"1"}:
        return "Worked alone: no other board shares its set-ups."
    return (
        f"With {said['resin']} boards in a session with resin, {said['sanding']} sanded and "
        f"{said['spraying']} sprayed together, each bears its part of the set-up."
    )


def lay_in_stages(steps: Sequence[WindowedStep]) -> None:
    """Set the stage of each step of one damage; what is no session stays with what was done before."""
    at, last = Stage(0, 0, 0), _finish_from(steps)
    lap = 1
    for number, step in enumerate(steps):
        kind = step.kind
        if step.operation in FURTHER_VISIT:
            step.stage = Stage(0 if step.operation == "inspect" else _END_LAP, 0, 0)
            continue
        if not kind:
            step.stage = at
            continue
        if kind == "spraying":
            lap = max(lap, _PAINT_LAP)
        if number >= last:
            lap = max(lap, _LAST_LAP)
        phase = next((p for p in _PHASES[kind] if lap > at.lap or p >= at.phase), None)
        if phase is None:
            lap, phase = lap + 1, _PHASES[kind][0]
        turned = step.turned and (lap, phase) == (at.lap, at.phase)
        face = at.face + 1 if turned else at.face if (lap, phase) == (at.lap, at.phase) else 0
        step.stage = at = Stage(lap, phase, face)


def _finish_from(steps: Sequence[WindowedStep]) -> int:
    """Number of the step from which on only wet sanding and polishing follow."""
    last = len(steps)
    for number in range(len(steps) - 1, -1, -1):
        if steps[number].kind in ("wet sanding", "polishing"):
            last = number
        elif steps[number].kind:
            break
    return last
