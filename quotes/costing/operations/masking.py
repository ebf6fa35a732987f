"""Mask: tape by perimeter and passes, film or paper in a band where it is sprayed."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from quotes.costing.basis.constants import practice
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import TIMES, number, place
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.sessions import SessionKind
from quotes.costing.steps.work import Bench, Work

TAPE_FACTOR = practice("mask_tape_factor", 1.1, 1.0, 1.5, "1", "masking tape really used over the perimeter")
FILM_FACTOR = practice("mask_film_factor", 1.1, 1.0, 1.6, "1", "masking film really used over planned")
MASK_SET_UP = practice("mask_set_up_min", 3, 2, 6, "min", "set up to mask")
MASK_PER_M = practice("mask_min_per_m", 1.2, 0.8, 2.5, "min/m", "mask a metre")


class Mask(Operation):
    """Tape a place off, with a band of film where it is sprayed."""

    key = "mask"
    name = "Mask"
    session = "coat"
    settings = (
        place(),
        TIMES,
        number("passes", "times taped", 1, "piece", 0, 10),
        number("band_mm", "film band round it (0: tape only)", 0, "mm", 0, 2000),
    )

    def session_of(self, settings: Mapping[str, Any]) -> SessionKind:
        """Session of spraying where film is put round it, else of a coat."""
        return "spraying" if settings.get("band_mm") else "coat"

    def work(self, at: Bench) -> Work:
        """Tape and film; minutes by the metre."""
        spot, band = at.place(), at.number("band_mm")
        metres = spot.perimeter_mm / 1000.0 * at.number("times") * at.number("passes")
        work = at.work("Mask off")
        work.take("tape-masking", metres, "m", Words("perimeter × passes, {:.2f} m", metres), TAPE_FACTOR)
        if band:
            work.take(
                "masking-film",
                metres * band / 1000.0,
                "m2",
                Words("{:.2f} m × {:g} mm band", metres, band),
                FILM_FACTOR,
            )
        work.takes_minutes(
            at[MASK_PER_M] * metres,
            Words("{:g} min a metre of {:.2f} m", at[MASK_PER_M], metres),
            set_up=at[MASK_SET_UP],
        )
        film = f", film {band:.0f} mm round it" if band else ""
        work.instruction = Words(
            "Tape {:.1f} m{}; press the inner edge down; lift when the coat gels or the paint is dry to touch.",
            metres,
            film,
        )
        return work
