"""Open faces: edges, corners and feathering are in the rate of a patch; beyond its first 1000 cm² a machine runs on."""

from __future__ import annotations

from quotes.costing.basis.constants import practice
from quotes.costing.basis.lazy_words import Text, Words
from quotes.costing.steps.work import Bench

OPEN_FROM = practice("open_face_cm2", 1000, 600, 2000, "cm2", "area of one place from which on it is an open face")
OPEN_LIFE = practice("open_face_disc_life", 2.0, 1.0, 3.0, "1", "how much longer a disc lasts on an open face")


class OpenFace:
    """One face of a place: its area in cm², and how much of it goes at the rate of a patch and how much beyond."""

    def __init__(self, at: Bench, area_cm2: float) -> None:
        self.patch = min(area_cm2, at[OPEN_FROM])
        self.open = max(0.0, area_cm2 - at[OPEN_FROM])

    def minutes(self, patch: float, beyond: float) -> float:
        """Minutes: rate × min(A, A1) + open × max(0, A − A1), both rates for 1000 cm². Never less for a larger face."""
        return (patch * self.patch + beyond * self.open) / 1000.0

    def words(self, patch: float, beyond: float) -> Text:
        """Words with figures for its minutes, by the two rates in minutes for 1000 cm²."""
        first = Words("{:g} per 1000 cm² of {:.0f} cm²", patch, self.patch)
        return Words("({}, {:g} beyond of {:.0f} cm²)", first, beyond, self.open) if self.open else first

    def worn(self, life_m2: float, times: float) -> float:
        """Number of pieces worn by a face: area over life in m², which is so many times as long on the open part."""
        return (self.patch + self.open / times) / 10_000.0 / life_m2
