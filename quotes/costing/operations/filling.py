"""Thickened filler: resin with hollow microspheres, milled fibre or silica.

Paste for a void: V × (1 + k); density by mass fractions 1/ρ = (1 − w)/ρ_resin + w/ρ_filler, less the air stirred in.
"""

from __future__ import annotations

import math

from quotes.costing.basis import sources
from quotes.costing.basis.cautions import MICROSPHERES
from quotes.costing.basis.constants import practice, published
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import TIMES, choice, material, number, place
from quotes.costing.steps import curing, mix_words, mixing
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Work

FILL_EXCESS = practice("fill_excess", 0.25, 0.10, 0.50, "1", "filler mixed over the void, faired off later")
FILL_SHARE = practice("fill_filler_share", 0.15, 0.08, 0.30, "1", "filler in the paste, by weight")
FILL_AIR = practice("fill_air", 0.04, 0.02, 0.08, "1", "air stirred into the paste, by volume")
SPHERES_DENSITY = published(
    "microspheres_density", 250, 150, 600, "kg/m3", "true density of hollow glass microspheres",
    source=sources.BUBBLES, data_sheet=True)  # fmt: skip
FILL_FACTOR = practice("fill_factor", 1.1, 0.9, 1.6, "1", "filler really mixed over planned")
FILL_LIFT = practice("fill_lift_mm", 10, 6, 15, "mm", "deepest lift of paste: it heats itself")
FILL_AT_ONCE = practice("fill_at_once_ml", 60, 40, 100, "mL", "hole that is filled in one lift however deep it is")
FILL_BETWEEN = practice("fill_between_lifts_min", 20, 15, 40, "min", "between two lifts, till it no longer warms")
FILL_MIX = practice("fill_min_per_mix", 5, 3, 10, "min", "mix one batch of filler")
FILL_PER_50 = practice("fill_min_per_50_cm2", 3, 2, 6, "min/50 cm2", "spread filler")
FILL_SANDED = practice("fill_sanded_share", 0.3, 0.15, 0.45, "1", "share of filler sanded off again")


def paste_density(resin_kg_m3: float, filler_kg_m3: float, share: float, air: float = 0.0) -> float:
    """Density of a paste in kg/m³: 1/ρ = (1 − w)/ρ_resin + w/ρ_filler, then less the air by volume.

    `share` w is by weight and `air` by volume, 0 to 1. Volumes of the parts add up; no source.
    """
    return (1.0 - air) / ((1.0 - share) / resin_kg_m3 + share / filler_kg_m3)


def lifts_needed(depth_mm: float, volume_ml: float, lift_mm: float, at_once_ml: float) -> int:
    """Number of lifts of paste into one hole: one where it is small (mL) or shallow (mm), else by depth of a lift.

    Common practice, no source.
    """
    return 1 if volume_ml <= at_once_ml else max(1, math.ceil(depth_mm / lift_mm - 1e-9))


class Fill(Operation):
    """Fill a void with resin thickened by microspheres or fibre."""

    key = "fill"
    name = "Thickened filler"
    meets = "coat"
    session = "fill or foam"
    settings = (
        place(),
        TIMES,
        choice("system", "resin system", "by board", mixing.SYSTEMS),
        material("filler", "filler", "microspheres", "filler"),
        number("share", "filler in the paste by weight", FILL_SHARE, "1", 0, 0.6),
        number("excess", "mixed over the void", FILL_EXCESS, "1", 0, 2),
        number("catalyst_percent", "catalyst (0: by temperature)", 0, "percent", 0, 10),
    )

    def work(self, at: Bench) -> Work:
        """Resin and filler by weight; minutes per mix and by area; weight left after fairing."""
        hole, times = at.place(), at.number("times")
        system = mixing.system_for(at.words("system"), at.board)
        filler, share = at.words("filler"), at.number("share")
        resin_density = at[mixing.POLYESTER_CURED if system == "polyester" else mixing.EPOXY_DENSITY]
        true = at.material(filler).known.get("density_kg_m3") or at[SPHERES_DENSITY]
        density = paste_density(resin_density, true, share, at[FILL_AIR])
        volume = hole.volume_ml * times * (1.0 + at.number("excess"))
        paste = volume * density / 1000.0
        lifts = lifts_needed(hole.depth_mm, hole.volume_ml, at[FILL_LIFT], at[FILL_AT_ONCE])
        work = at.work("Fill with thickened resin")
        formula = Words("{:.0f} mL of paste at {:.0f} kg/m³", volume, density)
        mixed = mixing.mix(
            at,
            work,
            system,
            paste * (1.0 - share),
            Words("{}, {:.0%} resin", formula, 1 - share),
            FILL_FACTOR,
            percent=at.number("catalyst_percent"),
            batches=lifts,
        )
        each = mixing.stir_in(at, work, filler, share / (1.0 - share), paste * (1.0 - share),
                              Words("{}, {:.0%} filler", formula, share), FILL_FACTOR)  # fmt: skip
        count = work.mixes[0].count if work.mixes else 0
        area = hole.area_cm2 * times
        further = max(0, count - 1)
        work.takes_minutes(
            at[FILL_MIX] * further + at[FILL_PER_50] * area / 50.0,
            Words(
                "{:g} min for each of {} further mixes + {:g} min per 50 cm² of {:.0f} cm²",
                at[FILL_MIX],
                further,
                at[FILL_PER_50],
                area,
            ),
            set_up=at[FILL_MIX],
        )
        work.weight_g = (
            hole.volume_ml * times * density / 1000.0 * (1.0 + at.number("excess")) * (1.0 - at[FILL_SANDED])
        )
        work.cautions += (MICROSPHERES,)
        work.paste = f"{filler} {share:g}"
        if mixed:
            work.wait = curing.cure(at, system, waxed=True)
            work.pause_h = (lifts - 1) * at[FILL_BETWEEN] / 60.0
            work.instruction = Words(
                "{}{} lift{}, pressed in, slightly proud.",
                mix_words.stirred_words(each, "filler"),
                count,
                "s" * (count > 1),
            )
        return work
