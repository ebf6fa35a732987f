"""Labels for shelves, lots, containers and offcuts, at true size, with a code that opens the page of each.

The code holds a short address in capitals, which keeps it coarse and sturdy; the page behind it asks for a login. Its
quiet zone of four modules (ISO/IEC 18004) is part of it, and a module is four dots of a 203 dpi printer.
Label sizes are those of common label rolls: common practice, no source. Print at 100 %, not fitted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

import segno
from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from inventory.formats import amount
from inventory.models import Container, Lot, Material
from shop.papers.paper import render
from shop.text.formats import day_year

QUIET = 4  # modules of white around a code: ISO/IEC 18004
MODULE_MM = 4 * 25.4 / 203  # 0.50 mm: four dots of a 203 dpi printer, so that no module is blurred over dots
MARGIN_MM = 2
PT_MM = 25.4 / 72
LETTER = 0.56  # em: a letter's usual width in Lato, bold, with what a line loses at its end; measured on our labels
FITS = (
    (True, 1.0),
    (True, 0.9),
    (False, 1.0),
    (False, 0.9),
    (False, 0.8),
    (False, 0.7),
)  # whole caution?, size of text


@dataclass(frozen=True)
class Size:
    """A label as it comes off the roll, in mm."""

    key: str
    width: int
    height: int
    title_pt: int
    text_pt: float

    @property
    def words(self) -> str:
        """Words for the size, in mm."""
        return f"{self.width} × {self.height} mm"

    @property
    def inside(self) -> int:
        """The height that can be printed on."""
        return self.height - 2 * MARGIN_MM


SIZES = {
    size.key: size
    for size in (Size("62x29", 62, 29, 10, 7), Size("50x25", 50, 25, 8, 6), Size("100x50", 100, 50, 16, 11))
}
USUAL = "62x29"


@dataclass(frozen=True)
class Label:
    """One label: what is printed large, what under it, a caution, and what its code stands for (M7, L12 or C3)."""

    title: str
    lines: tuple[str, ...]
    caution: str
    stands_for: str

    @property
    def address(self) -> str:
        """Address that the code leads to."""
        return (settings.ORIGIN + reverse("scanned", args=[self.stands_for])).upper()

    @property
    def code(self) -> SafeString:
        """Code of the address as a drawing."""
        drawn = _code(self.address).svg_inline(border=QUIET, omitsize=True, svgclass="qr", lineclass=None)
        return mark_safe(drawn)  # noqa: S308 - drawn by us from our own address

    @property
    def side_mm(self) -> float:
        """The code's side, quiet zone and all."""
        return _code(self.address).symbol_size(border=QUIET)[0] * MODULE_MM

    def fitted(self, size: Size) -> FittedLabel:
        """The words as they fit beside the code: smaller where they must be, then with the caution's first sentence."""
        for whole, scale in FITS:
            caution = self.caution if whole else self.caution.split(". ")[0].rstrip(".") + "." * bool(self.caution)
            if self._height(size, caution, scale) <= size.inside:
                break
        return FittedLabel(
            self, caution, f"{self.side_mm:.2f}", f"{size.title_pt * scale:.1f}", f"{size.text_pt * scale:.2f}"
        )

    def _height(self, size: Size, caution: str, scale: float) -> float:
        """About how high the words stand, in mm."""
        room = size.width - 2 * MARGIN_MM - self.side_mm

        def lines(words: str, points: float) -> int:
            return ceil(len(words) * LETTER * points * PT_MM / room)

        title, text = size.title_pt * scale, size.text_pt * scale
        said = [lines(line, text) for line in self.lines if line]
        high = (
            lines(self.title, title) * title * 1.1 + sum(said) * text * 1.2 + lines(caution, text * 0.8) * text * 0.92
        )
        return high * PT_MM + 1.6


@dataclass(frozen=True)
class FittedLabel:
    """A label as it is set: sizes in points, the code's side in mm."""

    label: Label
    caution: str
    side: str
    title_pt: str
    text_pt: str


def _code(address: str) -> segno.QRCode:
    return segno.make(address, error="m", micro=False, boost_error=False)


def of_materials(materials: Sequence[Material], size: str = USUAL) -> bytes:
    """Shelf labels, one page each: name, shelf, what can hurt."""
    rows = [Label(one.name, (one.shelf, one.key), one.hazard, f"M{one.pk}") for one in materials]
    return _print(rows, size)


def of_lot(lot: Lot, size: str = USUAL) -> bytes:
    """What a delivery or an offcut is marked with: size if it is an offcut, received, good until."""
    measures: tuple[str, ...] = ()
    if lot.length_mm and lot.width_mm:
        measures = (f"{lot.length_mm.normalize():f} × {lot.width_mm.normalize():f} mm",)
    return _print([Label(lot.material.name, (*measures, *_dates(lot)), lot.material.hazard, f"L{lot.pk}")], size)


def of_container(container: Container, size: str = USUAL) -> bytes:
    """What a container is marked with: its empty weight, received, good until; the code leads to the scale."""
    lot = container.lot
    tare = f"{container.name}, empty {amount(container.tare_g, 'g')}"
    return _print([Label(lot.material.name, (tare, *_dates(lot)), lot.material.hazard, f"C{container.pk}")], size)


def trial(size: str = USUAL) -> bytes:
    """A label to try the printer with: its own outline, a ruler in mm, and a code to be read with a phone."""
    label = Label("Test", (), "", "TEST")
    one = SIZES[size]
    room = int(one.width - 2 * MARGIN_MM - label.side_mm) // 10 * 10  # beside the code, in whole centimetres
    context = {"label": label.fitted(one), "size": one, "margin": MARGIN_MM, "marks": _marks(room)}
    return render("inventory/papers/label_test.html", context, tagged=False)


def _marks(room: int) -> list[tuple[int, int, str]]:
    """A ruler: (mm, length of the mark in mm, number) for every mm, the tens numbered."""
    return [
        (mm, 4 if mm % 10 == 0 else 3 if mm % 5 == 0 else 2, str(mm) if mm % 10 == 0 else "") for mm in range(room + 1)
    ]


def _dates(lot: Lot) -> tuple[str, ...]:
    good = (f"good until {day_year(lot.good_until)}",) if lot.good_until else ()
    return (f"received {day_year(lot.received_on)}", *good)


def _print(labels: Sequence[Label], size: str) -> bytes:
    of = SIZES[size]
    context = {"labels": [label.fitted(of) for label in labels], "size": of, "margin": MARGIN_MM}
    return render("inventory/papers/labels.html", context, tagged=False)
