"""Structural work: rejoin a snapped board, inject a delamination, dry out a wet core."""

from __future__ import annotations

import math

from quotes.costing.basis import sources
from quotes.costing.basis.cautions import DUST, EPS_HEAT, MICROSPHERES
from quotes.costing.basis.constants import practice, published
from quotes.costing.basis.going_off import Wait
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import TIMES, choice, number, place
from quotes.costing.parts.refusals import EPS_MOST_C
from quotes.costing.steps import curing, mix_words, mixing
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import RAGS, Bench, Work

DOWELS = published(
    "dowels", 2, 2, 4, "piece", "dowels across a snap, 100 mm into each half", source=sources.SNAP_GUIDE, data_sheet=True)  # fmt: skip
REJOIN_MINUTES = practice("rejoin_min", 75, 50, 150, "min", "drill, dowel, glue and clamp a snap")
REJOIN_GLUE = practice("rejoin_glue_ml_per_100_cm2", 12, 8, 25, "mL/100 cm2", "paste over a broken face")
REJOIN_FACTOR = practice("rejoin_paste_factor", 1.15, 0.9, 1.8, "1", "joining paste really mixed over planned")
STRINGER_MINUTES = practice("stringer_min", 25, 15, 45, "min", "cut, fit and glue a piece of stringer")
DELAM_GAP = practice("delam_gap_mm", 0.8, 0.3, 2.0, "mm", "gap under lifted glass")
DELAM_EXCESS = practice("delam_excess", 0.4, 0.2, 0.8, "1", "resin injected over the gap")
DELAM_FACTOR = practice("delam_resin_factor", 1.0, 0.7, 1.8, "1", "resin really injected over planned")
DELAM_SET_UP = practice("delam_set_up_min", 15, 10, 25, "min", "set up syringe, film and weight")
DELAM_PER_HOLE = practice("delam_min_per_hole", 2, 1, 4, "min", "drill and fill one hole")
DELAM_PER_AREA = practice("delam_holes_per_100_cm2", 2, 1, 4, "1/100 cm2", "holes to inject and vent")
DELAM_HOURS = practice("delam_hours", 24, 18, 48, "h", "weighted until it is set")
DRY_SET_UP = practice("dry_set_up_min", 10, 5, 20, "min", "open, drain and set the board up to dry")
DRY_PER_DAY = practice("dry_min_per_day", 2, 1, 5, "min", "weigh and turn a drying board, each day")
DRY_TAPE = practice("dry_tape_m", 0.5, 0.2, 2, "m", "tape to mark a drying board and hold it open")
DRY_DAYS = {
    "pu ding": practice("dry_days_pu_ding", 2, 1, 7, "day", "a damp ding in PU dries"),
    "pu soaked": practice("dry_days_pu_soaked", 14, 7, 21, "day", "a soaked PU board dries"),
    "eps ding": practice("dry_days_eps_ding", 5, 2, 10, "day", "a damp ding in EPS dries"),
    "eps soaked": practice("dry_days_eps_soaked", 14, 7, 30, "day", "a soaked EPS board dries"),
}


ROOM = practice("dry_room_c", 28, 20, 40, "degC", "room in which a board is dried")
DOWEL_G = practice("dowel_g", 9, 5, 14, "g", "weight of one dowel")
STRINGER_G = practice("stringer_g_per_m", 20, 10, 60, "g/m", "weight of a stringer")
PASTE_DENSITY = practice("joining_paste_share", 0.75, 0.6, 0.9, "1", "density of joining paste over its resin's")
FILM_BORDER = practice("release_film_border_mm", 30, 20, 60, "mm", "release film past a weighted place")
HOLES_PER_NEEDLE = practice("holes_per_needle", 4, 2, 8, "piece", "holes one needle fills")


class Rejoin(Operation):
    """Dowel and glue a board that is in two pieces."""

    key = "rejoin"
    name = "Rejoin a snapped board"
    meets = "coat"
    session = "fill or foam"
    settings = (
        place("face", "the broken face, width × thickness, gap deep"),
        choice("system", "resin system", "by board", mixing.SYSTEMS),
        number("dowels", "dowels", DOWELS, "piece", 0, 8),
        number("stringer_mm", "new stringer (0: none)", 0, "mm", 0, 1500),
        number("share", "filler in the paste by weight", 0.15, "1", 0, 0.5),
    )

    def work(self, at: Bench) -> Work:
        """Paste for both faces and the gap, dowels, stringer, tape and straps; minutes."""
        face, dowels, stringer = at.place("face"), at.number("dowels"), at.number("stringer_mm")
        system = mixing.system_for(at.words("system"), at.board)
        paste = 2.0 * face.area_cm2 / 100.0 * at[REJOIN_GLUE] + face.volume_ml
        density = at[mixing.POLYESTER_DENSITY if system == "polyester" else mixing.EPOXY_DENSITY] * at[PASTE_DENSITY]
        grams, share = paste * density / 1000.0, at.number("share")
        words = Words("both faces of {:.0f} cm² + the gap's {:.0f} mL", face.area_cm2, face.volume_ml)
        work = at.work("Dowel, glue and clamp")
        mixing.mix(at, work, system, grams * (1 - share), Words("{}, {:.0%} resin", words, 1 - share), REJOIN_FACTOR)
        filler = mixing.stir_in(at, work, "microspheres", share / (1.0 - share), grams * (1.0 - share),
                                Words("{}, {:.0%} filler", words, share), REJOIN_FACTOR)  # fmt: skip
        work.pieces("dowel", dowels, Words("{:g} across the snap", dowels))
        work.take("stringer", stringer / 1000.0, "m", Words("{:g} mm of new stringer", stringer), STRINGER_CUT)
        work.take("tape-masking", face.perimeter_mm / 1000.0 * 2.0, "m", "twice round the joint")
        extra = at[STRINGER_MINUTES] if stringer else 0.0
        work.takes_minutes(
            at[REJOIN_MINUTES] + extra, Words("{:g} min{}", at[REJOIN_MINUTES], " + stringer" * bool(extra))
        )
        work.paste = f"microspheres {share:g}"
        work.weight_g = grams + dowels * at[DOWEL_G] + stringer / 1000.0 * at[STRINGER_G]
        work.cautions += (DUST, MICROSPHERES) if filler else (DUST,)
        if work.mixes:
            work.wait = curing.cure(at, system)
            work.instruction = Words(
                "{:g} dowels, 100 mm into each half, 25 mm off the stringer. {}Clamp in the jig, check rocker "
                "and twist again; one side cures before it is turned.",
                dowels,
                mix_words.stirred_words(filler, "filler"),
            )
        return work


STRINGER_CUT = practice("stringer_factor", 1.15, 1.0, 1.5, "1", "stringer really cut over fitted")


def injected_ml(area_cm2: float, gap_mm: float, excess: float) -> float:
    """Resin under lifted glass in mL: area (cm²) × gap (mm) × (1 + excess), the excess a share. Plane geometry."""
    return area_cm2 * gap_mm / 10.0 * (1.0 + excess)


class Inject(Operation):
    """Inject resin under glass that has lifted and weight it down."""

    key = "inject"
    on_skin = True
    name = "Inject a delamination"
    meets = "coat"
    session = "fill or foam"
    settings = (
        place(),
        TIMES,
        choice("system", "resin system", "by board", mixing.SYSTEMS),
        number("gap_mm", "gap under the glass", DELAM_GAP, "mm", 0, 10),
    )

    def work(self, at: Bench) -> Work:
        """Resin by area and gap, syringe and needles, film and tape; minutes by hole; a day under weight."""
        spot, times = at.place(), at.number("times")
        system = mixing.system_for(at.words("system"), at.board)
        area = spot.area_cm2 * times
        volume = injected_ml(area, at.number("gap_mm"), at[DELAM_EXCESS])
        density = at[mixing.POLYESTER_DENSITY if system == "polyester" else mixing.EPOXY_DENSITY]
        holes = max(2, math.ceil(area / 100.0 * at[DELAM_PER_AREA] - 1e-9)) if area else 0
        grams = volume * density / 1000.0
        work = at.work("Inject and weight down")
        formula = Words("{:.0f} cm² × {:g} mm × {:g}", area, at.number("gap_mm"), 1 + at[DELAM_EXCESS])
        mixing.mix(at, work, system, grams, formula, DELAM_FACTOR)
        work.pieces("syringe", 1 if area else 0, "one for the job")
        work.pieces("needle", holes / at[HOLES_PER_NEEDLE], Words("one for {:g} holes", at[HOLES_PER_NEEDLE]))
        work.take("release-film", spot.grown(at[FILM_BORDER]).area_m2 * times, "m2", "under the weight, past its edge")
        work.take("tape-masking", spot.perimeter_mm / 1000.0 * times, "m", "round the bubble")
        work.takes_minutes(
            at[DELAM_PER_HOLE] * holes,
            Words("{:g} min for each of {} holes", at[DELAM_PER_HOLE], holes),
            set_up=at[DELAM_SET_UP],
        )
        if work.mixes:
            work.weight_g = grams
            until = [curing.slowing(at, at[DELAM_HOURS]), curing.sanding(at, system)]
            work.wait = curing.waiting(at, coat_h=until, cut_h=until, touch_h=until)
            work.instruction = Words(
                "{} holes of 3 mm, one at each end left to vent. Film, pad and weight until it is cured. Large "
                "lenses of resin crack later: tell the owner.",
                holes,
            )
        return work


class DryOut(Operation):
    """Let a wet core dry, with its weight written down each day."""

    key = "dry-out"
    dries = True
    name = "Dry out a wet core"
    settings = (
        choice("how_wet", "how wet", "ding", ("ding", "soaked")),
        number("days", "days (0: as the trade says)", 0, "day", 0, 90),
        number("room_c", "warm room at", ROOM, "degC", 0, 80),
    )

    def work(self, at: Bench) -> Work:
        """Minutes a day and the days to wait; nothing is sealed over a wet core."""
        kind = "pu" if at.board.core in ("pu", "wood", "hollow") else "eps"
        constant = DRY_DAYS[f"{kind} {at.words('how_wet')}"]
        days = at.number("days") or at[constant]
        work = at.work("Dry out")
        work.takes_minutes(
            at[DRY_SET_UP] + at[DRY_PER_DAY] * days,
            Words("{:g} min + {:g} min for each of {:g} days", at[DRY_SET_UP], at[DRY_PER_DAY], days),
        )
        work.take("tape-masking", at[DRY_TAPE], "m", "to mark and hold it open")
        work.share("rag", 1, "piece", "one to drain into", RAGS)
        hours = days * 24.0
        work.wait = Wait(hours, hours, hours)
        work.cautions = (EPS_HEAT,) if kind == "eps" else ()
        work.instruction = Words(
            "Opening down, dry room at {:.0f} °C, never above {:g} °C; weigh every day and write it down; "
            "about {:g} days, done when two days weigh the same. Nothing is sealed over a wet core.",
            at.number("room_c"),
            EPS_MOST_C,
            days,
        )
        return work
