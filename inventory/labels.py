"""Labels for shelves, lots, containers and offcuts: 62 × 29 mm at true size, with a code that opens the page.

The code holds the address of a page that asks for a login, nothing about the shop. Print at 100 %, not fitted.
"""

from __future__ import annotations

from dataclasses import dataclass

import segno
from django.conf import settings
from django.urls import reverse
from django.utils.safestring import SafeString, mark_safe

from inventory.models import Container, Lot, Material
from inventory.words import amount
from shop.paper import render
from shop.templatetags.look import day_year


@dataclass(frozen=True)
class Label:
    """One label: what is printed large, what under it, a caution, and the address its code opens."""

    title: str
    lines: tuple[str, ...]
    caution: str
    address: str

    @property
    def code(self) -> SafeString:
        # 24 mm over 37 to 41 modules is 0.58 mm and more each: 4 dots of a 203 dpi printer, with the quiet zone inside.
        drawn = segno.make(self.address, error="m", micro=False).svg_inline(
            border=4, omitsize=True, svgclass="qr", lineclass=None
        )
        return mark_safe(drawn)  # noqa: S308 - drawn by us from our own address


def of_materials(materials: list[Material]) -> bytes:
    """Shelf labels, one page each: name, shelf, what can hurt."""
    return _print(
        [
            Label(
                material.name, (material.shelf or "", material.key), material.hazard, _address("material", material.pk)
            )
            for material in materials
        ]
    )


def of_lot(lot: Lot) -> bytes:
    """What a delivery or an offcut is marked with: size if it is an offcut, received, good until."""
    size = (
        (f"{lot.length_mm.normalize():f} × {lot.width_mm.normalize():f} mm",) if lot.length_mm and lot.width_mm else ()
    )
    return _print([Label(lot.material.name, (*size, *_dates(lot)), lot.material.hazard, _address("lot", lot.pk))])


def of_container(container: Container) -> bytes:
    """What a container is marked with: its empty weight, received, good until; the code leads to the scale."""
    lot = container.lot
    tare = f"{container.name}, empty {amount(container.tare_g, 'g')}"
    return _print(
        [Label(lot.material.name, (tare, *_dates(lot)), lot.material.hazard, _address("weigh", container.pk))]
    )


def _dates(lot: Lot) -> tuple[str, ...]:
    good = (f"good until {day_year(lot.good_until)}",) if lot.good_until else ()
    return (f"received {day_year(lot.received_on)}", *good)


def _address(name: str, pk: int) -> str:
    return settings.ORIGIN + reverse(name, args=[pk])


def _print(labels: list[Label]) -> bytes:
    return render("inventory/papers/labels.html", {"labels": labels}, tagged=False)
