"""Make a fin: lay up a panel, cut the outline out of it, foil it by hand."""

from __future__ import annotations

import math

from quotes.costing.basis.cautions import DUST
from quotes.costing.basis.constants import memory, practice
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.places import Rectangle
from quotes.costing.basis.setting import TIMES, choice, material, number, place
from quotes.costing.operations.cutting import LEAST_PIECE
from quotes.costing.operations.fins import fin_at
from quotes.costing.operations.laminating import (
    GLASS_DENSITY,
    RESIN_FACTOR,
    RESIN_TO_GLASS,
    kept_share,
    ply_thickness_mm,
    wet_out_g,
)
from quotes.costing.steps import curing, mixing
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Work

PANEL_SET_UP = practice("panel_set_up_min", 15, 10, 30, "min", "set up a fin panel lay-up")
PANEL_PER_PLY = practice("panel_min_per_ply", 1.5, 1, 3, "min", "wet out one ply of a fin panel")
FIN_CUT = practice("fin_cut_min", 12, 8, 20, "min", "cut one fin from the panel")
FIN_FOIL = practice("fin_foil_min_per_100_cm2", 18, 10, 30, "min/100 cm2", "foil one fin, both sides")
FIN_BORDER = practice("fin_border_mm", 15, 10, 30, "mm", "panel past the fin's outline on each side")
FIN_DISCS = practice("fin_disc_m2", 0.02, 0.01, 0.05, "m2", "fin area one coarse disc foils")
FIN_DISC_FACTOR = practice("fin_disc_factor", 1.0, 0.5, 2.0, "1", "foiling discs really used over planned")
FOIL_KEEPS = memory("foil_keeps", 0.65, 0.55, 0.8, "1", "share of a panel left in a foiled fin")


def panel_plies(thickness_mm: float, ply_mm: float) -> int:
    """Number of plies that make a panel at least so many mm thick."""
    return math.ceil(thickness_mm / ply_mm - 1e-9)


class MakeFin(Operation):
    """Lay up a panel, cut a fin out of it and foil it."""

    key = "make-fin"
    off_board = True
    name = "Make a fin"
    session = "laminate"
    settings = (
        place("fin", "the fin"),
        TIMES,
        material("cloth", "cloth", "cloth-6oz", "cloth"),
        number("thickness_mm", "panel thickness", 8.5, "mm", 1, 25),
        choice("system", "resin system", "polyester", ("polyester", "epoxy")),
    )

    def work(self, at: Bench) -> Work:
        """Cloth and resin for the panel; minutes to lay up, cut and foil; coarse discs."""
        fin, times, cloth = fin_at(at), at.number("times"), at.words("cloth")
        system: curing.System = "polyester" if at.words("system") == "polyester" else "epoxy"
        areal = at.fact(cloth, "areal_weight_g_m2")
        ratio = at[RESIN_TO_GLASS]
        cured = at[mixing.POLYESTER_CURED if system == "polyester" else mixing.EPOXY_DENSITY]
        thick = at.number("thickness_mm")
        plies = panel_plies(thick, ply_thickness_mm(areal, ratio, at[GLASS_DENSITY], cured))
        border = 2.0 * at[FIN_BORDER]
        sheet = (fin.base_mm + border) * (fin.height_mm + border) / 1e6 * times if fin.base_mm else 0.0
        work = at.work("Make the fin panel, cut and foil")
        glass = sheet * plies * areal
        work.take(cloth, sheet * plies, "m2", Words("{} plies of {:.4f} m²", plies, sheet))
        if fin.base_mm:
            work.cut(cloth, Rectangle(fin.base_mm + border, fin.height_mm + border), plies * times)
        mixing.mix(
            at, work, system, wet_out_g(glass, ratio), Words("{:.0f} g of glass × {:g}", glass, ratio), RESIN_FACTOR
        )
        area = fin.area_cm2 * times
        per_ply, foil = at[PANEL_PER_PLY], at[FIN_FOIL]
        work.takes_minutes(
            per_ply * plies * (times > 0) + at[FIN_CUT] * times + foil * area / 100.0,
            Words(
                "{:g} min for each of {} plies + {:g} min to cut each of {:g} + {:g} min per 100 cm² of {:.0f} cm²",
                per_ply,
                plies,
                at[FIN_CUT],
                times,
                foil,
                area,
            ),
            set_up=at[PANEL_SET_UP],
        )
        discs = 2 * area / 10_000.0 / at[FIN_DISCS]
        work.share("disc-p80", discs, "piece", "both sides over the life of a disc", FIN_DISC_FACTOR,
                   least=at[LEAST_PIECE])  # fmt: skip
        work.dust = True
        work.cautions += (DUST,)
        solid = area / 10_000.0 * plies * areal * (1.0 + ratio * kept_share(at, system))
        work.weight_g = solid * at[FOIL_KEEPS]
        work.wait = curing.cure(at, system) if work.mixes else work.wait
        work.instruction = Words(
            "{} plies for {:g} mm, flat under weight overnight; cut to the template; foil by hand.", plies, thick
        )
        return work
