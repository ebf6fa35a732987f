"""Sand through a sequence of grits; by the area on flats, by the metre along fillets.

Discs and sheets of a grit = area over the life of one, in whole pieces for the job, at least one. Grits are FEPA P;
minutes and lives are common practice: abrasive makers only say to measure them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from quotes.costing import sources
from quotes.costing.cautions import DUST
from quotes.costing.constants import Constant, derived, practice
from quotes.costing.operation import Operation
from quotes.costing.setting import SIDES, TIMES, Setting, number, place
from quotes.costing.words import Words
from quotes.costing.work import Bench, Work

SAND_SET_UP = practice("sand_set_up_min", 4, 2, 8, "min", "set up to sand")
DISC_FACTOR = practice("disc_factor", 1.0, 0.4, 2.5, "1", "discs and sheets really used over planned")
SAND_MINUTES = practice("sand_minutes_factor", 1.0, 0.65, 1.8, "1", "real minutes of sanding over standard")
FILLET_PER_M = practice("fillet_min_per_m", 12, 8, 25, "min/m", "sand a metre of fin fillet by hand, each grit")
FILLET_WIDTH = practice("fillet_width_mm", 40, 25, 60, "mm", "width of a fillet and its edge, for the paper's life")
SHEET_SOAK = practice("wet_sand_rag", 1, 1, 2, "piece", "rag for wet sanding")


class Grit(NamedTuple):
    """One grit on the FEPA P scale: the paper, its mean grain in µm, minutes for 1000 cm², m² that a piece lasts."""

    paper: str
    wet: bool
    micron: Constant
    minutes: Constant
    life: Constant


def _grit(number_: int, micron: float, minutes: tuple[float, float, float], life: float, *, wet: bool = False,
          printed: bool = True) -> Grit:  # fmt: skip
    source = sources.FEPA if printed else "FEPA/ISO 6344, from memory"
    return Grit(
        f"{'sheet' if wet else 'disc'}-p{number_}",
        wet,
        derived(f"p{number_}_micron", micron, micron, micron, "µm", f"mean grain of P{number_}", source=source),
        practice(f"p{number_}_min_per_1000_cm2", *minutes, "min/1000 cm2", f"sand with P{number_}"),
        practice(
            f"p{number_}_life_m2",
            life,
            life / 3,
            life * 8 / 3,
            "m2",
            f"one {'sheet' if wet else 'disc'} of P{number_} lasts",
        ),
    )


GRITS: dict[int, Grit] = {
    80: _grit(80, 201, (8, 5, 15), 0.15),
    100: _grit(100, 162, (7.5, 5, 13), 0.18, printed=False),
    120: _grit(120, 125, (7, 4, 12), 0.20),
    180: _grit(180, 82, (6, 3, 10), 0.25, printed=False),
    240: _grit(240, 58.5, (5, 3, 9), 0.30),
    320: _grit(320, 46.2, (5, 3, 9), 0.35),
    400: _grit(400, 35.0, (6, 3, 10), 0.40, wet=True),
    600: _grit(600, 25.8, (5, 3, 9), 0.45, wet=True),
    800: _grit(800, 21.8, (5, 3, 9), 0.50, wet=True),
    1200: _grit(1200, 15.3, (5, 3, 9), 0.50, wet=True),
}
BY_WORD = {f"P{grit}": found for grit, found in GRITS.items()}
GRIT_WORDS = tuple(BY_WORD)


GRIT_SETTING = Setting("grits", "grits in order", "choices", choices=GRIT_WORDS)


def grits_of(words: tuple[str, ...]) -> list[tuple[str, Grit]]:
    """The grits a recipe names ("P120"), in the order given."""
    return [(word, BY_WORD[word]) for word in words]


def coarser_again(words: Sequence[str]) -> str:
    """A sentence if a sequence goes back to a coarser grain, by the mean grain of each grit; else nothing."""
    for first, then in pairwise(words):
        if (
            first in GRIT_WORDS
            and then in GRIT_WORDS
            and GRITS[int(then[1:])].micron.value > GRITS[int(first[1:])].micron.value
        ):
            return f"{then} is coarser than {first} before it: grits go from coarse to fine."
    return ""


class _Sanding(Operation):
    """Checks that the grits go from coarse to fine."""

    meets = "cut"

    def check(
        self, settings: Mapping[str, Any], measures: list[str], places: Mapping[str, Any]
    ) -> Iterator[tuple[str, str]]:
        """As every operation, and no grit is coarser than the one before it."""
        yield from super().check(settings, measures, places)
        wrong = coarser_again(settings.get("grits") or ())
        if wrong:
            yield "grits", wrong


class Sand(_Sanding):
    """Sand a place through a sequence of grits."""

    key = "sand"
    name = "Sand through the grits"
    settings = (place(), TIMES, GRIT_SETTING, SIDES)

    def work(self, at: Bench) -> Work:
        """Minutes by area and grit; discs and sheets by their life; shares of mask and bag, rags where it is wet."""
        spot, grits = at.place(), grits_of(at.many("grits"))
        area = spot.area_m2 * at.faces()
        ladder = " ".join(at.many("grits"))
        work = at.work(f"Sand {ladder}")
        minutes = at[SAND_SET_UP]
        for word, grit in grits:
            minutes += at[grit.minutes] * area * 10.0
            work.pieces(
                grit.paper,
                area / at[grit.life],
                Words("{}: {:.4f} m² over {:g} m² a piece", word, area, at[grit.life]),
                DISC_FACTOR,
            )
        work.takes_minutes(
            minutes, Words("{:g} min + {:.0f} cm² through {}", at[SAND_SET_UP], area * 10_000, ladder), SAND_MINUTES
        )
        _finish(at, work, [grit for _, grit in grits], area)
        work.instruction = Words(
            "{}, {}. Feather into the old glass; stop before the weave shows.", ladder, spot.size_words
        )
        return work


class SandFillet(_Sanding):
    """Sand along the base of a fin by hand: minutes by the metre, not by the area."""

    key = "sand-fillet"
    name = "Sand fillets by hand"
    settings = (
        place("fin", "the fin"),
        TIMES,
        GRIT_SETTING,
        number("min_per_m", "minutes a metre, each grit", FILLET_PER_M, "min/m", 0, 120),
    )

    def work(self, at: Bench) -> Work:
        """Minutes by length and grit; paper by the fillet's width."""
        fin, grits = at.place("fin"), grits_of(at.many("grits"))
        metres = 2.0 * fin.length_mm / 1000.0 * at.number("times")
        area = metres * at[FILLET_WIDTH] / 1000.0
        ladder = " ".join(at.many("grits"))
        work = at.work(f"Sand the fillets by hand {ladder}")
        rate = at.number("min_per_m")
        for word, grit in grits:
            work.pieces(
                grit.paper,
                area / at[grit.life],
                Words("{}: {:.2f} m × {:g} mm", word, metres, at[FILLET_WIDTH]),
                DISC_FACTOR,
            )
        work.takes_minutes(
            at[SAND_SET_UP] + rate * metres * len(grits),
            Words(
                "{:g} min + {:g} min a metre of {:.2f} m, for each of {} grits",
                at[SAND_SET_UP],
                rate,
                metres,
                len(grits),
            ),
            SAND_MINUTES,
        )
        _finish(at, work, [grit for _, grit in grits], area)
        work.instruction = Words(
            "Paper round a dowel of the fillet's radius, {}; even both sides, no flat spots.", ladder
        )
        return work


def _finish(at: Bench, work: Work, grits: list[Grit], area: float) -> None:
    work.dust = any(not grit.wet for grit in grits)
    if area and any(grit.wet for grit in grits):
        work.pieces("rag", at[SHEET_SOAK], "one for wet sanding")
    work.pieces("gloves", 1 if area else 0, "a pair to sand")
    work.cautions = (DUST,)
