"""Places: named geometry of a damage, worked out from what one can measure with a tape.

Every place gives area (cm², one face), perimeter (mm), volume (mL, where it has a depth) and `grown(by)`, itself larger
by an overlap in mm on every side. Formulas are plane geometry; a fin is a trapezium, a deck is its rectangle times a
plan-form coefficient. Invariant: growing never makes a place smaller, and a place of no size has no area.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any, ClassVar

from quotes.costing.basis.constants import practice

PLAN_FORM = practice("deck_plan_form", 0.78, 0.70, 0.85, "1", "area of a deck over length × width")

SECTION = practice("board_section", 0.7, 0.6, 0.8, "1", "section of a board over width × thickness")


@dataclass(frozen=True, slots=True)
class Place:
    """A flat or wrapped patch of `length_mm` × `width_mm` mm, `depth_mm` mm deep where it is a hole."""

    length_mm: float
    width_mm: float
    depth_mm: float = 0.0
    shape: ClassVar[str] = ""
    fullness: ClassVar[float] = 1.0  # area over length × width
    odd: ClassVar[bool] = False  # cuts more waste from the roll than a rectangle

    @property
    def area_cm2(self) -> float:
        """Area of one face in cm²."""
        return self.fullness * self.length_mm * self.width_mm / 100.0

    @property
    def area_m2(self) -> float:
        """Area of one face in m²."""
        return self.fullness * self.length_mm * self.width_mm / 1e6

    @property
    def perimeter_mm(self) -> float:
        """Length of its edge in mm."""
        return 2.0 * (self.length_mm + self.width_mm)

    @property
    def volume_ml(self) -> float:
        """Volume in mL, area × depth: 1 cm² × 10 mm is 1 mL."""
        return self.area_cm2 * self.depth_mm / 10.0

    def grown(self, by_mm: float) -> Place:
        """Place larger by `by_mm` mm on every side; a place of no size stays one."""
        if not (self.length_mm and self.width_mm):
            return self
        return self._sized(self.length_mm + 2 * by_mm, self.width_mm + 2 * by_mm)

    def _sized(self, length_mm: float, width_mm: float) -> Place:
        return type(self)(length_mm, width_mm, self.depth_mm)

    @property
    def size_words(self) -> str:
        """Words for the size of its face, in mm."""
        return f"{self.length_mm:.0f} × {self.width_mm:.0f} mm"

    @property
    def hole_words(self) -> str:
        """Words for the size of its face and its depth, in mm."""
        return f"{self.length_mm:.0f} × {self.width_mm:.0f} × {self.depth_mm:.0f} mm"


class Rectangle(Place):
    """A rectangle, L × W."""

    __slots__ = ()
    shape = "rectangle"


class Ellipse(Place):
    """An ellipse, π/4 × L × W; its edge by Ramanujan's first approximation (S. Ramanujan, 1914; from memory)."""

    __slots__ = ()
    shape = "ellipse"
    fullness = math.pi / 4
    odd = True

    @property
    def perimeter_mm(self) -> float:
        """Length of its edge in mm."""
        a, b = self.length_mm / 2, self.width_mm / 2
        return math.pi * (3 * (a + b) - math.sqrt((3 * a + b) * (a + 3 * b)))


class RailWrap(Ellipse):
    """An oval laid over the rail: `width` is the tape from the deck edge, around the rail, to the bottom edge."""

    __slots__ = ()
    shape = "rail-wrap"


@dataclass(frozen=True, slots=True)
class Section(Place):
    """A board cut across: width × thickness × a share, for rails and deck are round; its edge is a rectangle's."""

    share: float = SECTION.value
    shape: ClassVar[str] = "section"

    def _sized(self, length_mm: float, width_mm: float) -> Place:
        return Section(length_mm, width_mm, self.depth_mm, self.share)

    @property
    def area_cm2(self) -> float:
        """Area of one face in cm²."""
        return self.share * self.length_mm * self.width_mm / 100.0

    @property
    def area_m2(self) -> float:
        """Area of one face in m²."""
        return self.share * self.length_mm * self.width_mm / 1e6


class BoxPocket(Rectangle):
    """A pocket of a fin box: straight walls, L × W × depth."""

    __slots__ = ()
    shape = "box-pocket"


class Plug(Ellipse):
    """A round hole of one diameter: π/4 × D² × depth."""

    __slots__ = ()
    shape = "plug"


class Band(Rectangle):
    """A band over one face of the board, from rail to rail: half girth ≈ width + thickness, by the band's width."""

    __slots__ = ()
    shape = "band"

    def grown(self, by_mm: float) -> Place:
        """Band wider along the board by `by_mm` mm; across it already goes from rail to rail."""
        if not (self.length_mm and self.width_mm):
            return self
        return self._sized(self.length_mm, self.width_mm + 2 * by_mm)


@dataclass(frozen=True, slots=True)
class Deck(Place):
    """A whole deck or bottom: length × width (mm) × a plan-form coefficient; its edge is about twice the length."""

    plan_form: float = PLAN_FORM.value
    shape: ClassVar[str] = "deck"
    odd: ClassVar[bool] = True

    def _sized(self, length_mm: float, width_mm: float) -> Place:
        return Deck(length_mm, width_mm, self.depth_mm, self.plan_form)

    @property
    def area_cm2(self) -> float:
        """Area of one face in cm²."""
        return self.plan_form * self.length_mm * self.width_mm / 100.0

    @property
    def area_m2(self) -> float:
        """Area of one face in m²."""
        return self.plan_form * self.length_mm * self.width_mm / 1e6

    @property
    def perimeter_mm(self) -> float:
        """Length of its edge in mm, about twice the length plus the width."""
        return 2.0 * self.length_mm + self.width_mm


@dataclass(frozen=True, slots=True)
class Fin(Place):
    """One side of a fin, in mm: `length_mm` is the base, `width_mm` the height, `tip_mm` the chord at the tip."""

    tip_mm: float = 0.0
    shape: ClassVar[str] = "fin"
    odd: ClassVar[bool] = True

    def _sized(self, length_mm: float, width_mm: float) -> Place:
        # the tip grows with the base: an outline moved out by so much on every side
        tip = self.tip_mm + length_mm - self.length_mm
        return Fin(length_mm, width_mm, self.depth_mm, tip)

    @property
    def area_cm2(self) -> float:
        """Area of one side in cm², as a trapezium."""
        return (self.length_mm + self.tip_mm) / 2 * self.width_mm / 100.0

    @property
    def area_m2(self) -> float:
        """Area of one side in m²."""
        return (self.length_mm + self.tip_mm) / 2 * self.width_mm / 1e6

    @property
    def perimeter_mm(self) -> float:
        """Length of base, tip and both edges, in mm."""
        slope = math.hypot(self.width_mm, (self.length_mm - self.tip_mm) / 2)
        return self.length_mm + self.tip_mm + 2 * slope

    @property
    def base_mm(self) -> float:
        """Length of the base in mm."""
        return self.length_mm

    @property
    def height_mm(self) -> float:
        """Height of the fin in mm."""
        return self.width_mm


# shape -> (class, {size in the recipe: field}, sizes that may be left out)
_FLAT = {"length": "length_mm", "width": "width_mm", "depth": "depth_mm"}
SHAPES: dict[str, tuple[type[Place], dict[str, str], tuple[str, ...]]] = {
    "rectangle": (Rectangle, _FLAT, ("depth",)),
    "ellipse": (Ellipse, _FLAT, ("depth",)),
    "section": (Section, _FLAT, ("depth",)),
    "rail-wrap": (RailWrap, {"length": "length_mm", "around": "width_mm", "depth": "depth_mm"}, ("depth",)),
    "box-pocket": (BoxPocket, _FLAT, ()),
    "plug": (Plug, {"diameter": "length_mm", "depth": "depth_mm"}, ("depth",)),
    "fin": (Fin, {"base": "length_mm", "height": "width_mm", "tip": "tip_mm"}, ("tip",)),
    "band": (Band, {"board_width": "length_mm", "board_thickness": "thickness", "width": "width_mm", "depth": "depth_mm"},
             ("depth",)),
    "deck": (Deck, {"length": "length_mm", "width": "width_mm"}, ()),
}  # fmt: skip


def build_places(
    places: Mapping[str, Mapping[str, Any]], values: Mapping[str, float], figures: Mapping[str, float]
) -> dict[str, Place]:
    """Places by name from their sizes in mm, which are numbers or names of measures.

    "grown" takes an earlier place and `by` mm. `values` are the measures in their units, `figures` the constants by
    name.
    """
    built: dict[str, Place] = {}
    for name, spec in places.items():
        shape = spec["shape"]
        if shape == "grown":
            built[name] = built[spec["of"]].grown(_size(spec["by"], values))
            continue
        cls, sizes, _ = SHAPES[shape]
        fields = {to: _size(spec[size], values) for size, to in sizes.items() if size in spec}
        if shape == "plug":
            fields["width_mm"] = fields["length_mm"]
        elif shape == "band":
            fields["length_mm"] += fields.pop("thickness")
        elif shape == "deck":
            fields["plan_form"] = figures[PLAN_FORM.name]
        elif shape == "section":
            fields["share"] = figures[SECTION.name]
        built[name] = cls(**fields)
    return built


def check_places(places: Mapping[str, Mapping[str, Any]], measures: Iterable[str]) -> list[str]:
    """Sentences for the places that cannot be built: unknown shape, missing size, unknown measure."""
    known, wrong, seen = set(measures), [], set()
    for name, spec in places.items():
        shape = spec.get("shape")
        if shape == "grown":
            sizes: dict[str, str] = {"by": "by"}
            optional: tuple[str, ...] = ()
            if spec.get("of") not in seen:
                wrong.append(_no_base(name, places))
        elif shape in SHAPES:
            _, sizes, optional = SHAPES[shape]
        else:
            wrong.append(f"The place {name} has the shape {shape!r}; it must be one of {', '.join(SHAPES)}, grown.")
            continue
        for size in sizes:
            value = spec.get(size)
            if value is None and size not in optional:
                wrong.append(f"The place {name} lacks {size}.")
            elif isinstance(value, str) and value not in known:
                wrong.append(f"The place {name}: {size} names {value}, which is no measure of this recipe.")
        seen.add(name)
    return wrong


def _no_base(name: str, places: Mapping[str, Mapping[str, Any]]) -> str:
    """Reason why a place cannot grow another: the other is not there, comes later, or grows out of this one."""
    chain = [name]
    while True:
        of = places[chain[-1]].get("of")
        if of in chain:
            round_trip = ", which grows ".join(str(one) for one in (*chain[1:], of))
            return f"The place {name}, “grows”: it grows {round_trip}: a loop. Give one of them sizes of its own."
        if not isinstance(of, str) or of not in places:
            return f"The place {name}, “grows”: it grows {of!r}, which is no place of this recipe."
        if places[of].get("shape") != "grown":
            return f"The place {name}, “grows”: it grows {of}, which comes below it: move {of} up."
        chain.append(of)


def measures_of(places: Mapping[str, Mapping[str, Any]]) -> dict[str, tuple[str, ...]]:
    """Names of the measures that each place hangs on."""
    found: dict[str, tuple[str, ...]] = {}
    for name, spec in places.items():
        below = found[spec["of"]] if spec["shape"] == "grown" else ()
        sizes = (value for key, value in spec.items() if key not in ("shape", "of") and isinstance(value, str))
        found[name] = (*below, *sizes)
    return found


def _size(value: float | str, values: Mapping[str, float]) -> float:
    return values[value] if isinstance(value, str) else float(value)
