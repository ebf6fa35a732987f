"""Two-part PU pour foam into a dammed pocket.

Mass mixed = density × volume × (1 + overfill) / yield + what each pour leaves in its cup. The density is the foam's own
(free rise). A pour as it is mixed, with the shop's usage factor and the cup's loss, is no larger than the safe batch,
and no deeper than one layer; more is split into pours, and the next waits until the one below no longer warms.
"""

from __future__ import annotations

import math

from quotes.costing.basis import sources
from quotes.costing.basis.cautions import EPS_HEAT, FOAM_HEAT, ISOCYANATE
from quotes.costing.basis.constants import derived, practice, published
from quotes.costing.basis.going_off import Slowed, Wait
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import TIMES, material, number, place
from quotes.costing.parts.refusals import FOAM_SAFE_EPS, too_hot
from quotes.costing.snapshot import PlannedMix, Remedy
from quotes.costing.steps import curing, mixing
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Gap, Work

FOAM_DENSITY = practice(
    "foam_density", 56, 32, 96, "kg/m3", "usual pour foam in a routed pocket: 32 to 64, deep ones in layers"
)
FOAM_LIQUID = published(
    "foam_liquid_density", 1198, 1160, 1230, "kg/m3", "both foam liquids (10 lb/US gal)", source=sources.FOAM_MAKER)  # fmt: skip
FOAM_OVERFILL = practice("foam_overfill", 0.20, 0.10, 0.35, "1", "overfill of a dammed pocket")
FOAM_YIELD = derived(
    "foam_yield", 0.80, 0.67, 0.86, "1", "real expansion over ideal, 24 °C and warmer",
    source="25 to 30 times at 32 kg/m³ against 37 times ideal: " + sources.FOAM_TIPS)  # fmt: skip
FOAM_YIELD_COLD = practice("foam_yield_cold", 0.74, 0.60, 0.80, "1", "the same below 24 °C")
FOAM_WARM = published(
    "foam_warm_c", 24, 21, 27, "degC", "from here on foam rises as it should", source=sources.FOAM_TIPS, data_sheet=True)  # fmt: skip
FOAM_COLD = practice("foam_cold_c", 18, 15, 20, "degC", "below this foam cures longer")
FOAM_TOUCH = practice("foam_touch_h", 1.0, 0.3, 2, "h", "poured foam until it may be touched")
FOAM_FACTOR = practice("foam_factor", 1.05, 0.9, 1.5, "1", "foam really mixed over planned")
FOAM_LOSS = practice("foam_cup_loss_g", 10, 5, 25, "g", "what one pour leaves in cup and stick")
FOAM_LEAST = practice("foam_least_mix_g", 20, 10, 30, "g", "smallest foam mix that can be metered")
FOAM_SAFE = practice("foam_safe_batch_g", 250, 200, 300, "g", "largest pour that does not overheat")
FOAM_BETWEEN = practice("foam_between_min", 20, 15, 40, "min", "between pours into one hole, till it no longer warms")
FOAM_LAYER = published(
    "foam_layer_mm", 25, 20, 40, "mm", "deepest layer poured at once", source=sources.FOAM_POUR, data_sheet=True)  # fmt: skip
FOAM_SET_UP = practice("foam_set_up_min", 6, 4, 12, "min", "dam, tape and weigh out")
FOAM_PER_POUR = practice("foam_min_per_pour", 4, 2, 8, "min", "stir, pour, watch it rise")
FOAM_WAIT = published(
    "foam_wait_hours", 24, 2, 48, "h", "pour foam until it is cut or glassed: earlier work shrinks under new glass",
    source=sources.FOAM_BOX, data_sheet=True)  # fmt: skip
FOAM_CREAM = published(
    "foam_cream_min", 0.6, 0.5, 0.8, "min", "from stirring to the rise, 20 °C",
    source="a boatbuilding supplier's pour-foam page (36 ± 4 s); working 45 s: " + sources.FOAM_TIPS, data_sheet=True)  # fmt: skip
FOAM_WAIT_COLD = practice("foam_wait_cold_hours", 24, 0, 48, "h", "longer below 18 °C by")
DAM_TAPE = practice("dam_tape_factor", 1.2, 1.0, 2.0, "1", "dam tape really used over the perimeter")


def foam_mass_g(volume_ml: float, density_kg_m3: float, overfill: float, yield_: float) -> float:
    """Mixed foam in g for a hole in mL, without cup loss: ρ × V × (1 + k) / η; ρ in kg/m³, k and η are shares."""
    return volume_ml * density_kg_m3 / 1000.0 * (1.0 + overfill) / yield_


def pours_needed(mass_g: float, depth_mm: float, safe_g: float, layer_mm: float) -> int:
    """Number of pours of foam into one hole, none over the safe batch (both in g) or a layer (mm) deep.

    The safe batch is that of what comes out of the cup: less what stays in it.
    """
    return max(1, math.ceil(mass_g / safe_g - 1e-9), math.ceil(depth_mm / layer_mm - 1e-9)) if mass_g > 0 else 0


class PourFoam(Operation):
    """Fill a dammed pocket with pour foam."""

    key = "pour-foam"
    always_puts = ("pour foam",)
    name = "Pour foam"
    meets = "touch"
    session = "fill or foam"
    settings = (
        place(),
        TIMES,
        material("foam", "foam", "foam-56", "foam"),
        number("overfill", "overfill", FOAM_OVERFILL, "1", 0, 3),
        number("pours", "pours (0: as many as are needed)", 0, "piece", 0, 20),
    )

    def work(self, at: Bench) -> Work:
        """Foam for the hole, its cups and dam; minutes per pour; 24 h before it is cut."""
        hole, times, foam = at.place(), at.number("times"), at.words("foam")
        density = at.fact(foam, "free_rise_kg_m3")
        floor = at.warm_enough("pour foam", at.material(foam).facts) if hole.volume_ml * times else 0.0
        warm = at.temperature_c >= at[FOAM_WARM]
        share = at[FOAM_YIELD if warm else FOAM_YIELD_COLD]
        one = foam_mass_g(hole.volume_ml, density, at.number("overfill"), share)
        loss = at.lost(FOAM_LOSS, foam)
        expected = one * at.factor(foam, FOAM_FACTOR).value
        pours = _pours(at, expected, loss, hole.depth_mm)
        count = int(pours * times)
        work = at.work("Pour foam")
        net = one * times
        if net > 0:
            formula = Words(
                "{:g} kg/m³ × {:.0f} mL × {:g} overfill / {:g} yield at {:g} °C",
                density,
                hole.volume_ml * times,
                1 + at.number("overfill"),
                share,
                at.temperature_c,
            )
            work.take(foam, net, "g", formula, FOAM_FACTOR, mixes=count, loss=loss, least=at[FOAM_LEAST] * count)
            mixed = max(at[FOAM_LEAST], expected / pours + loss)
            part_a, part_b = mixing.parts(mixed, *_ratio(at, foam))
            one_pour = PlannedMix(
                system="pour foam", resin=foam, resin_g=mixed, part_a_g=part_a, part_b_g=part_b,
                liquid_ml=mixed * 1000.0 / at[FOAM_LIQUID], gel_min=at.ends(FOAM_CREAM), count=count,
                told_for_c=at.temperature_c, floor_c=floor,
            )  # fmt: skip
            work.mixes += (one_pour,)
            work.cups(count, "one for each pour")
            mixing.resin_sundries(at, work)
            tape = hole.perimeter_mm / 1000.0 * times
            work.take("tape-masking", tape, "m", Words("perimeter {:.2f} m for the dam", tape), DAM_TAPE)
            work.vapour = True
            between = "{:g} min between pours into one hole, till it no longer warms. " if pours > 1 else ""
            work.instruction = Words(
                "Stir 20 s, pour at once. " + between + "Dam the edge, let it rise proud.", at[FOAM_BETWEEN]
            )
            work.pause_h = (pours - 1) * at[FOAM_BETWEEN] / 60.0
        work.takes_minutes(
            at[FOAM_PER_POUR] * count,
            Words("{:g} min for each of {} pours", at[FOAM_PER_POUR], count),
            set_up=at[FOAM_SET_UP],
        )
        work.weight_g = hole.volume_ml * times * density / 1000.0
        work.cautions = (ISOCYANATE, FOAM_HEAT)
        light, heavy = at.ends(FOAM_DENSITY)
        if not light <= density <= heavy:
            work.cautions += (f"{density:g} kg/m³ is unusual for a pocket ({light:g} to {heavy:g}).",)
        if at.board.soft_foam:
            work.cautions += (EPS_HEAT,)
        work.wait = self._wait(at) if net > 0 else Wait()
        return work

    def _wait(self, at: Bench) -> Wait:
        """Until it may be touched, and cut: longer in the cold."""
        usual = at[FOAM_WAIT]
        cut = [Slowed(usual, at[FOAM_COLD], 1.0, at[FOAM_COLD], usual + at[FOAM_WAIT_COLD])]
        return curing.waiting(at, coat_h=cut, cut_h=cut)._replace(touch_h=min(usual, at[FOAM_TOUCH]))


def _ratio(at: Bench, foam: str) -> tuple[float, float]:
    facts = at.material(foam).facts
    return facts.get("ratio_a") or 1.0, facts.get("ratio_b") or 1.0


def _pours(at: Bench, expected_g: float, loss_g: float, depth_mm: float) -> int:
    """Number of pours for one hole, each with its cup's loss within the safe batch.

    Raises Gap where too few are asked for.
    """
    if expected_g <= 0:
        return 0
    eps = at.board.soft_foam
    safe, least = at[FOAM_SAFE_EPS if eps else FOAM_SAFE], at[FOAM_LEAST]
    if max(loss_g, least) >= safe:
        text = (f"The largest pour that does not overheat is {safe:g} g, but {loss_g:g} g of each stay in the cup and "
                f"{least:g} g is the smallest that can be metered: put these figures right under Shop.")  # fmt: skip
        raise Gap(at.problem("constants", text, Remedy("shop", "constants")))
    needed = pours_needed(expected_g, depth_mm, safe - loss_g, at[FOAM_LAYER])
    asked = int(at.number("pours"))
    hot = (
        too_hot(expected_g / asked + loss_g, at.board, safe, f"so {needed} pours, or glue in a block of foam.")
        if asked
        else None
    )
    if hot:
        raise Gap(at.problem(hot.setting, hot.text, "pours"))
    return max(needed, asked)
