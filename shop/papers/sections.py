"""What the templates draw beside a board, worked out as ready numbers: a lay-up in cross-section, and a range.

Every number leaves as text with a point, so that no page language can put a comma into a path.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from shop.papers.drawings import as_text

PLIES_AT_MOST = 9
DONE, NOW, AHEAD = "done", "now", "ahead"


@dataclass(frozen=True)
class Ply:
    """One sheet of a lay-up; `hatch` is the path of its lines while it is under way."""

    state: str
    x: str
    y: str
    width: str
    height: str
    hatch: str


@dataclass(frozen=True)
class Layup:
    """A laminate in cross-section: core at the bottom, sheets on it, `core_y` and sizes in drawing units."""

    view_box: str
    width: str
    core_y: str
    core_height: str
    plies: tuple[Ply, ...]


def stages(done: int, total: int, doing: bool) -> list[str]:
    """The states of at most nine sheets for a run of steps, bottom first: a sheet is done when all its steps are."""
    if total <= 0:
        return []
    count = min(total, PLIES_AT_MOST)
    ends = [round((i + 1) * total / count) for i in range(count)]
    states = []
    for first, last in pairwise([0, *ends]):
        current = first <= done < last and (doing or done > 0)
        states.append(DONE if done >= last else NOW if current else AHEAD)
    return states


def layup(states: Sequence[str], *, width: float = 72, height: float = 42) -> Layup:
    """A job's progress as a laminate: one sheet a state, bottom first."""
    core = 6.0
    room = height - core - 2.0
    pitch = min(room / max(len(states), 1), 8.5)
    plies = [
        _ply(state, 1.0, height - core - 1.0 - (i + 1) * pitch + 0.32 * pitch, width - 2, pitch * 0.68)
        for i, state in enumerate(states)
    ]
    return Layup(
        f"0 0 {as_text(width)} {as_text(height)}",
        as_text(width - 2),
        as_text(height - core - 0.5),
        as_text(core - 1),
        tuple(plies),
    )


def _ply(state: str, x: float, y: float, width: float, height: float) -> Ply:
    hatch = ""
    if state == NOW:
        step = 4.0
        count = int((width - height) // step)
        starts = [x + 1 + i * step for i in range(count + 1)]
        hatch = "".join(
            f"M{as_text(start)},{as_text(y + height)}l{as_text(height)},{as_text(-height)}" for start in starts
        )
    return Ply(state, as_text(x), as_text(y), as_text(width), as_text(height), hatch)


@dataclass(frozen=True)
class Patch:
    """What a way builds, in cross-section: a pocket in the core if one is filled, and sheets over it, each smaller."""

    view_box: str
    pocket: bool
    plies: tuple[Ply, ...]


def patch(layers: int, pocket: bool) -> Patch:
    """The picture of a way in 88 × 42 units: core 30 to 40, pocket 30 to 58 wide; at most six sheets are drawn."""
    plies = [_ply(DONE, 14 + 2.5 * i, 25.6 - 4.6 * i, 60 - 5 * i, 3.2) for i in range(max(0, min(layers, 6)))]
    return Patch("0 0 88 42", pocket, tuple(plies))


@dataclass(frozen=True)
class RangeBar:
    """A range of money or hours as a bar, x positions in 240 units; `words_x` and `anchor` place the flag's word."""

    view_box: str
    thin: str
    thick: str
    gap: str
    flag: str
    words_x: str
    anchor: str


def span(low80: float, low50: float, middle: float, high50: float, high80: float, flag: float) -> RangeBar:
    """The range as drawn: thick for the middle half, thin for eight in ten, a gap for the middle, a flag.

    Raises ValueError when the five figures do not rise.
    """
    figures = [low80, low50, middle, high50, high80]
    if any(b < a for a, b in pairwise(figures)):
        raise ValueError(f"A range needs figures that rise, not {figures}.")
    least, most = min(low80, flag), max(high80, flag)
    room = (most - least) or 1.0
    x = [10 + 220 * (value - least) / room for value in [*figures, flag]]
    anchor = "start" if x[5] < 40 else "end" if x[5] > 200 else "middle"
    return RangeBar(
        view_box="0 0 240 38",
        thin=f"M{as_text(x[0])},25H{as_text(x[4])}",
        thick=f"M{as_text(x[1])},25H{as_text(x[3])}",
        gap=f"M{as_text(x[2])},18V32",
        flag=f"M{as_text(x[5])},14V35",
        words_x=as_text(x[5]),
        anchor=anchor,
    )
