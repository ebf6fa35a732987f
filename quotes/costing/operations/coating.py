"""Hot coat (fills the weave, can be sanded) and gloss coat (thin, shines).

Mass = area × density × film thickness; squeegee and drip excess is a usage factor. Polyester takes wax in styrene by
volume, or its paper clogs; a waxed coat takes no other before it is sanded.
"""

from __future__ import annotations

from typing import ClassVar

from quotes.costing.basis import sources
from quotes.costing.basis.constants import Constant, derived, practice, published
from quotes.costing.basis.going_off import Wait
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import ONTO, SIDES, TIMES, choice, number, place
from quotes.costing.operations.laminating import kept_share
from quotes.costing.operations.open_faces import OpenFace
from quotes.costing.steps import curing, mix_words, mixing
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Work

HOT_FILM = practice("hot_coat_film_mm", 0.25, 0.18, 0.35, "mm", "film of a brushed polyester hot coat")
HOT_EPOXY = derived(
    "hot_coat_epoxy_g_m2", 102, 78, 217, "g/m2", "one rolled epoxy fill coat without its waste",
    source="117 g/m² less the 15 % waste in it, which the usage factor has: " + sources.EPOXY_AMOUNT)  # fmt: skip
GLOSS_FILM = practice("gloss_film_mm", 0.15, 0.11, 0.22, "mm", "film of a gloss coat")
HOT_SANDED = practice("hot_coat_sanded_share", 0.4, 0.2, 0.6, "1", "share of a hot coat sanded off again")
GLOSS_SANDED = practice("gloss_sanded_share", 0.1, 0.05, 0.2, "1", "share of a gloss coat rubbed off again")
COAT_FACTOR = practice("coat_factor", 1.15, 0.95, 1.6, "1", "coating resin really mixed over planned")
WAX_PERCENT = published(
    "wax_percent", 3.0, 1.5, 5.0, "percent", "wax in styrene by volume of resin", source=sources.WAX_SUPPLIER,
    data_sheet=True)  # fmt: skip
HOT_EXTRA = practice(
    "hot_coat_extra_percent", 0.3, 0.0, 0.5, "percent", "more catalyst in a hot coat than in a laminate"
)
HOT_SET_UP = practice("hot_coat_set_up_min", 6, 4, 12, "min", "mix and brush up for a hot coat")
HOT_PER_1000 = practice("hot_coat_min_per_1000_cm2", 3, 2, 6, "min/1000 cm2", "brush out a hot coat")
GLOSS_SET_UP = practice("gloss_set_up_min", 8, 5, 15, "min", "dust off, strain and mix for a gloss coat")
GLOSS_PER_1000 = practice("gloss_min_per_1000_cm2", 4, 3, 8, "min/1000 cm2", "brush out a gloss coat")
GLOSS_HOURS = practice("gloss_hours", 12, 6, 24, "h", "gloss coat until it is wet sanded")
COAT_OPEN = practice("coat_open_min_per_1000_cm2", 1.2, 0.8, 2.5, "min/1000 cm2", "brush out a coat on an open face")
FILM_MOST = 2.0  # mm; a thicker film is a pour, not a coat (limit of the setting)


def film_g(area_m2: float, film_mm: float, density_kg_m3: float) -> float:
    """Weight of a film in g: area (m²) × thickness (mm) × density (kg/m³). Plane geometry."""
    return area_m2 * film_mm * density_kg_m3


def wax_ml(resin_g: float, percent: float, resin_kg_m3: float) -> float:
    """Wax solution in mL: so many per cent of the resin's volume (an additive supplier's dosing page)."""
    return percent / 100.0 * resin_g * 1000.0 / resin_kg_m3


class _Coat(Operation):
    """A brushed coat over a place; the two kinds differ in film, wax, minutes and waiting."""

    meets = "coat"
    session = "coat"
    sand_first = True
    waxed: ClassVar[bool] = True
    resin: ClassVar[dict[str, str]] = mixing.LAMINATING
    extra: ClassVar[Constant | None] = None
    film: ClassVar[Constant]
    set_up: ClassVar[Constant]
    per_1000: ClassVar[Constant]
    sanded: ClassVar[Constant]
    title: ClassVar[str]
    words: ClassVar[str]

    def work(self, at: Bench) -> Work:
        """Resin by film and area, wax for polyester; minutes; the wait until it is sanded."""
        spot, layers = at.place(), at.faces() * at.number("coats")
        area = spot.area_m2 * layers
        system = mixing.system_for(at.words("system"), at.board)
        work = at.work(self.title)
        coats, density = at.number("coats"), at[mixing.POLYESTER_DENSITY]
        film = at.number("film_mm")
        if system == "epoxy" and self.waxed and not film:
            grams = area * at[HOT_EPOXY]
            formula = Words("{:.4f} m² × {:g} g/m²", area, at[HOT_EPOXY])
        else:
            film = film or at[self.film]
            density = density if system == "polyester" else at[mixing.EPOXY_DENSITY]
            grams = film_g(area, film, density)
            formula = Words("{:.4f} m² × {:g} mm × {:g} kg/m³", area, film, density)
        key = self.resin[system]
        mixed = mixing.mix(at, work, system, grams, formula, COAT_FACTOR, resin=key, percent=at.number("catalyst_percent"),
                           extra_percent=at[self.extra] if self.extra else 0.0, batches=int(coats), brush=True)  # fmt: skip
        if mixed and system == "polyester" and self.waxed:
            percent = at.number("wax_percent")
            wax = mixing.stir_in(at, work, "wax-styrene", wax_ml(1.0, percent, density), grams,
                                 Words("{:g} % by volume of the resin", percent), COAT_FACTOR, "mL")  # fmt: skip
        by_face = OpenFace(at, spot.area_cm2)
        work.takes_minutes(
            layers * by_face.minutes(at[self.per_1000], at[COAT_OPEN]),
            Words("{:g} × {}", layers, by_face.words(at[self.per_1000], at[COAT_OPEN])),
            set_up=at[self.set_up] * max(1.0, coats),
        )
        if mixed:
            work.weight_g = grams * kept_share(at, system) * (1.0 - at[self.sanded])
            work.wait = self.wait(at, system)
            waxed = mix_words.wax_words(wax) if system == "polyester" and self.waxed else ""
            work.instruction = Words("{}{}", waxed, self.words)
        return work

    def wait(self, at: Bench, system: curing.System) -> Wait:
        """Wait until it may be sanded."""
        return curing.cure(at, system, waxed=self.waxed)


class HotCoat(_Coat):
    """Lay the coat that fills the weave."""

    key = "hot-coat"
    closes = True
    on_skin = True
    name = "Hot coat"
    title = "Hot coat"
    words = "Brush out thin, tip off one way, tape off when it gels."
    extra = HOT_EXTRA
    film = HOT_FILM
    set_up, per_1000, sanded = HOT_SET_UP, HOT_PER_1000, HOT_SANDED
    settings = (
        place(),
        TIMES,
        SIDES,
        choice("system", "resin system", "by board", mixing.SYSTEMS),
        ONTO,
        number("coats", "coats", 1, "piece", 0, 6),
        number("film_mm", "film (0: as is usual for the resin)", 0, "mm", 0, FILM_MOST),
        number("wax_percent", "wax in styrene by volume", WAX_PERCENT, "percent", 0, 10),
        number("catalyst_percent", "catalyst (0: by temperature)", 0, "percent", 0, 10),
    )


class GlossCoat(_Coat):
    """Lay the thin coat that shines."""

    key = "gloss-coat"
    closes = True
    on_skin = True
    name = "Gloss coat"
    title = "Gloss coat"
    words = "Strain, brush out thin in a dust-free room, tape off when it gels."
    waxed = False
    resin = mixing.GLOSSING
    film = GLOSS_FILM
    set_up, per_1000, sanded = GLOSS_SET_UP, GLOSS_PER_1000, GLOSS_SANDED
    settings = (
        place(),
        TIMES,
        SIDES,
        choice("system", "resin system", "by board", mixing.SYSTEMS),
        ONTO,
        number("coats", "coats", 1, "piece", 0, 6),
        number("film_mm", "film (0: as is usual)", 0, "mm", 0, FILM_MOST),
        number("catalyst_percent", "catalyst (0: by temperature)", 0, "percent", 0, 10),
    )

    def wait(self, at: Bench, system: curing.System) -> Wait:
        """Wait longer than a hot coat's: until it is wet sanded."""
        usual = curing.cure(at, system, waxed=True)
        longer = curing.slowing(at, at[GLOSS_HOURS])
        cut = max(usual.cut_h, longer.hours_at(at.temperature_c))
        return usual._replace(cut_h=cut, slowed=(*usual.slowed, ("cut_h", longer)))
