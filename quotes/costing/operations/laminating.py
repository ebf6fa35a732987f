"""Laminate plies of cloth: each ply larger than the one below, resin by weight of glass, the foam side drinks more.

Cloth: Σ area of plies; resin: Σ area × weight × r (+ what bare foam drinks). Squeegee excess and cut waste are usage
factors; what stays in the cup is a constant per mix.
"""

from __future__ import annotations

from quotes.costing.basis import sources
from quotes.costing.basis.constants import Constant, practice, published
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.places import Place
from quotes.costing.basis.setting import ONTO, TIMES, choice, cloths, number, place
from quotes.costing.steps import curing, mixing
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Work

OVERLAP = published(
    "laminate_overlap_mm", 25, 12, 50, "mm", "first ply past the damage on each side", source=sources.DING_GUIDE,
    data_sheet=True)  # fmt: skip
OVERLAP_STEP = practice("laminate_overlap_step_mm", 10, 6, 25, "mm", "each next ply larger on each side")
RESIN_TO_GLASS = practice(
    "laminate_resin_to_glass", 1.2, 1.0, 1.6, "1", "resin over glass by weight, hand lay-up on cloth"
)
RESIN_FACTOR = published(
    "laminate_resin_factor", 1.15, 0.95, 1.6, "1", "resin really mixed over the laminate's own",
    source=sources.EPOXY_AMOUNT + " (15 % waste); the range is common practice", data_sheet=True)  # fmt: skip
FOAM_DRINKS = practice("foam_drinks_g_m2", 100, 50, 150, "g/m2", "resin that bare PU foam drinks")
EPS_DRINKS = practice("eps_drinks_g_m2", 200, 100, 250, "g/m2", "resin that bare EPS drinks")
CUT_ODD = practice("cloth_factor_odd", 1.25, 1.10, 1.50, "1", "cloth off the roll over ply area, ovals and odd shapes")
CUT_SQUARE = practice("cloth_factor_rectangle", 1.10, 1.03, 1.25, "1", "cloth off the roll over ply area, rectangles")
LAMINATE_SET_UP = practice("laminate_set_up_min", 10, 6, 20, "min", "cut cloth, tape off, mix")
LAMINATE_PER_PLY = practice("laminate_min_per_ply", 4, 2, 8, "min", "lay one ply down")
LAMINATE_PER_1000 = practice("laminate_min_per_1000_cm2", 6, 4, 12, "min/1000 cm2", "wet out and squeegee a ply")
STYRENE = published(
    "styrene_percent", 35, 31, 49, "percent", "styrene in laminating polyester, by weight",
    source=sources.STYRENE_RULE, data_sheet=True)  # fmt: skip
GLASS_DENSITY = published("glass_density", 2540, 2540, 2600, "kg/m3", "E-glass", source=sources.COMPOSITES)


def ply_areas(place: Place, plies: int, first_mm: float, step_mm: float) -> list[float]:
    """Area of each ply in m²; ply i reaches first + i × step mm past the place on every side."""
    return [place.grown(first_mm + i * step_mm).area_m2 for i in range(plies)]


def wet_out_g(glass_g: float, resin_to_glass: float) -> float:
    """Resin in g that so many g of glass take: glass × r. At r = 1 the laminate is half resin (FAA AC 43.13-1B)."""
    return glass_g * resin_to_glass


def ply_thickness_mm(areal_g_m2: float, resin_to_glass: float, glass_kg_m3: float, resin_kg_m3: float) -> float:
    """Thickness of a ply in mm: Aw/ρf + Aw × r/ρm, Aw in g/m² and densities in kg/m³. Plane geometry."""
    return areal_g_m2 / glass_kg_m3 + areal_g_m2 * resin_to_glass / resin_kg_m3


def styrene_kg_per_tonne(styrene_percent: float) -> float:
    """Styrene lost from brushed or rolled resin, in kg per tonne.

    0.014 × HAP%^2.275 (40 CFR 63 subpart VVVV, table 3).
    """
    return float(0.014 * styrene_percent**2.275)


def kept_share(at: Bench, system: str) -> float:
    """Share of the resin that stays on the board: polyester loses styrene, epoxy nothing."""
    return 1.0 - styrene_kg_per_tonne(at[STYRENE]) / 1000.0 if system == "polyester" else 1.0


def glass_share(resin_to_glass: float) -> float:
    """Share of glass in a laminate by weight: 1/(1 + r). At r = 1 it is half (FAA AC 43.13-1B, chapter 3, para 3-3)."""
    return 1.0 / (1.0 + resin_to_glass)


def fibre_fraction(resin_to_glass: float, density_ratio: float) -> float:
    """Share of glass in a laminate by volume: 1/(1 + r × ρ_fibre/ρ_resin).

    “Composites theory”, a web page on fibre fractions and densities.
    """
    return 1.0 / (1.0 + resin_to_glass * density_ratio)


def cut_factor(place: Place) -> Constant:
    """Trade default of cloth off the roll over ply area, by the place's shape."""
    return CUT_ODD if place.odd else CUT_SQUARE


class Laminate(Operation):
    """Lay plies of cloth over a place."""

    key = "laminate"
    closes = True
    on_skin = True
    name = "Laminate"
    meets = "coat"
    session = "laminate"
    settings = (
        place(),
        TIMES,
        cloths("cloth, from the foam up"),
        choice("system", "resin system", "by board", mixing.SYSTEMS),
        ONTO,
        number("overlap_mm", "first ply past the damage", OVERLAP, "mm", 0, 300),
        number("overlap_step_mm", "each next ply larger", OVERLAP_STEP, "mm", 0, 100),
        number("resin_to_glass", "resin over glass by weight", RESIN_TO_GLASS, "1", 0.5, 4),
        choice("over", "what lies under it", "foam", ("foam", "glass")),
        number("catalyst_percent", "catalyst (0: by temperature)", 0, "percent", 0, 10),
    )

    def work(self, at: Bench) -> Work:
        """Cloth by ply, resin by glass, a mix's consumables; minutes per ply and area; the next coat's window."""
        spot, times, plies = at.place(), at.number("times"), at.many("plies")
        system = mixing.system_for(at.words("system"), at.board)
        first, step = at.number("overlap_mm"), at.number("overlap_step_mm")
        areas = ply_areas(spot, len(plies), first, step)
        work = at.work(f"Laminate {len(plies)} × cloth" if len(plies) > 1 else "Laminate one cloth")
        glass, area = _cloth(at, work, plies, areas, times, cut_factor(spot))
        outlines = [spot.grown(first + i * step) for i in range(len(plies))]
        for key, outline in zip(plies, outlines, strict=True):
            work.cut(key, outline, times)
        ratio = at.number("resin_to_glass")
        resin = wet_out_g(glass, ratio)
        formula = Words("{:.1f} g of glass × {:g}", glass, ratio)
        if at.words("over") == "foam" and areas and glass:
            drink = at[FOAM_DRINKS if at.board.core == "pu" else EPS_DRINKS]
            resin += spot.area_m2 * times * drink
            formula = Words("{} + {:g} g/m² that bare foam drinks", formula, drink)
        mixing.mix(at, work, system, resin, formula, RESIN_FACTOR, percent=at.number("catalyst_percent"))
        set_up, per_ply, per_area = at[LAMINATE_SET_UP], at[LAMINATE_PER_PLY], at[LAMINATE_PER_1000]
        work.takes_minutes(
            times * per_ply * len(plies) + per_area * area * 10.0,
            Words(
                "{:g} min for each of {:g} plies + {:g} min per 1000 cm² of {:.0f} cm²",
                per_ply,
                len(plies) * times,
                per_area,
                area * 10_000,
            ),
            set_up=set_up,
        )
        if work.mixes:
            work.weight_g = glass + resin * kept_share(at, system)
            work.wait = curing.cure(at, system)
            sizes = ", ".join(
                f"{at.material(key).name} {outline.size_words}" for key, outline in zip(plies, outlines, strict=True)
            )
            cured = at[mixing.POLYESTER_CURED if system == "polyester" else mixing.EPOXY_DENSITY]
            areal = glass / area if area else 0.0  # of a mean ply
            thick = len(plies) * ply_thickness_mm(areal, ratio, at[GLASS_DENSITY], cured)
            work.instruction = Words(
                "Cut {}. Wet from the middle out, squeegee dry: {:.1f} mm, {:.0%} glass by weight.",
                sizes,
                thick,
                glass_share(ratio),
            )
        return work


def _cloth(
    at: Bench, work: Work, plies: tuple[str, ...], areas: list[float], times: float, factor: Constant
) -> tuple[float, float]:
    """Glass in g and ply area in m² of all plies, whose cloth is put into the step, one need for each kind."""
    by_kind: dict[str, list[float]] = {}
    for key, area in zip(plies, areas, strict=True):
        by_kind.setdefault(key, []).append(area * times)
    glass = 0.0
    for key, parts in by_kind.items():
        total = sum(parts)
        glass += total * at.fact(key, "areal_weight_g_m2")
        words = " + ".join(f"{part:.4f}" for part in parts)
        work.take(key, total, "m2", Words("plies of {} m²", words), factor)
    return glass, sum(areas) * times
