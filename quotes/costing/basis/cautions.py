"""The usual cautions, one sentence each. They never overrule a product's safety data sheet or local codes.

That the data sheet rules is said once below all of them, by whoever shows them.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

SHEET_RULES = "The product's safety data sheet and local rules come first."
STYRENE = "Styrene vapour burns and harms: ventilate, organic-vapour mask, no flame."
PEROXIDE = "MEKP blinds and can ignite: goggles and gloves; never near acetone, metal or rags."
EPOXY_SKIN = "Epoxy sensitises skin: gloves, sleeves, no solvent on skin."
ISOCYANATE = "Foam liquid holds isocyanate: ventilate, gloves, mask; once sensitised, stop for good."
FOAM_HEAT = "A big foam batch heats itself and may smoke: keep to the batch size, pour in layers."
DUST = "Glass and foam dust: FFP3 mask, extraction, goggles; wet where possible."
CUTTER = "The cutter kicks: clamp the jig, both hands, goggles and ear protection."
CLEAR_ISOCYANATE = "Two-pack clear holds isocyanate: air-fed mask only, nobody else in the room."
SPRAY_MIST = "Spray mist and solvent burn: booth or open air, spray mask, no flame."
CYANOACRYLATE = "Cyanoacrylate bonds skin at once and its vapour stings: goggles, no leaning over."
MICROSPHERES = "Microspheres float in the air: mask on before the tin is opened; stir in after the hardener."
EPS_HEAT = "EPS softens: keep everything below 50 °C."
SOLVENT = "Acetone lights at a spark: lidded metal can for rags; left-over resin outdoors in water."
BLADE = "Fresh blade, cut away from the hand."
RATIO = "Weigh by the label; the ratio is never changed to change the speed."

# What each is about and what to put on or keep away, for a line on the bench once the whole was read. Where what is
# told names no remedy that fits a word, the danger alone stands.
IN_SHORT: dict[str, tuple[str, tuple[str, ...]]] = {
    STYRENE: ("styrene vapour", ("organic-vapour mask", "no flame")),
    PEROXIDE: ("MEKP", ("goggles", "gloves")),
    EPOXY_SKIN: ("epoxy on skin", ("gloves", "sleeves")),
    ISOCYANATE: ("isocyanate", ("air moving", "mask", "gloves")),
    FOAM_HEAT: ("foam heats itself", ()),
    DUST: ("dust", ("FFP3 mask", "extraction", "goggles")),
    CUTTER: ("the cutter kicks", ("both hands", "goggles", "ear protection")),
    CLEAR_ISOCYANATE: ("isocyanate in the clear", ("air-fed mask", "nobody else in the room")),
    SPRAY_MIST: ("spray mist", ("spray mask", "no flame")),
    CYANOACRYLATE: ("cyanoacrylate", ("goggles",)),
    MICROSPHERES: ("microspheres", ("mask on before the tin is opened",)),
    EPS_HEAT: ("EPS softens", ("below 50 °C",)),
    SOLVENT: ("acetone", ("no spark", "lidded can")),
    BLADE: ("fresh blade", ("away from the hand",)),
    RATIO: ("weigh by the label", ()),
}


def in_short(cautions: Iterable[str]) -> str:
    """Cautions in one line: the dangers, then what protects against them, each once; empty for none.

    A sentence that is not one of ours is said up to its first full stop.
    """
    dangers: list[str] = []
    remedies: list[str] = []
    for text in cautions:
        danger, remedy = IN_SHORT.get(text) or (re.split(r"[:;.](?:\s|$)", text, maxsplit=1)[0], ())
        dangers.append(danger)
        remedies += remedy
    said = ", ".join(dict.fromkeys(dangers))
    worn = ", ".join(dict.fromkeys(remedies))
    return (said[:1].upper() + said[1:]) + (f": {worn}" if worn else "")
