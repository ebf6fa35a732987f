"""Classes of what can hurt on the shelf, and which must not stand together. PURE: words and pairs, no rows.

This reminds; it does not overrule. A product's safety data sheet, local rules and licensed practice come first, and
what is missing here is not therefore harmless.
Sources, named beside each pair: International Chemical Safety Card (ICSC) 1028, methyl ethyl ketone peroxide; HSE
Guidance Note CS21, The storage and handling of organic peroxides; TM 38-410, Storage and Handling of Hazardous
Materials, on organic peroxides; NIOSH Pocket Guide to Chemical Hazards, styrene.
"""

from __future__ import annotations

from collections.abc import Collection
from typing import NamedTuple

COMES_FIRST = "The product’s safety data sheet, local rules and licensed practice come first."


class Hazard(NamedTuple):
    """A class: what it is called, how it is usually kept, and where that is from."""

    key: str
    name: str
    keep: str
    source: str


class Apart(NamedTuple):
    """Two classes that must not stand together, and why."""

    first: str
    second: str
    why: str
    source: str


IGNITION = "ignition"  # a place with a source of ignition; not a class of a material
PRACTICE = "common practice, no source"

HAZARDS = {
    hazard.key: hazard
    for hazard in (
        Hazard(
            "peroxide",
            "Organic peroxide",
            "In its own box, cool and shaded, in the bottle it came in with its vented cap; no more than the work needs.",
            "HSE Guidance Note CS21",
        ),
        Hazard(
            "promoter",
            "Promoter or accelerator",
            "Away from peroxide, and never weighed with the same tools.",
            "HSE Guidance Note CS21",
        ),
        Hazard(
            "base",
            "Acid, alkali or amine",
            "Closed and upright, in a tray of its own.",
            PRACTICE,
        ),
        Hazard(
            "flammable",
            "Flammable liquid",
            "Closed, in a metal cupboard with no source of ignition near; rags in a lidded metal can.",
            PRACTICE,
        ),
        Hazard(
            "isocyanate",
            "Isocyanate",
            "Dry and closed: moisture builds pressure in the can.",
            "from memory",
        ),
        Hazard(
            "sensitiser",
            "Skin sensitiser",
            "Closed, with gloves beside it.",
            PRACTICE,
        ),
        Hazard("dust", "Harmful dust", "Closed, so that nothing floats when it is taken out.", PRACTICE),
    )
}

APART = (
    Apart(
        "peroxide",
        "promoter",
        "Peroxide and promoter that meet undiluted can explode.",
        "HSE Guidance Note CS21; TM 38-410",
    ),
    Apart(
        "peroxide",
        "flammable",
        "Peroxide feeds a fire, and acetone is named as a thing that it must not meet.",
        "TM 38-410",
    ),
    Apart(
        "peroxide",
        "base",
        "Peroxide can burn or explode on contact with acids, alkalis and amines.",
        "ICSC 1028; HSE Guidance Note CS21",
    ),
    Apart("peroxide", IGNITION, "Peroxide must not be near open flame or hot surfaces.", "ICSC 1028"),
    Apart(
        "flammable",
        IGNITION,
        "Vapour creeps to a spark: styrene can catch fire from 31 °C, acetone far below.",
        "NIOSH Pocket Guide, styrene; acetone from memory",
    ),
)


def known(classes: Collection[str]) -> list[Hazard]:
    """The classes of a material, in the order they stand here; words nobody knows are left out."""
    return [hazard for key, hazard in HAZARDS.items() if key in classes]


def not_together(first: Collection[str], second: Collection[str]) -> list[Apart]:
    """Why things of these classes must not stand together; empty: nothing is known against it."""
    return [
        pair
        for pair in APART
        if (pair.first in first and pair.second in second) or (pair.second in first and pair.first in second)
    ]


def pairs_of(classes: Collection[str]) -> list[Apart]:
    """What things of these classes must be kept apart from."""
    return [pair for pair in APART if pair.first in classes or pair.second in classes]
