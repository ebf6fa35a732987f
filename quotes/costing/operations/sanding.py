"""Sand through a sequence of grits; by the area on flats, by the metre along fillets.

Discs and sheets of a grit = area over the life of one, at least a quarter of a piece for a board. Beyond the first 1000
cm² of a place a machine runs on an open face, faster and with discs that last longer; rails of a whole face are done by
hand. Grits are FEPA P; minutes and lives are common practice: abrasive makers only say to measure them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

from quotes.costing.basis import sources
from quotes.costing.basis.cautions import DUST
from quotes.costing.basis.constants import Constant, derived, practice
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import SIDES, TIMES, Setting, number, place
from quotes.costing.operations.cutting import LEAST_PIECE
from quotes.costing.operations.open_faces import OPEN_LIFE, OpenFace
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.sessions import SessionKind
from quotes.costing.steps.work import Bench, Work

SAND_SET_UP = practice("sand_set_up_min", 4, 2, 8, "min", "set up to sand")
DISC_FACTOR = practice("disc_factor", 1.0, 0.4, 2.5, "1", "discs and sheets really used over planned")
SAND_MINUTES = practice("sand_minutes_factor", 1.0, 0.65, 1.8, "1", "real minutes of sanding over standard")
FILLET_PER_M = practice("fillet_min_per_m", 12, 8, 25, "min/m", "sand a metre of fin fillet by hand, each grit")
FILLET_WIDTH = practice("fillet_width_mm", 40, 25, 60, "mm", "width of a fillet and its edge, for the paper's life")
OPEN_COARSE = practice(
    "sand_open_coarse_min_per_1000_cm2", 2.5, 1.5, 5, "min/1000 cm2", "dry to P150, open face, each grit"
)
OPEN_FINE = practice("sand_open_fine_min_per_1000_cm2", 2, 1, 4, "min/1000 cm2", "dry from P180, open face, each grit")
OPEN_WET = practice("sand_open_wet_min_per_1000_cm2", 2.5, 1.5, 5, "min/1000 cm2", "wet, open face, each grit")
RAILS_PER_M = practice(
    "sand_rails_min_per_m", 2, 1, 4, "min/m", "rails of a whole face by hand, a metre of outline, each grit"
)


class Grit(NamedTuple):
    """A grit on the FEPA P scale: the paper, its mean grain in µm, minutes for 1000 cm², m² that a piece lasts."""

    paper: str
    wet: bool
    micron: Constant
    minutes: Constant
    life: Constant
    on_open: Constant


def _grit(number_: int, micron: float, minutes: tuple[float, float, float], life: float, *, wet: bool = False,
          printed: bool = True) -> Grit:  # fmt: skip
    """Grit with its constants for minutes and life declared."""
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
        OPEN_WET if wet else OPEN_COARSE if number_ <= 150 else OPEN_FINE,
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
    """Grits that a recipe names ("P120"), in the order given."""
    return [(word, BY_WORD[word]) for word in words]


def coarser_again(words: Sequence[str]) -> str:
    """Sentence if a sequence goes back to a coarser grain, by the mean grain of each grit; else ""."""
    for first, then in pairwise(words):
        if (
            first in GRIT_WORDS
            and then in GRIT_WORDS
            and GRITS[int(then[1:])].micron.value > GRITS[int(first[1:])].micron.value
        ):
            return f"{then} is coarser than {first} before it: grits go from coarse to fine."
    return ""


class _Sanding(Operation):
    """Work through grits, which must go from coarse to fine."""

    meets = "cut"
    session = "machine sanding"

    def session_of(self, settings: Mapping[str, Any]) -> SessionKind:
        """Session of wet sanding where every grit is a wet one, else of sanding."""
        wet = all(BY_WORD[word].wet for word in settings["grits"])
        return "wet sanding" if wet else "machine sanding"

    def check(
        self, settings: Mapping[str, Any], measures: list[str], places: Mapping[str, Any]
    ) -> Iterator[tuple[str, str]]:
        """Pairs (setting, sentence) as of every operation, and for a grit coarser than the one before it."""
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
        spot, grits, faces = at.place(), grits_of(at.many("grits")), at.faces()
        area, by_face = spot.area_m2 * faces, OpenFace(at, spot.area_cm2)
        ladder = " ".join(at.many("grits"))
        work = at.work(f"Sand {ladder}")
        minutes = 0.0
        for word, grit in grits:
            minutes += by_face.minutes(at[grit.minutes], at[grit.on_open]) * faces
            _paper(at, work, word, grit, by_face.worn(at[grit.life], at[OPEN_LIFE]) * faces, area)
        words = Words("{:.0f} cm² through {}", area * 10_000, ladder)
        if by_face.open:
            words = Words("{}, {:.0f} cm² of each face as an open one", words, by_face.open)
        if spot.shape == "deck":
            outline = spot.perimeter_mm / 1000.0 * faces
            minutes += at[RAILS_PER_M] * outline * len(grits)
            words = Words("{} + {:g} min a metre of {:.1f} m of rails, each grit", words, at[RAILS_PER_M], outline)
        work.takes_minutes(minutes, words, SAND_MINUTES, set_up=at[SAND_SET_UP])
        _finish(work, [grit for _, grit in grits])
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
            _paper(at, work, word, grit, area / at[grit.life], area)
        work.takes_minutes(
            rate * metres * len(grits),
            Words("{:g} min a metre of {:.2f} m, for each of {} grits", rate, metres, len(grits)),
            SAND_MINUTES,
            set_up=at[SAND_SET_UP],
        )
        _finish(work, [grit for _, grit in grits])
        work.instruction = Words(
            "Paper round a dowel of the fillet's radius, {}; even both sides, no flat spots.", ladder
        )
        return work


def _paper(at: Bench, work: Work, word: str, grit: Grit, worn: float, area: float) -> None:
    words = Words("{}: {:.4f} m², {:g} m² a piece on a patch", word, area, at[grit.life])
    work.share(grit.paper, worn, "piece", words, DISC_FACTOR, least=at[LEAST_PIECE])


def _finish(work: Work, grits: list[Grit]) -> None:
    work.dust = any(not grit.wet for grit in grits)
    work.cautions = (DUST,)
