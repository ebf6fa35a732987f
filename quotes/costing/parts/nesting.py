"""The cut plan: the cloth of a job laid out on the roll, what length to cut off, and what is left over.

Every piece is cut as the rectangle that holds it, turned by a quarter where that saves cloth (plain weave is the same
both ways). A piece wider than the roll is made of strips that lap. The length is the shortest that several packing
rules find, so a better one may exist. Invariant: no two pieces overlap, none leaves the roll, and all are there.
Laps of 25 to 100 mm at seams: boatbuilding supplier's lay-up guide, “How much resin and glass”, cabin-top example.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Any

import rectpack

from quotes.costing.snapshot import PlannedStep

LAP_MM = 50.0  # range 25 to 100 mm
_OVAL = ("ellipse", "rail-wrap", "plug")  # shapes of the core's places that are drawn round
_RULES = (rectpack.MaxRectsBl, rectpack.MaxRectsBlsf, rectpack.SkylineBl, rectpack.SkylineBlWm)
_ORDERS = (rectpack.SORT_AREA, rectpack.SORT_LSIDE, rectpack.SORT_SSIDE, rectpack.SORT_PERI)


@dataclass(frozen=True, slots=True)
class Piece:
    """A piece of cloth: the rectangle it is cut from in mm, its own area in cm², and what it is for."""

    length_mm: float
    width_mm: float
    area_cm2: float
    words: str = ""
    round: bool = False


@dataclass(frozen=True, slots=True)
class LaidPiece:
    """A piece on the roll: `along` and `across` are its corner from the cut end and the edge, in whole mm."""

    number: int
    along: int
    across: int
    length: int
    width: int
    words: str
    round: bool


@dataclass(frozen=True, slots=True)
class CutPlan:
    """Pieces of one material on its roll. `length_mm` is cut off the roll; `used_mm` is how wide the pieces reach."""

    material: str
    name: str
    roll_width_mm: float
    length_mm: int
    used_mm: int
    laid: tuple[LaidPiece, ...]
    pieces_cm2: float

    @property
    def waste_percent(self) -> float:
        """Per cent of the block the pieces are cut from (length × the width they reach) that is in no piece."""
        block = self.length_mm * self.used_mm / 100.0
        return 100.0 * (1.0 - self.pieces_cm2 / block) if block else 0.0

    @property
    def left_mm(self) -> int:
        """Width in mm of the strip beside the block that is whole and goes back to the shelf."""
        return math.floor(self.roll_width_mm) - self.used_mm

    def drawn(self, *, long: float = 300.0, high: float = 150.0) -> dict[str, Any]:
        """Plan as a drawing that fits into `long` × `high` units of the drawing, its longer side lying."""
        lying = self.length_mm > self.roll_width_mm  # the length runs along the page, else the roll's width does
        width, height = (self.length_mm, self.roll_width_mm) if lying else (self.roll_width_mm, self.length_mm)
        scale = min(long / max(width, 1), high / max(height, 1))
        boxes = []
        for one in self.laid:
            x, y, w, h = one.across, one.along, one.width, one.length
            if lying:
                x, y, w, h = y, x, h, w
            sizes = {"x": x, "y": y, "w": w, "h": h, "mid_x": x + w / 2, "mid_y": y + h / 2}
            sizes |= {"half_w": w / 2, "half_h": h / 2}
            scaled = {name: round(size * scale, 1) for name, size in sizes.items()}
            boxes.append({"no": one.number, "round": one.round, **scaled})
        width, height = round(width * scale, 1), round(height * scale, 1)
        return {"width": width, "height": height, "wide": width + 2, "high": height + 2, "boxes": boxes}


def pieces_of(steps: Iterable[PlannedStep]) -> dict[str, list[Piece]]:
    """Cloth pieces that planned steps cut, by material; steps from before pieces were kept have none."""
    found: dict[str, list[Piece]] = {}
    for step in steps:
        for one in step.pieces:
            piece = Piece(one.length_mm, one.width_mm, one.area_cm2, step.title, one.shape in _OVAL)
            found.setdefault(one.material, []).extend([piece] * round(one.many))
    return found


def cut_plans(
    steps: Iterable[PlannedStep], rolls: Mapping[str, tuple[str, float | None]], *, lap_mm: float = LAP_MM
) -> tuple[list[CutPlan], list[str]]:
    """Plan for each cloth, and a sentence for each that has none.

    `rolls` maps a material key to its name and roll width in mm; `lap_mm` is the lap at seams in mm.
    """
    plans, sentences = [], []
    for material, pieces in pieces_of(steps).items():
        name, width = rolls.get(material, (material, None))
        if width:
            plans.append(cut_plan(material, name, pieces, width, lap_mm=lap_mm))
        else:
            sentences.append(f"“{name}” has no roll width: add it in the store to see how to cut it.")
    return plans, sentences


def cut_plan(
    material: str, name: str, pieces: Sequence[Piece], roll_width_mm: float, *, lap_mm: float = LAP_MM
) -> CutPlan:
    """Plan of the pieces on a roll of so many mm. Raises ValueError if the roll is no wider than two laps."""
    if roll_width_mm <= 2 * lap_mm:
        raise ValueError(f"A roll must be wider than two laps of {lap_mm:g} mm; {roll_width_mm:g} mm is not.")
    cut = [part for piece in pieces for part in strips(piece, roll_width_mm, lap_mm) if part.area_cm2 > 0]
    placed = _shortest(cut, math.floor(roll_width_mm))
    laid = tuple(
        LaidPiece(number, along, across, length, width, cut[index].words, cut[index].round)
        for number, (along, across, length, width, index) in enumerate(sorted(placed), 1)
    )
    return CutPlan(
        material,
        name,
        roll_width_mm,
        max((one.along + one.length for one in laid), default=0),
        max((one.across + one.width for one in laid), default=0),
        laid,
        sum(piece.area_cm2 for piece in pieces),
    )


def strips(piece: Piece, roll_width_mm: float, lap_mm: float = LAP_MM) -> Iterator[Piece]:
    """Piece itself where the roll is wide enough (all in mm), else the fewest equal strips that lap to make it up."""
    narrow, long = sorted((piece.length_mm, piece.width_mm))
    if narrow <= roll_width_mm:
        yield piece
        return
    count = math.ceil((narrow - lap_mm) / (roll_width_mm - lap_mm))
    width = (narrow + (count - 1) * lap_mm) / count
    for number in range(1, count + 1):
        words = f"{piece.words}, strip {number} of {count}"
        yield Piece(long, width, piece.area_cm2 / count, words)


def _shortest(pieces: Sequence[Piece], roll: int) -> list[tuple[int, int, int, int, int]]:
    """Places (along, across, length, width, index) of the pieces, by the rule that needs the shortest cut."""
    sizes = [(math.ceil(piece.width_mm), math.ceil(piece.length_mm)) for piece in pieces]
    if not sizes:
        return []
    most = sum(max(size) for size in sizes)
    best: list[tuple[int, int, int, int, int]] = []
    best_size = (math.inf, math.inf)
    for rule, order in product(_RULES, _ORDERS):
        packer = rectpack.newPacker(pack_algo=rule, sort_algo=order, rotation=True)
        packer.add_bin(roll, most)
        for index, (width, length) in enumerate(sizes):
            packer.add_rect(width, length, rid=index)
        packer.pack()
        placed = [(y, x, height, width, index) for _, x, y, width, height, index in packer.rect_list()]
        size = (max(y + h for y, _, h, _, _ in placed), max(x + w for _, x, _, w, _ in placed))
        if len(placed) == len(sizes) and size < best_size:
            best, best_size = placed, size
    return best
