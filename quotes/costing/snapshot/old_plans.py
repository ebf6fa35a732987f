"""Plans of before a dose stood apart: its sentence is in their instruction. Read here alone, never written.

The sentences are as they were written then, word for word; how a dose is said today does not touch them. This is the
one place where words are searched, and only those of plans whose mixes do not say for which temperature they are told.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from quotes.costing.snapshot.mixes import PlannedMix

POLYESTER = "{}{:.0f} g resin + {:.1f} g catalyst ({:.1f} mL, about {} drops), gels in {:.0f} to {:.0f} min."
EPOXY = "{}{:.0f} g resin + {:.0f} g hardener by weight, pot life {:.0f} to {:.0f} min."
FOAM = "{} pour{} of {:.0f} g ({:.0f} mL): {:.0f} g A + {:.0f} g B, stir"
FOAM_BY_WEIGHT = "{} pour{} of {:.0f} g: {:.0f} g A + {:.0f} g B, stir"  # the first ones said no millilitres
SHEET_COMES_FIRST = " The product's safety data sheet and local rules come first."


def without_doses(instruction: str, mixes: Iterable[PlannedMix]) -> str:
    """Instruction less the sentences that told the doses of these mixes; as it is where all of them stand apart."""
    old = [mix for mix in mixes if mix.dose_in_words]
    for mix in old:
        said, instead = _sentence(mix)
        instruction = instruction.replace(said, instead, 1) if said else instruction
    return " ".join(instruction.split()) if old else instruction


def _sentence(mix: PlannedMix) -> tuple[str, str]:
    """Sentence in which a mix was told, and what stays of it."""
    many, gel = f"{mix.count} mixes, each " if mix.count > 1 else "", mix.gel_min or (0, 0)
    if mix.system == "polyester":
        return POLYESTER.format(many, mix.resin_g, mix.catalyst_g, mix.catalyst_ml, mix.drops, *gel), ""
    if mix.system == "epoxy":
        return EPOXY.format(many, mix.resin_g, mix.hardener_g, *gel), ""
    if mix.system == "pour foam":
        pours = mix.count, "s" * (mix.count > 1)
        if mix.liquid_ml is None:
            return FOAM_BY_WEIGHT.format(*pours, mix.resin_g, mix.part_a_g, mix.part_b_g), "Stir"
        return FOAM.format(*pours, mix.resin_g, mix.liquid_ml, mix.part_a_g, mix.part_b_g), "Stir"
    return "", ""


def without_sheet(cautions: Sequence[str]) -> tuple[str, ...]:
    """Cautions less the sentence that stands once below all of them."""
    return tuple(caution.removesuffix(SHEET_COMES_FIRST) for caution in cautions)
