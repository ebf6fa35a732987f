"""Glass-on fins: tack one, rope its base, patch its sides.

Ropes: length = fins × 2 sides × strands × (base + 2 × overrun), glass = length × tex, resin = glass × r. The strands
fill the corner between fin and board: k × tex / ρ_glass = Vf × (1 − π/4) × R², so strands and fillet radius R give each
other.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from quotes.costing.basis.cautions import CYANOACRYLATE
from quotes.costing.basis.constants import practice
from quotes.costing.basis.going_off import Wait
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.places import Ellipse, Fin
from quotes.costing.basis.setting import TIMES, choice, cloths, material, number, place
from quotes.costing.operations.laminating import (
    GLASS_DENSITY,
    RESIN_FACTOR,
    RESIN_TO_GLASS,
    fibre_fraction,
    kept_share,
    wet_out_g,
)  # fmt: skip
from quotes.costing.parts.inputs import Construction, CoreMaterial
from quotes.costing.parts.refusals import Stuff
from quotes.costing.steps import curing, mix_words, mixing
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Gap, Work

TACK_RESIN = practice("tack_resin_g", 12, 5, 25, "g", "resin to tack one fin")
TACK_CHOP = practice("tack_chopped_g", 1, 0.5, 3, "g", "chopped strand to tack one fin")
TACK_GLUE = practice("tack_glue_g", 1.5, 1, 2, "g", "cyanoacrylate gel to tack one fin")
TACK_MINUTES = practice("tack_min_per_fin", 12, 8, 20, "min", "tack one fin, toe and cant checked")
TACK_WAIT = practice("tack_wait_h", 0.6, 0.35, 1.0, "h", "polyester tack until the tape comes off")
TACK_WAIT_GLUE = practice("tack_wait_glue_h", 0.1, 0.03, 0.2, "h", "cyanoacrylate tack until the tape comes off")
STRANDS = practice("rope_strands_per_side", 15, 6, 20, "piece", "strands of roving on one side of a fin")
OVERRUN = practice("rope_overrun_mm", 25, 15, 50, "mm", "rope past the base at each end, kept dry and cut off")
ROPE_RESIN = practice("rope_resin_to_glass", 1.5, 1.2, 2.5, "1", "resin over glass in ropes; wrung by hand about 1.2")
ROPE_FIBRE = practice("rope_fibre_fraction", 0.40, 0.35, 0.45, "1", "share of glass in a rope fillet, by volume")
ROPE_FACTOR = practice("rope_factor", 1.1, 1.0, 1.5, "1", "roving really cut over planned")
ROPE_RESIN_FACTOR = practice("rope_resin_factor", 1.15, 0.95, 1.7, "1", "rope resin really mixed over planned")
ROPE_MINUTES = practice("rope_min_per_side", 4, 3, 8, "min", "rope one side of a fin")
PATCH_UP = practice("patch_up_fin", 0.35, 0.30, 0.40, "1", "side patch up the fin, as a share of its height")
PATCH_REACH = practice("patch_reach_mm", 75, 40, 100, "mm", "side patch onto the board")
PATCH_OVERLAP = practice("patch_overlap_mm", 10, 0, 30, "mm", "side patch past the base at each end")
PATCH_CUT = practice("patch_cloth_factor", 1.30, 1.15, 1.6, "1", "patch cloth off the roll over patch area")
PATCH_MINUTES = practice("patch_min_per_side", 8, 5, 15, "min", "patch one side of a fin")

TACK_KEPT = practice("tack_kept", 0.5, 0.3, 0.9, "1", "share of the tacking resin that stays under the fin")
STAY_TAPE = practice("stay_tape_per_height", 4, 3, 8, "1", "tape to hold a fin upright, over its height")


def rope_length_m(fins: float, strands: float, base_mm: float, overrun_mm: float) -> float:
    """Length of strand in m: fins × 2 sides × strands × (base + 2 × overrun), the latter two in mm. Plane geometry."""
    return fins * 2.0 * strands * (base_mm + 2.0 * overrun_mm) / 1000.0


def rope_glass_g(length_m: float, tex: float) -> float:
    """Glass in g: length in m × tex (g/km)."""
    return length_m * tex / 1000.0


def fillet_radius_mm(strands: float, tex: float, fibre_fraction: float, glass_kg_m3: float) -> float:
    """Radius in mm of the fillet that so many strands fill: √(k × tex/ρ / (Vf × (1 − π/4))).

    Plane geometry: a fillet of radius R fills (1 − π/4) R² of the corner.
    """
    glass_mm2 = strands * tex / glass_kg_m3  # g/km over kg/m³ is mm²
    return math.sqrt(glass_mm2 / (fibre_fraction * (1.0 - math.pi / 4.0)))


def strands_for_fillet(radius_mm: float, tex: float, fibre_fraction: float, glass_kg_m3: float) -> int:
    """Number of strands a side that fill a fillet of this radius in mm, rounded up."""
    return math.ceil(fibre_fraction * (1.0 - math.pi / 4.0) * radius_mm**2 * glass_kg_m3 / tex - 1e-9)


def patch_oval(base_mm: float, up_mm: float, reach_mm: float, overlap_mm: float) -> Ellipse:
    """Oval of one side patch, all in mm: up the fin and out onto the board, along the base and past it."""
    return Ellipse(up_mm + reach_mm + overlap_mm, base_mm + 2.0 * overlap_mm) if base_mm else Ellipse(0.0, 0.0)


def fin_at(at: Bench, name: str = "fin") -> Fin:
    """Fin that a step works on. Raises Gap if the place is of another shape."""
    found = at.place(name)
    if not isinstance(found, Fin):
        text = f"{at.words(name)} is no fin: a place of the shape “fin” is wanted."
        raise Gap(at.problem(name, text, name))
    return found


class TackFin(Operation):
    """Stand a fin on its marks with a little resin or glue."""

    key = "tack-fin"
    on_skin = True
    name = "Tack a fin"
    session = "fill or foam"
    bonds = True
    settings = (
        place("fin", "the fin"),
        TIMES,
        choice("glue", "tack with", "resin", ("resin", "cyanoacrylate")),
        choice("system", "resin system", "by board", mixing.SYSTEMS),
        material("fin_material", "the fin itself (empty: made here or the customer's)", "", "hardware"),
        number("resin_g", "resin for one fin", TACK_RESIN, "g", 0, 100),
    )

    def puts(
        self, told: Mapping[str, Any], board: Construction, materials: Mapping[str, CoreMaterial]
    ) -> tuple[Stuff, ...]:
        """Stuff of the glue, or of the resin."""
        return ("cyanoacrylate",) if told["glue"] == "cyanoacrylate" else super().puts(told, board, materials)

    def work(self, at: Bench) -> Work:
        """Resin and chopped strand, or glue; tape; minutes per fin; a short wait."""
        fins, fin = at.number("times"), fin_at(at)
        system = mixing.system_for(at.words("system"), at.board)
        work = at.work("Tack the fin" if fins == 1 else "Tack the fins")
        glued = at.words("glue") == "cyanoacrylate"
        if glued:
            work.take("ca-glue", at[TACK_GLUE] * fins, "g", Words("{:g} g for each of {:g} fins", at[TACK_GLUE], fins))
            work.cautions = (CYANOACRYLATE,)
        else:
            each = at.number("resin_g")
            mixing.mix(at, work, system, each * fins, Words("{:g} g for each of {:g} fins", each, fins))
            chop = mixing.stir_in(at, work, "chopped-strand", at[TACK_CHOP] / at[TACK_RESIN], each * fins,
                                  Words("{:g} g to {:g} g of resin", at[TACK_CHOP], at[TACK_RESIN]))  # fmt: skip
            work.weight_g = each * fins * at[TACK_KEPT]
        fin_key = at.words("fin_material")
        if fin_key:
            work.pieces(fin_key, fins, Words("{:g} fins", fins))
            work.weight_g += fins * at.fact(fin_key, "weight_g")
        work.take(
            "tape-masking",
            at[STAY_TAPE] * fin.height_mm / 1000.0 * fins,
            "m",
            Words("stays for each of {:g} fins", fins),
        )
        work.takes_minutes(at[TACK_MINUTES] * fins, Words("{:g} min for each of {:g} fins", at[TACK_MINUTES], fins))
        if fins:
            work.wait = _tacked(at, system, glued)
            first = f"{at[TACK_GLUE]:g} g gel a fin. " if glued else mix_words.stirred_words(chop, "chopped strand")
            work.instruction = Words(
                "{}Tape upright from both sides, check centre, toe and cant, tape off when it is set.", first
            )
        return work


def _tacked(at: Bench, system: curing.System, glued: bool) -> Wait:
    """Until the tape comes off: glue and polyester in their own time, epoxy when it no longer sticks."""
    if glued or system == "polyester":
        hours = at[TACK_WAIT_GLUE if glued else TACK_WAIT]
        return Wait(hours, hours, hours)
    until = [one for name, one in curing.cure(at, system).slowed if name == "touch_h"]
    return curing.waiting(at, coat_h=until, cut_h=until, touch_h=until)


class RopeFin(Operation):
    """Lay ropes of roving along both sides of a fin's base."""

    key = "rope-fin"
    on_skin = True
    name = "Rope a fin"
    meets = "coat"
    session = "laminate"
    settings = (
        place("fin", "the fin"),
        TIMES,
        number("strands", "strands a side", STRANDS, "piece", 0, 60),
        number("overrun_mm", "past the base at each end", OVERRUN, "mm", 0, 200),
        number("fillet_mm", "wanted fillet radius (0: as the strands give)", 0, "mm", 0, 40),
        number("resin_to_glass", "resin over glass by weight", ROPE_RESIN, "1", 0.5, 4),
        material("roving", "roving", "roving", "roving"),
        choice("system", "resin system", "by board", mixing.SYSTEMS),
    )

    def work(self, at: Bench) -> Work:
        """Roving by strands and base, resin by glass; minutes per side; radius and strands both said."""
        fin, fins, roving = fin_at(at), at.number("times"), at.words("roving")
        tex = at.fact(roving, "tex")
        system = mixing.system_for(at.words("system"), at.board)
        fibre, density = at[ROPE_FIBRE], at[GLASS_DENSITY]
        wanted = at.number("fillet_mm")
        strands = strands_for_fillet(wanted, tex, fibre, density) if wanted else at.number("strands")
        length = rope_length_m(fins, strands, fin.base_mm, at.number("overrun_mm")) if fin.base_mm else 0.0
        glass, ratio = rope_glass_g(length, tex), at.number("resin_to_glass")
        work = at.work("Rope the fin's base" if fins == 1 else "Rope the fins' bases")
        work.take(
            roving,
            length,
            "m",
            Words(
                "{:g} fins × 2 sides × {:g} strands × ({:.0f} + 2 × {:g}) mm",
                fins,
                strands,
                fin.base_mm,
                at.number("overrun_mm"),
            ),
            ROPE_FACTOR,
        )
        mixing.mix(at, work, system, glass * ratio, Words("{:.1f} g of roving × {:g}", glass, ratio), ROPE_RESIN_FACTOR)
        sides = 2.0 * fins
        work.takes_minutes(at[ROPE_MINUTES] * sides, Words("{:g} min for each of {:g} sides", at[ROPE_MINUTES], sides))
        if work.mixes:
            on_base = fin.base_mm / (fin.base_mm + 2.0 * at.number("overrun_mm"))
            work.weight_g = glass * on_base * (1.0 + ratio * kept_share(at, system))
            work.wait = curing.cure(at, system)
            radius = fillet_radius_mm(strands, tex, fibre, density)
            cured = at[mixing.POLYESTER_CURED if system == "polyester" else mixing.EPOXY_DENSITY]
            work.instruction = Words(
                "{:g} strands a side, {:.0f} mm long, ends dry; fillet about {:.0f} mm. Dipped {:.0%} glass "
                "by volume; wring to about {:.0%}.",
                strands,
                fin.base_mm + 2 * at.number("overrun_mm"),
                radius,
                fibre_fraction(ratio, density / cured),
                fibre,
            )
        return work


class FinPatches(Operation):
    """Patches up both sides of a fin and out onto the board, while the ropes still take them."""

    key = "fin-patches"
    on_skin = True
    name = "Fin-side patches"
    meets = "coat"
    session = "laminate"
    settings = (
        place("fin", "the fin"),
        TIMES,
        cloths("cloth on each side"),
        number("up", "up the fin, share of its height", PATCH_UP, "1", 0, 1),
        number("reach_mm", "onto the board", PATCH_REACH, "mm", 0, 200),
        number("overlap_mm", "past the base at each end", PATCH_OVERLAP, "mm", 0, 100),
        number("resin_to_glass", "resin over glass by weight", RESIN_TO_GLASS, "1", 0.5, 4),
        choice("system", "resin system", "by board", mixing.SYSTEMS),
    )

    def work(self, at: Bench) -> Work:
        """Cloth for both sides and all plies, resin by glass; minutes per side."""
        fin, fins, plies = fin_at(at), at.number("times"), at.many("plies")
        system = mixing.system_for(at.words("system"), at.board)
        oval = patch_oval(fin.base_mm, fin.height_mm * at.number("up"), at.number("reach_mm"), at.number("overlap_mm"))
        area = oval.area_m2 * 2.0 * fins
        work = at.work("Patch the fin's sides" if fins == 1 else "Patch the fins' sides")
        glass = 0.0
        for key in dict.fromkeys(plies):
            many = plies.count(key)
            glass += area * many * at.fact(key, "areal_weight_g_m2")
            work.take(
                key,
                area * many,
                "m2",
                Words("{:g} fins × 2 sides × {} × oval {}", fins, many, oval.size_words),
                PATCH_CUT,
            )
            work.cut(key, oval, many * 2.0 * fins)
        ratio = at.number("resin_to_glass")
        mixing.mix(
            at, work, system, wet_out_g(glass, ratio), Words("{:.1f} g of glass × {:g}", glass, ratio), RESIN_FACTOR
        )
        sides = 2.0 * fins
        work.takes_minutes(
            at[PATCH_MINUTES] * sides, Words("{:g} min for each of {:g} sides", at[PATCH_MINUTES], sides)
        )
        if work.mixes:
            work.weight_g = glass + wet_out_g(glass, ratio) * kept_share(at, system)
            work.wait = curing.cure(at, system)
            work.instruction = Words(
                "{} a side, oval {}, {:.0f} mm up the fin.",
                len(plies),
                oval.size_words,
                fin.height_mm * at.number("up"),
            )
        return work
