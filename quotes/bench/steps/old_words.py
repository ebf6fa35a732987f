"""Plans of jobs agreed before a dose stood apart: its sentence is in their instruction. Read here, never written.

The sentences are as they were written then, word for word; how a dose is said today does not touch them. A mix that
says for which temperature it is told (`told_for_c`) belongs to a plan whose instruction has no dose.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

POLYESTER = "{}{:.0f} g resin + {:.1f} g catalyst ({:.1f} mL, about {} drops), gels in {:.0f} to {:.0f} min."
EPOXY = "{}{:.0f} g resin + {:.0f} g hardener by weight, pot life {:.0f} to {:.0f} min."
FOAM = "{} pour{} of {:.0f} g ({:.0f} mL): {:.0f} g A + {:.0f} g B, stir"
SHEET_COMES_FIRST = " The product's safety data sheet and local rules come first."


def without_doses(instruction: str, mixes: Iterable[Mapping[str, Any]]) -> str:
    """An old plan's instruction less the sentences that told its doses."""
    for mix in mixes:
        if "told_for_c" not in mix:
            said, instead = _sentence(mix)
            instruction = instruction.replace(said, instead, 1) if said else instruction
    return " ".join(instruction.split())


def _sentence(mix: Mapping[str, Any]) -> tuple[str, str]:
    """What a mix was told in, and what stays of it."""
    count, system = mix.get("count") or 1, mix.get("system")
    many = f"{count} mixes, each " if count > 1 else ""
    gel = mix.get("gel_min") or [0, 0]
    if system == "polyester":
        figures = [mix[name] for name in ("resin_g", "catalyst_g", "catalyst_ml", "drops")]
        return POLYESTER.format(many, *figures, *gel), ""
    if system == "epoxy":
        return EPOXY.format(many, mix["resin_g"], mix["hardener_g"], *gel), ""
    if system == "pour foam":
        figures = [mix[name] for name in ("resin_g", "liquid_ml", "part_a_g", "part_b_g")]
        return FOAM.format(count, "s" * (count > 1), *figures), "Stir"
    return "", ""


def without_sheet(caution: str) -> str:
    """An old plan's caution less the sentence that stands once below all of them."""
    return caution.removesuffix(SHEET_COMES_FIRST)
