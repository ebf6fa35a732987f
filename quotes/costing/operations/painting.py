"""Match a colour, spray colour, spray clear, polish.

Paint = area × coats × dry film / (1000 × volume solids) / transfer efficiency + what the gun keeps. Solids of the mix
as sprayed: solids/(1 + thinner). Theory: 1 L at 1 µm and 100 % solids covers 1000 m².
"""

from __future__ import annotations

from typing import ClassVar

from quotes.costing.basis.cautions import CLEAR_ISOCYANATE, DUST, SPRAY_MIST
from quotes.costing.basis.constants import Constant, practice
from quotes.costing.basis.going_off import Wait
from quotes.costing.basis.lazy_words import Text, Words
from quotes.costing.basis.setting import SIDES, TIMES, choice, material, number, place
from quotes.costing.operations.open_faces import OpenFace
from quotes.costing.steps import curing, mix_words
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import ACETONE_FACTOR, GLOVES, Bench, Work

BASE_SOLIDS = practice("basecoat_solids", 0.15, 0.10, 0.25, "1", "volume solids of basecoat")
CLEAR_SOLIDS = practice("clear_solids", 0.42, 0.35, 0.55, "1", "volume solids of two-pack clear")
BASE_FILM = practice("basecoat_film_um", 7.5, 6, 12, "µm", "dry film of one coat of colour")
CLEAR_FILM = practice("clear_film_um", 28, 25, 30, "µm", "dry film of one coat of clear")
TRANSFER = practice("transfer_efficiency", 0.35, 0.20, 0.50, "1", "paint that lands on a narrow repair spot")
THINNER = practice("basecoat_thinner", 0.5, 0.2, 1.0, "1", "thinner to basecoat by volume")
GUN_KEEPS = practice("gun_dead_ml", 10, 5, 30, "mL", "what gun and cup keep")
PAINT_FACTOR = practice("paint_factor", 1.0, 0.8, 1.6, "1", "paint really mixed over planned")
GUN_ACETONE = practice("gun_wash_ml", 100, 60, 200, "mL", "solvent to wash a gun")
SPRAY_SET_UP = practice("spray_set_up_min", 15, 10, 30, "min", "set up and clean the gun")
SPRAY_PER_1000 = practice("spray_min_per_coat_1000_cm2", 2, 1.5, 4, "min/1000 cm2", "spray one coat")
FLASH = practice("spray_flash_h", 0.2, 0.15, 0.4, "h", "flash between coats")
BASE_HOURS = practice("basecoat_hours", 1.0, 0.5, 2, "h", "colour until clear goes on")
BASE_UNTIL = practice("basecoat_until_hours", 24, 8, 24, "h", "colour still takes clear unsanded")
CLEAR_HOURS = practice("clear_hours", 16, 12, 24, "h", "two-pack clear until it is sanded")
MATCH_MINUTES = {
    "none": practice("match_none_min", 5, 3, 10, "min", "stock colour from the tin"),
    "close": practice("match_close_min", 25, 15, 45, "min", "colour tinted until it is close"),
    "exact": practice("match_exact_min", 60, 40, 120, "min", "colour tinted with test chips until it meets"),
}
MATCH_PAINT = {
    "none": practice("match_none_ml", 0, 0, 5, "mL", "colour used up to choose"),
    "close": practice("match_close_ml", 15, 8, 40, "mL", "colour used up to tint close"),
    "exact": practice("match_exact_ml", 40, 20, 100, "mL", "colour used up to tint exact"),
}
COMPOUND = practice("compound_g_per_1000_cm2", 15, 8, 30, "g/1000 cm2", "compound for one pass")
COMPOUND_FACTOR = practice("compound_factor", 1.0, 0.6, 2.0, "1", "compound really used over planned")
POLISH_SET_UP = practice("polish_set_up_min", 5, 3, 10, "min", "set up to polish")
POLISH_PER_1000 = practice("polish_min_per_1000_cm2", 6, 4, 12, "min/1000 cm2", "one pass of polish")
COMPOUND_OPEN = practice("compound_open_g_per_1000_cm2", 5, 3, 10, "g/1000 cm2", "compound on an open face, one pass")
POLISH_OPEN = practice("polish_open_min_per_1000_cm2", 2, 1, 4, "min/1000 cm2", "one pass of polish on an open face")
PAD_FACTOR = practice("polishing_pad_factor", 1.0, 0.5, 2.5, "1", "polishing pads really used over planned")
PAD_SHARE = practice("polishing_pad_share", 1 / 15, 1 / 30, 1 / 6, "piece", "share of a polishing pad")
PAINT_DENSITY_DRY = practice("paint_dry_density", 1300, 1100, 1600, "kg/m3", "dry paint or clear")


def coverage_m2_per_l(solids: float, film_um: float) -> float:
    """Theoretical coverage of a litre in m²: 1000 × volume solids / dry film in µm (10 × VS% / DFT).

    1 L at 1 µm and 100 % solids covers 1000 m²; so the sheet “Theoretical Spreading Rate / Coverage”.
    """
    return 1000.0 * solids / film_um


def thinned(solids: float, thinner: float) -> float:
    """Share of solids by volume after so many parts of thinner to one part of paint: VS/(1 + x).

    Thinner brings volume and no solids; no source.
    """
    return solids / (1.0 + thinner)


def sprayed_l(area_m2: float, coats: float, film_um: float, solids: float, transfer: float) -> float:
    """Litres through the gun: area (m²) × coats / theoretical coverage / transfer efficiency, a share."""
    return area_m2 * coats / coverage_m2_per_l(solids, film_um) / transfer


class MatchColour(Operation):
    """Match a colour: none, close or exact; an old board has faded, so exact is near, never the same."""

    key = "match-colour"
    name = "Match a colour"
    session = "spraying"
    settings = (
        choice("match", "how near", "close", ("none", "close", "exact")),
        material("paint", "colour", "basecoat", "paint"),
    )

    def work(self, at: Bench) -> Work:
        """Minutes and the colour used up."""
        match = at.words("match")
        work = at.work(f"Match the colour: {match}")
        minutes, paint = at[MATCH_MINUTES[match]], at[MATCH_PAINT[match]]
        work.takes_minutes(minutes, Words("{:g} min for a match: {}", minutes, match))
        work.take(at.words("paint"), paint, "mL", Words("{:g} mL tinted away", paint), PAINT_FACTOR)
        work.cups(1 if paint else 0, "one to tint in", ("cup",))
        work.vapour = paint > 0
        work.cautions = (SPRAY_MIST,) if paint else ()
        work.instruction = (
            "Judge dry chips in daylight beside the old colour. A faded board never matches fully: say so."
        )
        return work


OVER = choice("over", "what lies under it", "glass", ("glass", "foam"))


class _Spray(Operation):
    """Paint through a gun; colour and clear differ in solids, film and waiting."""

    meets = "coat"
    session = "spraying"
    solids: ClassVar[Constant]
    title: ClassVar[str]

    def paint(self, at: Bench, work: Work, area: float, coats: float) -> float:
        """Dry weight of the paint in g, whose litres as sprayed are put into the step as its parts."""
        raise NotImplementedError

    def work(self, at: Bench) -> Work:
        """Paint by film and transfer, the gun's share, solvent, gloves; minutes by coat and area."""
        coats = at.number("coats")
        area = at.place().area_m2 * at.faces()
        work = at.work(self.title)
        work.takes_minutes(
            at[SPRAY_PER_1000] * area * 10.0 * coats,
            Words("{:g} min a coat for 1000 cm² of {:.0f} cm², {:g} coats", at[SPRAY_PER_1000], area * 10_000, coats),
            set_up=at[SPRAY_SET_UP],
        )
        if area > 0 and coats > 0:
            work.weight_g = self.paint(at, work, area, coats)
            work.sundry("acetone", at[GUN_ACETONE], "mL", "to wash the gun", ACETONE_FACTOR)
            work.cups(1, "one to mix in")
            work.sundry("gloves", 1, "piece", "a pair in a session to spray", GLOVES)
            work.vapour = True
        return work


def _gun_takes(at: Bench, work: Work, parts: tuple[tuple[str, float, Text], ...], litres: float, second: str) -> Text:
    """Words for the planned cup, whose parts are put into the step.

    Each part is (material, share by volume, words); the gun keeps its share of each.
    """
    first = parts[0][0]
    cup = litres * 1000.0 * at.factor(first, PAINT_FACTOR).value + at.lost(GUN_KEEPS, first)
    for key, share, words in parts:
        work.take(key, litres * 1000.0 * share, "mL", words, PAINT_FACTOR, mixes=1, loss=at.lost(GUN_KEEPS, first) * share,
                  moves_with=first)  # fmt: skip
    return Words(
        "{} mL in the cup: {} mL + {} mL {}", *map(mix_words.told, (cup, *(cup * part[1] for part in parts))), second
    )


class SprayColour(_Spray):
    """Colour in thin coats, thinned to spray."""

    key = "spray-colour"
    on_skin = True
    name = "Spray colour"
    always_puts = ("solvent paint",)
    title = "Spray colour"
    settings = (
        place(),
        TIMES,
        SIDES,
        material("paint", "colour", "basecoat", "paint"),
        number("coats", "coats", 3, "piece", 0, 8),
        number("film_um", "dry film of a coat", BASE_FILM, "µm", 3, 60),
        number("transfer", "transfer efficiency", TRANSFER, "1", 0.1, 1),
        OVER,
    )

    def paint(self, at: Bench, work: Work, area: float, coats: float) -> float:
        """Dry weight of colour in g over an area in m²; colour and thinner are put into the step."""
        key, film, thin = at.words("paint"), at.number("film_um"), at[THINNER]
        solids = at.material(key).facts.get("solids") or at[BASE_SOLIDS]
        litres = sprayed_l(area, coats, film, thinned(solids, thin), at.number("transfer"))
        words = Words(
            "{:.4f} m² × {:g} coats × {:g} µm / (1000 × {:.3f} solids) / {:g} transfer + the gun's {:g} mL",
            area,
            coats,
            film,
            thinned(solids, thin),
            at.number("transfer"),
            at[GUN_KEEPS],
        )
        share = 1.0 / (1.0 + thin)
        thinner = ("thinner", 1.0 - share, f"{thin:g} parts to one of colour")
        cup = _gun_takes(at, work, ((key, share, words), thinner), litres, "thinner")
        work.wait = Wait(at[BASE_HOURS], at[BASE_HOURS], at[BASE_HOURS], at[BASE_UNTIL], at[curing.POLISH_HOURS])
        work.cautions = (SPRAY_MIST,)
        work.instruction = Words(
            "{}; {:g} thin coats, {:.0f} min flash between; fade the edge out.",
            cup,
            coats,
            at[FLASH] * 60,
        )
        return area * coats * film * at[PAINT_DENSITY_DRY] / 1000.0


class SprayClear(_Spray):
    """Two-pack clear."""

    key = "spray-clear"
    on_skin = True
    name = "Spray clear"
    always_puts = ("two-pack clear",)
    title = "Spray clear"
    settings = (
        place(),
        TIMES,
        SIDES,
        material("clear", "clear", "clear-2k", "paint"),
        number("coats", "coats", 2, "piece", 0, 6),
        number("film_um", "dry film of a coat", CLEAR_FILM, "µm", 5, 80),
        number("transfer", "transfer efficiency", TRANSFER, "1", 0.1, 1),
        number("hardener_parts", "hardener to one part of clear, by volume (the label)", 0.5, "1", 0.05, 1),
        OVER,
    )

    def paint(self, at: Bench, work: Work, area: float, coats: float) -> float:
        """Dry weight of clear in g over an area in m²; clear and hardener are put into the step."""
        key, film = at.words("clear"), at.number("film_um")
        solids = at.material(key).facts.get("solids") or at[CLEAR_SOLIDS]
        litres = sprayed_l(area, coats, film, solids, at.number("transfer"))
        parts = at.number("hardener_parts")
        share = 1.0 / (1.0 + parts)
        words = Words(
            "{:.4f} m² × {:g} coats × {:g} µm / (1000 × {:g} solids) / {:g} transfer + the gun's {:g} mL",
            area,
            coats,
            film,
            solids,
            at.number("transfer"),
            at[GUN_KEEPS],
        )
        hardener = ("clear-hardener", 1.0 - share, f"{parts:g} parts to one of clear")
        cup = _gun_takes(at, work, ((key, share, words), hardener), litres, "hardener")
        work.wait = Wait(at[CLEAR_HOURS], at[CLEAR_HOURS], at[CLEAR_HOURS], 0.0, at[curing.POLISH_HOURS])
        work.cautions = (CLEAR_ISOCYANATE, SPRAY_MIST)
        work.instruction = Words(
            "{}, as the label says; {:g} coats, {:.0f} min flash between.",
            cup,
            coats,
            at[FLASH] * 60,
        )
        return area * coats * film * at[PAINT_DENSITY_DRY] / 1000.0


class Polish(Operation):
    """Compound and pad, only after a day's cure."""

    key = "polish"
    name = "Polish"
    meets = "polish"
    session = "polishing"
    settings = (place(), TIMES, number("passes", "passes", 2, "piece", 0, 6))

    def work(self, at: Bench) -> Work:
        """Compound by area and pass, a share of a pad; minutes by area and pass."""
        faces, passes = at.number("times"), at.number("passes")
        by_face = OpenFace(at, at.place().area_cm2)
        area, rate, beyond = at.place().area_m2 * faces, at[COMPOUND], at[COMPOUND_OPEN]
        work = at.work("Polish")
        work.take(
            "compound",
            by_face.minutes(rate, beyond) * faces * passes,
            "g",
            Words("{:g} × {:g} passes × {} g", faces, passes, by_face.words(rate, beyond)),
            COMPOUND_FACTOR,
        )
        pad = at[PAD_SHARE] if area and passes else 0.0
        work.sundry("polishing-pad", pad, "piece", "share of a pad", PAD_FACTOR)
        minutes, on = at[POLISH_PER_1000], at[POLISH_OPEN]
        work.takes_minutes(
            by_face.minutes(minutes, on) * faces * passes,
            Words("{:g} × {:g} passes × {} min", faces, passes, by_face.words(minutes, on)),
            set_up=at[POLISH_SET_UP],
        )
        work.cautions = (DUST,)
        work.instruction = "Low speed, pad moving; stop when it is warm to the hand."
        return work
