"""A board's plan as the templates draw it, worked out as ready numbers.

A board lies on its side, seen from the deck: x runs from the tail (left) to the nose, y from the left rail (up)
to the right rail (down), so "right of the stringer is plus" is also down on the page.
Invariants: the hull is symmetric about the stringer, stays inside length and width, and is as wide 12 in from each
end as was measured. Every number leaves as text with a point, so that no page language can put a comma into a path.
The curves between the measured points are our own choice; a drawing shows a board, it does not shape one.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from math import sqrt
from typing import Protocol

STATION_MM = 304.8  # 12 in from each end, where nose and tail width are measured; common practice, no source
PAD = 3.0  # drawing units kept free round a hull, beyond half a pin
FULL, FLAT = 0.55, 0.85  # how far a curve follows its tangent at a measured point, and at the widest: 1 is all the way
FINS, FIN_MM = ("fin-left", "fin-middle", "fin-right"), 115.0  # what tells a bottom from a deck on a drawing

Point = tuple[float, float]
Curve = tuple[Point, Point, Point, Point]


@dataclass(frozen=True)
class TailEnd:
    """How a tail ends: `block` and `lift` are shares of the tail's half width, `corner` and `notch` are in mm."""

    block: float  # half width where the outline begins
    lift: float  # how squarely it leaves there: 0 sharp, 1 round
    corner: float = 0  # how far the block's corners lie in front of the very end
    notch: float = 0  # depth of the cut between two tips


TAILS = {
    "pin": TailEnd(0, 0.25),
    "round": TailEnd(0, 0.8),
    "squash": TailEnd(0.36, 0.7),
    "square": TailEnd(0.46, 0.05),
    "diamond": TailEnd(0.44, 0.1, corner=50),
    "swallow": TailEnd(0.5, 0.3, notch=80),
    "fish": TailEnd(0.6, 0.6, notch=127),
}


@dataclass(frozen=True)
class Shape:
    """A board's plan: length, widest width, and width 12 in from nose and tail, in mm."""

    length: float
    width: float
    nose: float
    tail: float
    tail_shape: str = "squash"

    @classmethod
    def measured(
        cls, length: float, width: float, nose: float | None = None, tail: float | None = None, tail_shape: str = ""
    ) -> Shape:
        """The shape from what was measured, in mm; nose and tail not measured are taken as usual for the length.

        Raises ValueError when length or width is not above zero.
        """
        if not (length > 0 and width > 0):
            raise ValueError(f"A board has a length and a width above zero, not {length} and {width} mm.")
        tail_shape = tail_shape if tail_shape in TAILS else "squash"
        long_board = length > 2600
        nose = nose or width * (0.78 if long_board else 0.62)
        tail = tail or width * (0.78 if tail_shape == "fish" else 0.66 if long_board else 0.74)
        return cls(length, width, min(nose, width), min(tail, width), tail_shape)

    @property
    def station(self) -> float:
        """Where nose and tail width lie, mm from the ends: 12 in, less on boards too short to have two of them."""
        return min(STATION_MM, self.length / 4)

    @property
    def end(self) -> TailEnd:
        """End of the outline for the shape of its tail."""
        return TAILS[self.tail_shape]

    @property
    def notch(self) -> float:
        """Depth of the notch in the tail, in mm."""
        return min(self.end.notch, self.station * 0.7)

    @property
    def corner(self) -> Point:
        """Where the half outline begins: mm from the very end, mm from the stringer."""
        return min(self.end.corner, self.station * 0.3), self.end.block * self.tail / 2


def _slope(flatter: float, steeper: float) -> float:
    """The outline's slope at a measured point, between those to its neighbours, so that it bends one way only."""
    if flatter >= steeper:
        return max(min(flatter, steeper), 0.0)
    return sqrt(flatter * steeper)


def _towards_wide(station: Point, wide: Point, slope: float) -> tuple[Point, Point]:
    """The two inner points of the curve between a measured point and the widest one, which is level; never beyond it.

    The tangents of both ends meet at most as high as the widest point, which keeps the curve full and inside its box.
    """
    run, rise = abs(wide[0] - station[0]), wide[1] - station[1]
    sign = 1 if wide[0] > station[0] else -1
    reach = min(rise / slope, 0.6 * run) if slope else 0.6 * run
    return (
        (station[0] + sign * FULL * reach, station[1] + slope * FULL * reach),
        (wide[0] - sign * FLAT * (run - reach), wide[1]),
    )


def half_outline(shape: Shape) -> list[Curve]:
    """The left half from the tail's corner to the nose tip as cubic curves of (mm from tail, mm from stringer)."""
    (x0, y0), s, w = shape.corner, shape.station, shape.width / 2
    t, n, end = shape.tail / 2, shape.nose / 2, shape.length - shape.station
    lean = max(-0.06, min(0.06, 0.3 * (shape.nose - shape.tail) / shape.length))  # fuller at the wider end
    wide = (shape.length * (0.5 + lean), w)
    tail, nose = (s, t), (end, n)
    slope_t = _slope((w - t) / (wide[0] - s), (t - y0) / (s - x0))
    slope_n = _slope((w - n) / (end - wide[0]), n / s)
    tail_in, wide_t = _towards_wide(tail, wide, slope_t)
    nose_in, wide_n = _towards_wide(nose, wide, slope_n)
    aim_t, aim_n = t - slope_t * (s - x0), n - slope_n * s  # where the slopes meet the very ends
    blunt = max(0.2, min(0.8, 1.75 * (n / s - 0.36)))  # a wide nose is a round one
    tail_out = (s - FULL * (s - x0), t - slope_t * FULL * (s - x0))
    nose_out = (end + FULL * s, n - slope_n * FULL * s)
    return [
        ((x0, y0), (x0, y0 + shape.end.lift * max(aim_t - y0, 0.0)), tail_out, tail),
        (tail, tail_in, wide_t, wide),
        (wide, wide_n, nose_in, nose),
        (nose, nose_out, (shape.length, blunt * max(aim_n, 0.0)), (shape.length, 0.0)),
    ]


def _at(curve: Curve, t: float) -> Point:
    u = 1 - t
    a, b, c, d = u * u * u, 3 * u * u * t, 3 * u * t * t, t * t * t
    (x0, y0), (x1, y1), (x2, y2), (x3, y3) = curve
    return a * x0 + b * x1 + c * x2 + d * x3, a * y0 + b * y1 + c * y2 + d * y3


def half_width(shape: Shape, x: float) -> float:
    """Half the board's width in mm at x mm from the tail; 0 beyond the ends."""
    x0, y0 = shape.corner
    if x < 0 or x > shape.length:
        return 0.0
    if x < x0:
        return y0 * x / x0
    curve = next(c for c in half_outline(shape) if x <= c[3][0])
    low, high = 0.0, 1.0
    for _ in range(40):  # x grows along each curve, so halving finds it
        middle = (low + high) / 2
        low, high = (middle, high) if _at(curve, middle)[0] < x else (low, middle)
    return _at(curve, high)[1]


def notch_half(shape: Shape, x: float) -> float:
    """How far from the stringer the board begins at x mm from the tail: above 0 only inside a notch."""
    return shape.corner[1] * (1 - x / shape.notch) if shape.notch and x < shape.notch else 0.0


def inside(shape: Shape, from_tail: float, from_stringer: float) -> Point:
    """The place itself if it lies on the board, else the nearest one along the board's width, in mm."""
    x = max(0.004 * shape.length, min(0.996 * shape.length, from_tail))
    side = -1.0 if from_stringer < 0 else 1.0
    low, high = notch_half(shape, x), half_width(shape, x)
    return x, side * max(low, min(high, abs(from_stringer)))


class Spot(Protocol):
    """What a pin is made from; a damage is one."""

    number: int
    side: str

    @property
    def from_tail_mm(self) -> object: ...
    @property
    def from_stringer_mm(self) -> object: ...


@dataclass(frozen=True)
class Pin:
    """A numbered pin: its centre, its words' foot, and a dot on the true place where it had to step aside."""

    label: str
    x: str
    y: str
    foot: str
    under: bool  # on the bottom: drawn square
    dot: tuple[str, str] | None
    corner: tuple[str, str]


@dataclass(frozen=True)
class BoardPlan:
    """A board on its side, ready to be drawn; lengths in drawing units."""

    view_box: str
    width: str
    height: str
    hull: str
    stringer: str
    pins: tuple[Pin, ...]
    radius: str
    side: str
    font: str
    scale: str  # units per mm
    across: str  # the same across the board, below zero where the bottom is shown
    fins: str  # the path of the fins' dashes, on the bottom only
    tail_x: str
    middle_y: str


def as_text(value: float) -> str:
    """A coordinate to a tenth, with a point whatever the page's language; never a negative nought."""
    text = f"{value:.1f}"
    return "0.0" if text == "-0.0" else text


def _hull(shape: Shape, k: float, dx: float, dy: float) -> str:
    """The closed path of the hull, `k` units per mm, tail at dx, stringer at dy."""

    def at(p: Point, side: int) -> str:
        return f"{as_text(dx + p[0] * k)},{as_text(dy + side * p[1] * k)}"

    curves = half_outline(shape)
    words = ["M" + at(curves[0][0], -1)]
    words += ["C" + " ".join(at(p, -1) for p in curve[1:]) for curve in curves]
    words += ["C" + " ".join(at(p, 1) for p in reversed(curve[:3])) for curve in reversed(curves)]
    if shape.notch:
        words.append("L" + at((shape.notch, 0.0), 1))
    elif shape.corner[0]:
        words.append("L" + at((0.0, 0.0), 1))
    return "".join(words) + "Z"


def plan(
    shape: Shape,
    spots: Iterable[Spot] = (),
    *,
    units: float = 360,
    full_mm: float = 0,
    radius: float = 11,
    resting: bool = False,
    under: bool = False,
) -> BoardPlan:
    """The board's drawing, `units` wide. With `full_mm` the width stands for that length, so that boards drawn with
    the same one are to scale with each other (a longer board still fits: the whole is drawn smaller). `resting` ends
    the drawing at the lower rail, which then lies on whatever line is under it. `under` shows the bottom, rolled about
    the stringer: the tail stays left, the left rail is down, and dashes stand where fins usually do."""
    pad = radius + PAD
    k = (units - 2 * pad) / max(full_mm, shape.length)
    middle = shape.width * k / 2 + pad
    height = 2 * middle - (pad - 1 if resting else 0)
    pins: list[tuple[Spot, Point, Point]] = []
    for spot in spots:
        true = inside(shape, float(str(spot.from_tail_mm)), float(str(spot.from_stringer_mm)))
        pins.append((spot, true, _aside(shape, true, [p for _, _, p in pins], 2.1 * radius / k)))
    return BoardPlan(
        view_box=f"0 0 {as_text(units)} {as_text(height)}",
        width=as_text(units),
        height=as_text(height),
        hull=_hull(shape, k, pad, middle),
        stringer=f"M{as_text(pad + (shape.notch + 12) * k)},{as_text(middle)}H{as_text(pad + (shape.length - 12) * k)}",
        pins=tuple(
            _pin(spot, _seen(true, under), _seen(place, under), k, pad, middle, radius) for spot, true, place in pins
        ),
        radius=as_text(radius),
        side=as_text(radius * 1.8),
        font=as_text(radius * 1.25),
        scale=f"{k:.6f}",
        across=f"{-k if under else k:.6f}",
        fins="".join(_fin(named_place(shape, key), k, pad, middle) for key in FINS) if under else "",
        tail_x=as_text(pad),
        middle_y=as_text(middle),
    )


def _aside(shape: Shape, place: Point, taken: Sequence[Point], apart: float) -> Point:
    """The place, or the nearest one along the board where a pin does not cover those already there."""
    steps = [sign * 0.25 * apart * i for i in range(25) for sign in (1, -1)]
    for step in steps:
        x, y = inside(shape, place[0] + step, place[1])
        if all((x - a) ** 2 + (y - b) ** 2 >= apart**2 for a, b in taken):
            return x, y
    return place


def _seen(place: Point, under: bool) -> Point:
    """A place as it lies on the page: the other way across on a board that is rolled over."""
    return (place[0], -place[1]) if under else place


def _fin(place: Point, k: float, dx: float, dy: float) -> str:
    return f"M{as_text(dx + (place[0] - FIN_MM / 2) * k)},{as_text(dy + place[1] * k)}h{as_text(FIN_MM * k)}"


def _pin(spot: Spot, true: Point, place: Point, k: float, dx: float, dy: float, radius: float) -> Pin:
    x, y = dx + place[0] * k, dy + place[1] * k
    dot = (as_text(dx + true[0] * k), as_text(dy + true[1] * k)) if place != true else None
    return Pin(
        label=str(spot.number),
        x=as_text(x),
        y=as_text(y),
        foot=as_text(y + radius * 0.44),
        under=spot.side == "bottom",
        dot=dot,
        corner=(as_text(x - radius * 0.9), as_text(y - radius * 0.9)),
    )


@dataclass(frozen=True)
class NamedPlace:
    """A usual place on a board: share of the length from the tail, share of the half width there (right is plus), and
    the side it lies on where the place alone says it."""

    key: str
    words: str
    along: float
    across: float
    side: str = ""


# For choosing a place without pointing at the drawing; the shares are our own choice.
PLACES = (
    NamedPlace("nose", "nose tip", 0.985, 0, "nose"),
    NamedPlace("nose-left", "nose, left rail", 0.9, -0.9, "left rail"),
    NamedPlace("nose-right", "nose, right rail", 0.9, 0.9, "right rail"),
    NamedPlace("front", "under the chest, middle", 0.66, 0),
    NamedPlace("middle-left", "middle, left rail", 0.5, -0.93, "left rail"),
    NamedPlace("middle", "middle of the board", 0.5, 0),
    NamedPlace("middle-right", "middle, right rail", 0.5, 0.93, "right rail"),
    NamedPlace("back-left", "by the back foot, left rail", 0.24, -0.93, "left rail"),
    NamedPlace("back", "by the back foot, middle", 0.24, 0),
    NamedPlace("back-right", "by the back foot, right rail", 0.24, 0.93, "right rail"),
    NamedPlace("fin-left", "left fin", 0.13, -0.62, "bottom"),
    NamedPlace("fin-middle", "middle fin", 0.09, 0, "bottom"),
    NamedPlace("fin-right", "right fin", 0.13, 0.62, "bottom"),
    NamedPlace("plug", "leash plug", 0.05, 0.12, "deck"),
    NamedPlace("tail-left", "tail, left corner", 0.015, -0.8, "tail"),
    NamedPlace("tail-right", "tail, right corner", 0.015, 0.8, "tail"),
)


def named_place(shape: Shape, key: str) -> Point:
    """Mm from the tail and mm from the stringer of a usual place. Raises KeyError for a name not in PLACES."""
    place = {p.key: p for p in PLACES}[key]
    x = place.along * shape.length
    return inside(shape, x, place.across * half_width(shape, x))


def side_of_place(key: str) -> str:
    """The side that a usual place lies on; empty where it may be deck or bottom, and for no place."""
    return next((place.side for place in PLACES if place.key == key), "")
