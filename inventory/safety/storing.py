"""How what can hurt is kept: classes and limits of a material, its data sheets, and what stands where it must not.

The words are in `inventory.safety.hazards`. Nothing here is refused to the bench: a warning stands beside the work, and
the data sheet and local rules come first.
"""

from __future__ import annotations

import hashlib
import uuid
from collections.abc import Collection, Iterator, Sequence
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from itertools import combinations, groupby
from typing import NamedTuple

from django.core.files.base import ContentFile
from django.db.models import Q
from django.utils import timezone

from inventory.formats import amount
from inventory.models import DataSheet, Material, Safety, StoragePlace
from inventory.safety.hazards import IGNITION, Apart, Hazard, known, not_together, pairs_of
from shop.measures import units
from shop.platform.acts import SEES_MONEY, Refused, Signed, action, checked

MOST_BYTES = 10_000_000  # a data sheet has some ten pages; one this long holds pictures
PDF = b"%PDF-"


@action("safety.change", *SEES_MONEY)
def set_safety(
    *,
    material: Material,
    classes: Collection[str],
    keep_at_most: Decimal | None,
    keep_below_c: Decimal | None,
    signed: Signed,
) -> Safety:
    """How a material must be kept: classes by key, the most that is stored (in its unit), the warmest place in °C."""
    strangers = set(classes) - {hazard.key for hazard in known(classes)}
    if strangers:
        raise Refused(f"There is no hazard class {', '.join(sorted(strangers))}.", field="classes")
    row = Safety.objects.select_for_update().filter(material=material).first() or Safety(material=material)
    row.classes = [hazard.key for hazard in known(classes)]
    if keep_at_most is not None:
        keep_at_most = units.to_step(keep_at_most, material.unit)
    if keep_below_c is not None:
        keep_below_c = keep_below_c.quantize(Decimal("0.1"), ROUND_HALF_UP)
    row.keep_at_most, row.keep_below_c = keep_at_most, keep_below_c
    checked(row).save()
    signed.record(material, f"Changed how {material} is kept")
    return row


@action("safety.sheet", *SEES_MONEY)
def keep_sheet(*, material: Material, content: bytes, name: str, issued_on: date | None, signed: Signed) -> DataSheet:
    """Keep a data sheet as it was handed over; the newest is shown, older ones stay. Raises Refused if it is no PDF."""
    if not content.startswith(PDF):
        raise Refused("This is no PDF. Save the data sheet as PDF and choose that file.", field="sheet")
    if len(content) > MOST_BYTES:
        raise Refused(f"This file is larger than {MOST_BYTES // 1_000_000} MB; ask for a smaller one.", field="sheet")
    if issued_on is not None and issued_on > timezone.localdate(signed.at):
        raise Refused("The date on the sheet must not lie in the future.", field="issued_on")
    row = DataSheet(
        material=material,
        name=name[-120:] or "data sheet.pdf",
        sha256=hashlib.sha256(content).hexdigest(),
        issued_on=issued_on,
        kept_at=signed.at,
        by=signed.by,
    )
    row.file.save(f"{uuid.uuid4().hex}.pdf", ContentFile(content), save=False)
    checked(row).save()
    signed.record(material, f"Kept a data sheet of {material}")
    return row


@action("safety.place", *SEES_MONEY)
def set_place(*, name: str, ignition: bool, warmest_c: Decimal | None, signed: Signed) -> StoragePlace:
    """What is true of a shelf as a place: a source of ignition near, and how warm it gets in °C."""
    row = StoragePlace.objects.select_for_update().filter(name=name).first() or StoragePlace(name=name)
    row.ignition = ignition
    row.warmest_c = None if warmest_c is None else warmest_c.quantize(Decimal("0.1"), ROUND_HALF_UP)
    checked(row).save()
    signed.record(row, f"Changed what is known of {name or 'no shelf'}")
    return row


class KeptMaterial(NamedTuple):
    """A material with what is known of how it must be kept."""

    material: Material
    hazards: list[Hazard]
    safety: Safety | None
    sheet: DataSheet | None
    on_hand: Decimal

    @property
    def classes(self) -> list[str]:
        """Keys of its hazards."""
        return [hazard.key for hazard in self.hazards]

    @property
    def warnings(self) -> list[str]:
        """What is over its limit."""
        limit, unit = self.safety.keep_at_most if self.safety else None, self.material.unit
        if limit is None or self.on_hand <= limit:
            return []
        return [f"{amount(self.on_hand, unit)} are stored; no more than {amount(limit, unit)} should be."]


class Clash(NamedTuple):
    """Why something must not stand where it stands; `other` is empty where the place itself is the trouble."""

    shelf: str
    material: Material
    other: Material | None
    why: str
    source: str


class Shelf(NamedTuple):
    """One place, what hazardous stands there, and what must not."""

    name: str
    place: StoragePlace | None
    kept: list[KeptMaterial]
    clashes: list[Clash]


def everything_hazardous() -> list[Shelf]:
    """Every shelf with something hazardous on it, and what must not stand there. Three queries."""
    places = {place.name: place for place in StoragePlace.objects.all()}
    sheets: dict[int, DataSheet] = {}
    for sheet in DataSheet.objects.newest():
        sheets.setdefault(sheet.material_id, sheet)
    materials = Material.objects.in_use().with_stock().select_related("safety").order_by("shelf", "kind", "name")
    kept = [one for one in (_kept(row, sheets.get(row.pk)) for row in materials) if one.hazards or one.material.hazard]
    return [_shelf(name, places.get(name), list(rows)) for name, rows in groupby(kept, lambda one: one.material.shelf)]


def _kept(row: Material, sheet: DataSheet | None) -> KeptMaterial:
    safety = getattr(row, "safety", None)
    return KeptMaterial(row, known(safety.classes) if safety else [], safety, sheet, row.on_hand)


def _shelf(name: str, place: StoragePlace | None, kept: list[KeptMaterial]) -> Shelf:
    return Shelf(name, place, kept, [*_between(name, kept), *_with_the_place(name, place, kept)])


def _between(shelf: str, kept: Sequence[KeptMaterial]) -> Iterator[Clash]:
    for one, other in combinations(kept, 2):
        for pair in not_together(one.classes, other.classes):
            yield Clash(shelf, one.material, other.material, pair.why, pair.source)


def _with_the_place(shelf: str, place: StoragePlace | None, kept: Sequence[KeptMaterial]) -> Iterator[Clash]:
    if place is None:
        return
    for one in kept:
        if place.ignition:
            for pair in not_together(one.classes, [IGNITION]):
                yield Clash(shelf, one.material, None, f"A source of ignition is near. {pair.why}", pair.source)
        warmest = one.safety.keep_below_c if one.safety else None
        if warmest is not None and place.warmest_c is not None and place.warmest_c > warmest:
            why = f"It gets {place.warmest_c.normalize():f} °C there; keep it below {warmest.normalize():f} °C."
            yield Clash(shelf, one.material, None, why, "entered by the shop")


class Wrong(NamedTuple):
    """Why one material stands wrong, and beside what; nothing beside it where the place itself is the trouble."""

    why: str
    others: list[Material]


class AtHand(NamedTuple):
    """What is said of one material wherever it is handled."""

    kept: KeptMaterial
    apart: list[Apart]
    wrong: list[Wrong]


def at_hand(material: Material) -> AtHand:
    """One material's classes, limit, newest sheet, what it must not meet, and what stands wrong with it.

    Three queries.
    """
    here = Material.objects.filter(Q(pk=material.pk) | Q(shelf=material.shelf, retired_at=None))
    rows = list(here.with_stock().select_related("safety").order_by("kind", "name"))
    sheet = DataSheet.objects.newest().filter(material=material).first()
    kept = [_kept(row, sheet if row.pk == material.pk else None) for row in rows]
    own = next(one for one in kept if one.material.pk == material.pk)
    shelf = _shelf(material.shelf, StoragePlace.objects.filter(name=material.shelf).first(), kept)
    beside: dict[str, list[Material]] = {}
    for clash in shelf.clashes:
        if material in (clash.material, clash.other):
            others = beside.setdefault(clash.why, [])
            others += [one for one in (clash.material, clash.other) if clash.other and one and one != material]
    return AtHand(own, pairs_of(own.classes), [Wrong(why, others) for why, others in beside.items()])
