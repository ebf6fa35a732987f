"""Set fin boxes, fin plugs and leash plugs into a routed pocket.

Resin = pocket − insert + what rises to the rim, thickened with fibre for a box. Long boxes are lined with strips of
cloth.
"""

from __future__ import annotations

import math

from quotes.costing.basis.constants import memory, practice
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.places import Place
from quotes.costing.basis.setting import TIMES, choice, material, number, place
from quotes.costing.operations.laminating import CUT_SQUARE
from quotes.costing.parts.inputs import CoreMaterial
from quotes.costing.snapshot import Remedy
from quotes.costing.steps import curing, mix_words, mixing
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Gap, Work

RIM = practice("insert_rim_ml", 4, 1, 10, "mL", "paste that rises round one insert and is ground off")
SET_FIBRE = practice("insert_fibre_share", 0.15, 0.05, 0.30, "1", "milled fibre in the setting paste, by weight")
FIBRE_DENSITY = practice("milled_fibre_density", 2540, 2500, 2600, "kg/m3", "milled glass fibre")
SET_FACTOR = practice("insert_paste_factor", 1.1, 0.9, 1.6, "1", "setting paste really mixed over planned")
SET_UP = practice("insert_set_up_min", 6, 4, 12, "min", "mask up and mix setting paste")
SET_MINUTES = {
    "plug": practice("set_plug_min", 8, 5, 15, "min", "set one plug: mask the slot, dry fit, set"),
    "box": practice("set_box_min", 14, 9, 24, "min", "set one box: mask the slot, dry fit, set"),
    "long box": practice("set_long_box_min", 24, 15, 40, "min", "set one long box, lined"),
}
INSERT_DENSITY = memory(
    "insert_density", 1200, 1050, 1450, "kg/m3", "plastic of a box or plug whose weight is not on file"
)
SET_TAPE = practice("insert_tape_m", 0.6, 0.3, 1.2, "m", "tape over slot, screws and rim of one insert")


def insert_ml(found: CoreMaterial) -> float:
    """Volume in mL of a box (length × width × depth) or a plug (π/4 × D² × depth) from its facts; 0 if not on file."""
    facts = found.facts
    depth = facts.get("depth_mm", 0.0)
    if facts.get("diameter_mm"):
        return math.pi / 4.0 * facts["diameter_mm"] ** 2 * depth / 1000.0
    return facts.get("length_mm", 0.0) * facts.get("width_mm", 0.0) * depth / 1000.0


def fits(found: CoreMaterial, pocket: Place) -> bool:
    """Whether a box or plug goes into a pocket in length, width and depth; it lies along the pocket."""
    return not _wanting(found, pocket)


def _wanting(found: CoreMaterial, pocket: Place) -> list[str]:
    """Words for what keeps a box or plug out of a pocket: 14 mm too short, 1 mm too shallow."""
    facts = found.facts
    across = facts.get("diameter_mm")
    length, width = across or facts.get("length_mm", 0.0), across or facts.get("width_mm", 0.0)
    short = [(length - pocket.length_mm, "too short"), (width - pocket.width_mm, "too narrow"),
             (facts.get("depth_mm", 0.0) - pocket.depth_mm, "too shallow")]  # fmt: skip
    said = [f"{by:.1f}".removesuffix(".0") + f" mm {words}" for by, words in short if by > _TOUCH]
    if not said and pocket.odd and not across:
        # a box in a round or oval hole: its corners must lie inside the ellipse x²/a² + y²/b² = 1
        corner = math.hypot(length / pocket.length_mm, width / pocket.width_mm)
        said = ["too round for its corners"] if corner > 1.0 + 1e-9 else []
    return said


_TOUCH = 0.05  # mm; closer than a tape reads


def size_words(found: CoreMaterial) -> str:
    """Words for the size of a box or plug."""
    facts = found.facts
    if facts.get("diameter_mm"):
        return f"{facts['diameter_mm']:g} mm across and {facts['depth_mm']:g} mm deep"
    return f"{facts['length_mm']:g} × {facts['width_mm']:g} × {facts['depth_mm']:g} mm"


def _no_fit(at: Bench, found: CoreMaterial, pocket: Place) -> str:
    """Sentence on why a box or plug does not fit its pocket, its own size, and what else there is."""
    round_one = bool(found.facts.get("diameter_mm"))
    others = [
        f"“{one.name}” ({size_words(one)})"
        for one in at.shop.materials.values()
        if not one.retired and insert_ml(one) and bool(one.facts.get("diameter_mm")) == round_one and fits(one, pocket)
    ]
    other = f"or choose {' or '.join(others)}, which fits" if others else "no other in the store fits"
    return (f"“{found.name}” is {size_words(found)} and does not fit a pocket of {pocket.hole_words}, which is "
            f"{' and '.join(_wanting(found, pocket))}: measure again, rout it out to that size, {other}.")  # fmt: skip


def setting_ml(pocket_ml: float, insert: float, rim: float) -> float:
    """Paste round one insert in mL: pocket − insert + rim."""
    return pocket_ml - insert + rim


class Install(Operation):
    """Set a box or plug."""

    key = "install"
    name = "Set a box or plug"
    meets = "coat"
    session = "fill or foam"
    settings = (
        place("pocket", "its pocket"),
        TIMES,
        material("insert", "the box or plug", "fin-box", "hardware"),
        choice("kind", "kind", "box", ("plug", "box", "long box")),
        choice("system", "resin system", "by board", mixing.SYSTEMS),
        number("fibre_share", "milled fibre in the paste by weight", SET_FIBRE, "1", 0, 0.5),
        material("liner", "lining cloth (empty: none)", "", "cloth"),
    )

    def work(self, at: Bench) -> Work:
        """Resin and fibre by the gap, the insert, lining, tape; minutes by kind.

        Raises Gap where the insert is not on file or does not fit.
        """
        pocket, times, key, kind = at.place("pocket"), at.number("times"), at.words("insert"), at.words("kind")
        found = at.material(key)
        insert = insert_ml(found)
        if not insert:
            text = f"“{found.name}” has no size: add its length, width and depth, or diameter and depth, in the store."
            raise Gap(at.problem("insert", text, Remedy("material", key)))
        if pocket.volume_ml and not fits(found, pocket):
            raise Gap(at.problem("pocket", _no_fit(at, found, pocket), "insert"))
        system = mixing.system_for(at.words("system"), at.board)
        paste = setting_ml(pocket.volume_ml, insert, at[RIM]) * times if pocket.volume_ml else 0.0
        share = at.number("fibre_share")
        resin_density = at[mixing.POLYESTER_DENSITY if system == "polyester" else mixing.EPOXY_DENSITY]
        grams = paste / ((1.0 - share) / resin_density + share / at[FIBRE_DENSITY]) / 1000.0
        work = at.work(f"Set the {kind}")
        formula = Words(
            "{:g} × (pocket {:.0f} − insert {:.0f} + rim {:g}) mL", times, pocket.volume_ml, insert, at[RIM]
        )
        mixing.mix(
            at,
            work,
            system,
            grams * (1.0 - share),
            Words("{}, {:.0%} resin", formula, 1 - share),
            SET_FACTOR,
        )
        fibre = mixing.stir_in(at, work, "milled-fibre", share / (1.0 - share), grams * (1.0 - share),
                               Words("{}, {:.0%} fibre", formula, share), SET_FACTOR)  # fmt: skip
        work.pieces(key, times, Words("{:g} {}", times, kind))
        liner = at.words("liner")
        if liner:
            strip = (2 * pocket.depth_mm + pocket.width_mm) * pocket.length_mm / 1e6 * times
            work.take(liner, strip, "m2", Words("a strip of {:.4f} m² to line the pocket", strip), CUT_SQUARE)
        work.take(
            "tape-masking", at[SET_TAPE] * times, "m", Words("{:g} m over slot, screws and rim of each", at[SET_TAPE])
        )
        minutes = at[SET_MINUTES[kind]]
        words = Words("{:g} min for each of {:g}", minutes, times)
        work.takes_minutes(minutes * times, words, set_up=at[SET_UP])
        work.paste = f"milled-fibre {share:g}"
        work.weight_g = grams + times * found.facts.get("weight_g", insert * at[INSERT_DENSITY] / 1000.0)
        if work.mixes:
            work.wait = curing.cure(at, system)
            work.instruction = Words(
                "Tape the slot shut, dry fit, mark the depth: a tab deeper than the box will not fit. {}"
                "Set flush, hold square.",
                mix_words.stirred_words(fibre, "fibre"),
            )
        return work
