"""Taking away: rout a pocket, cut a damage back to sound glass, level a filled place, trim overhang."""

from __future__ import annotations

from quotes.costing.basis import sources
from quotes.costing.basis.cautions import BLADE, CUTTER, DUST
from quotes.costing.basis.constants import Constant, practice, published
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.places import Place
from quotes.costing.basis.setting import TIMES, choice, number, place
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Work

ROUT_SET_UP = practice("rout_set_up_min", 10, 6, 20, "min", "set up jig and router")
ROUT_PER_100_CM2 = practice("rout_min_per_100_cm2", 3, 1.8, 6, "min/100 cm2", "cutting per footprint")
ROUT_PER_10_MM = practice("rout_min_per_10_mm", 2, 1.2, 4, "min/10 mm", "cutting per depth")
SAW_SET_UP = practice("hole_saw_set_up_min", 4, 2, 8, "min", "set up a hole saw")
SAW_PER_10_MM = practice("hole_saw_min_per_10_mm", 1, 0.5, 2, "min/10 mm", "bore with a hole saw, per depth")
OLD_BOX = practice("old_box_density", 850, 650, 1200, "kg/m3", "an old box with the resin round it, as it is cut out")
BIT_FACTOR = practice("router_bit_factor", 1.0, 0.4, 3.0, "1", "router bits really used over planned")
ROUT_MINUTES = practice("rout_minutes_factor", 1.0, 0.6, 2.0, "1", "real minutes of cutting over standard")
ROUT_MARGIN = practice("rout_margin_mm", 10, 5, 15, "mm", "cut this far past the damage on each side")
BIT_SHARE = practice("router_bit_share", 0.05, 0.02, 0.15, "piece", "share of a router bit for one pocket")
CUT_DISC_M2 = practice("cut_disc_m2", 0.05, 0.02, 0.15, "m2", "glass one coarse disc cuts back")
LEAST_PIECE = practice(
    "least_abrasive_piece", 0.25, 0.1, 1, "piece", "least part of a disc or sheet that a board takes of a grit"
)
CUT_DISC_FACTOR = practice("cut_disc_factor", 1.0, 0.4, 2.0, "1", "coarse discs really used over planned")
GUIDE_TAPE = practice("guide_tape_factor", 1.1, 1.0, 1.4, "1", "tape really used over the perimeter")
SKIN_MM = practice("skin_mm", 0.5, 0.25, 1.0, "mm", "thickness of the old glass")
SKIN_DENSITY = practice("skin_density", 1600, 1400, 1800, "kg/m3", "density of old glass and resin")
SCARF = published(
    "scarf_times_thickness", 50, 50, 50, "1", "taper of a scarf over the skin's thickness", source=sources.FAA
)
CORE_PU = practice("core_density_pu", 45, 35, 60, "kg/m3", "density of a PU blank")
CORE_EPS = published(
    "core_density_eps", 18.4, 14.4, 28.8, "kg/m3", "density of an EPS blank, types I to IX",
    source=sources.EPS_TYPES, data_sheet=True)  # fmt: skip
CORE_OTHER = practice("core_density_other", 100, 30, 300, "kg/m3", "density of wood and hollow cores, over all")
CUT_BACK_PER_100 = practice("cut_back_min_per_100_cm2", 5, 3, 10, "min/100 cm2", "cut back and bevel by disc")
CUT_BACK_SET_UP = practice("cut_back_set_up_min", 6, 4, 12, "min", "set up to cut back")
LEVEL_SET_UP = practice("level_set_up_min", 4, 2, 8, "min", "set up to level")
LEVEL_PER_100 = practice("level_min_per_100_cm2", 5, 3, 10, "min/100 cm2", "trim a filled place flush")
TRIM_PER_SIDE = practice("trim_min_per_side", 2, 1, 4, "min", "trim one side at gel")
BLADE_FACTOR = practice("trim_blade_factor", 1.0, 0.4, 2.0, "1", "blades really used over planned")
BLADE_SHARE = practice("trim_blade_share", 0.25, 0.1, 0.5, "piece", "share of a blade for one side")

CORE_DENSITY: dict[str, Constant] = {"pu": CORE_PU, "eps": CORE_EPS, "xps": CORE_EPS, "unknown": CORE_EPS}


def core_density(at: Bench) -> float:
    """Density of this board's foam in kg/m³."""
    return at[CORE_DENSITY.get(at.board.core, CORE_OTHER)]


def scarf_mm(skin_mm: float, times: float) -> float:
    """Width of a bevel in mm: so many times the thickness of the skin (FAA AC 43.13-1B: 50)."""
    return skin_mm * times


def removed_g(at: Bench, skin_cm2: float, foam_ml: float) -> float:
    """Weight taken away in g: A × t × ρ of the old glass + V × ρ of the foam. Plane geometry."""
    return skin_cm2 * at[SKIN_MM] / 10.0 * at[SKIN_DENSITY] / 1000.0 + foam_ml * core_density(at) / 1000.0


def _coarse_disc(at: Bench, work: Work, m2: float) -> None:
    words = Words("{:.3f} m² over {:g} m² a disc", m2, at[CUT_DISC_M2])
    work.share("disc-p80", m2 / at[CUT_DISC_M2], "piece", words, CUT_DISC_FACTOR, least=at[LEAST_PIECE])


class Rout(Operation):
    """Rout a pocket of a simple shape to its full depth."""

    key = "rout"
    opens = True
    name = "Rout a pocket"
    meets = "cut"
    session = "cut back"
    settings = (
        place(),
        TIMES,
        number("margin_mm", "cut past the damage by", ROUT_MARGIN, "mm", 0, 100),
        choice("tool", "cut with", "router", ("router", "hole saw")),
        choice("holds", "what is cut out", "foam", ("foam", "old box")),
    )

    def work(self, at: Bench) -> Work:
        """Minutes by footprint and depth; a share of a bit, a coarse disc, tape for the guide; weight removed."""
        spot, times = at.place(), at.number("times")
        hole = spot.grown(at.number("margin_mm"))
        work = at.work("Rout out to sound foam")
        _rout(at, work, hole, times)
        if at.words("tool") == "hole saw":
            work.instruction = Words(
                "Hole saw to {}, square to the face, no deeper than the plug wants.", hole.hole_words
            )
        else:
            work.instruction = Words(
                "Pocket {}, straight walls, no more than is damaged. Clamp the guide: it slides on a finished board.",
                hole.hole_words,
            )
        return work


def _rout(at: Bench, work: Work, hole: Place, times: float) -> None:
    """Put minutes, wear of tools, tape and the weight removed into a step."""
    area, perimeter = hole.area_cm2 * times, hole.perimeter_mm / 1000.0 * times
    routed = at.words("tool") == "router"
    deep = at[ROUT_PER_10_MM if routed else SAW_PER_10_MM]
    work.takes_minutes(
        times * (at[ROUT_PER_100_CM2] * hole.area_cm2 / 100.0 + deep * hole.depth_mm / 10.0),
        Words(
            "{:g} × ({:g} min per 100 cm² of {:.0f} cm² + {:g} min per 10 mm of {:.0f} mm)",
            times,
            at[ROUT_PER_100_CM2],
            hole.area_cm2,
            deep,
            hole.depth_mm,
        ),
        ROUT_MINUTES,
        set_up=at[ROUT_SET_UP if routed else SAW_SET_UP],
    )
    if routed:
        share = at[BIT_SHARE] * times if area else 0.0
        work.share("router-bit", share, "piece", "share of a bit for each pocket", BIT_FACTOR)
        work.take("tape-masking", perimeter, "m", Words("perimeter {:.2f} m for the guide", perimeter), GUIDE_TAPE)
    _coarse_disc(at, work, area / 10_000.0)
    volume = hole.volume_ml * times
    if at.words("holds") == "old box":
        work.weight_g = -removed_g(at, area, 0.0) - volume * at[OLD_BOX] / 1000.0
    else:
        work.weight_g = -removed_g(at, area, volume)
    work.dust = True
    work.cautions = (CUTTER, DUST)


class CutBack(Operation):
    """Cut loose glass away, grind to sound edges and bevel them."""

    key = "cut-back"
    opens = True
    name = "Cut back and bevel"
    meets = "cut"
    session = "cut back"
    settings = (
        place(),
        TIMES,
        number("skin_mm", "thickness of the old glass", SKIN_MM, "mm", 0, 10),
        number("scarf", "bevel over thickness", SCARF, "1", 0, 100),
    )

    def work(self, at: Bench) -> Work:
        """Minutes by the bevelled area; coarse discs; weight of the damaged glass and crushed foam."""
        spot, times = at.place(), at.number("times")
        bevel = scarf_mm(at.number("skin_mm"), at.number("scarf"))
        ground = spot.grown(bevel)
        area = ground.area_cm2 * times
        work = at.work("Cut back to sound glass and bevel")
        work.takes_minutes(
            at[CUT_BACK_PER_100] * area / 100.0,
            Words("{:g} min per 100 cm² of {:.0f} cm²", at[CUT_BACK_PER_100], area),
            ROUT_MINUTES,
            set_up=at[CUT_BACK_SET_UP],
        )
        _coarse_disc(at, work, area / 10_000.0)
        work.weight_g = -removed_g(at, spot.area_cm2 * times, spot.volume_ml * times)
        work.dust = True
        work.cautions = (DUST,)
        work.instruction = Words(
            "Loose glass and crushed foam out; bevel {:.0f} mm round the edge, {} in all. Blow out, no "
            "solvent on foam.",
            bevel,
            ground.size_words,
        )
        return work


class Level(Operation):
    """Trim and sand a filled place flush before it is glassed."""

    key = "level"
    name = "Level the fill"
    meets = "cut"
    session = "machine sanding"
    settings = (place(), TIMES)

    def work(self, at: Bench) -> Work:
        """Minutes by area; discs."""
        area = at.place().area_cm2 * at.number("times")
        work = at.work("Level the fill flush")
        work.takes_minutes(
            at[LEVEL_PER_100] * area / 100.0,
            Words("{:g} min per 100 cm² of {:.0f} cm²", at[LEVEL_PER_100], area),
            set_up=at[LEVEL_SET_UP],
        )
        _coarse_disc(at, work, area / 10_000.0)
        work.dust = True
        work.cautions = (DUST,)
        work.instruction = "Saw or plane proud foam, then P80 on a block to the old line, a hair low for the glass."
        return work


class Trim(Operation):
    """Trim patches and rope ends with a blade while the resin is firm but not hard: in the sitting of its laminate."""

    key = "trim"
    name = "Trim at gel"
    meets = "gel"
    settings = (TIMES, number("sides", "sides of each", 2, "piece", 1, 2))

    def work(self, at: Bench) -> Work:
        """Minutes and a share of a blade per side."""
        sides = at.number("times") * at.number("sides")
        work = at.work("Trim at firm gel")
        work.takes_minutes(
            at[TRIM_PER_SIDE] * sides, Words("{:g} min for each of {:g} sides", at[TRIM_PER_SIDE], sides)
        )
        words = Words("share of a blade for each of {:g} sides", sides)
        work.share("blade", at[BLADE_SHARE] * sides, "piece", words, BLADE_FACTOR)
        work.cautions = (BLADE,)
        work.instruction = "When it cuts like leather: patch edges and dry rope ends off in one pass; do not lift."
        return work
