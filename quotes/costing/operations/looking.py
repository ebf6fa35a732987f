"""Work that takes time and nothing else to speak of: looking the damage over, setting out, trying, releasing."""

from __future__ import annotations

from quotes.costing.basis.constants import practice
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import TIMES, number
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import Bench, Work

INSPECT = practice("inspect_min", 6, 3, 12, "min", "inspect, rinse the salt off, check for water")
SET_OUT = practice("set_out_min_per_fin", 8, 4, 15, "min", "centre, toe and cant of one fin against the others")
CANT = practice("cant_tolerance_degrees", 1.0, 0.5, 2.0, "degree", "how far a fin may stand off its angle")
MARK_TAPE = practice("set_out_tape_m", 0.5, 0.3, 1.0, "m", "tape for the marks of one fin")
TRY = practice("try_min", 4, 2, 8, "min", "try one fin in its box, screws and all")
RELEASE = practice("release_min", 6, 3, 12, "min", "release check and wash")
JIG = practice("jig_min", 25, 15, 45, "min", "jig for rocker and twist, and a dry fit")


class Inspect(Operation):
    """Look the damage over before the first cut."""

    key = "inspect"
    name = "Inspect and dry-wipe"
    settings = (number("minutes", "minutes", INSPECT, "min", 0, 600),)

    def work(self, at: Bench) -> Work:
        """Minutes, once a visit."""
        work = at.work("Inspect, rinse off salt, check for water")
        work.takes_minutes(at.number("minutes"), "minutes a visit")
        work.instruction = (
            "Press round the damage for soft spots; tissue on the opening for 10 min: damp means dry it out first."
        )
        return work


class SetOut(Operation):
    """Mark where fins go: centre, toe and cant, against the opposite fin."""

    key = "set-out"
    name = "Set out fins"
    settings = (TIMES, number("tolerance_degrees", "cant tolerance", CANT, "degree", 0, 10))

    def work(self, at: Bench) -> Work:
        """Minutes per fin and tape for the marks."""
        fins, tolerance = at.number("times"), at.number("tolerance_degrees")
        work = at.work("Set out the fins")
        work.takes_minutes(at[SET_OUT] * fins, Words("{:g} min for each of {:g} fins", at[SET_OUT], fins))
        work.take(
            "tape-masking",
            at[MARK_TAPE] * fins,
            "m",
            Words("{:g} m for the marks of each of {:g} fins", at[MARK_TAPE], fins),
        )
        work.instruction = Words(
            "Centre line, toe and cant against the opposite fin; within {:g}°. Mark on tape, not on the glass.",
            tolerance,
        )
        return work


class TryFit(Operation):
    """Try the fin in its box after grinding."""

    key = "try-fit"
    name = "Try the fin"
    settings = (TIMES,)

    def work(self, at: Bench) -> Work:
        """Minutes per fin."""
        fins = at.number("times")
        work = at.work("Try the fin in the box")
        work.takes_minutes(at[TRY] * fins, Words("{:g} min for each of {:g}", at[TRY], fins))
        work.instruction = "Fin seats fully, tab no deeper than the box, screws turn. If it binds, clear the slot now."
        return work


class Jig(Operation):
    """Jig a board in two pieces for rocker and twist, and fit it dry."""

    key = "jig"
    name = "Jig and dry fit"
    settings = (number("minutes", "minutes", JIG, "min", 0, 600),)

    def work(self, at: Bench) -> Work:
        """Minutes."""
        work = at.work("Jig for rocker and twist, dry fit")
        work.takes_minutes(at.number("minutes"), "minutes a visit")
        work.instruction = (
            "Straight-edge on the stringer, winding sticks nose and tail; the halves meet dry before any glue."
        )
        return work


class Release(Operation):
    """Last look before the board is ready."""

    key = "release"
    name = "Release check"
    meets = "touch"
    settings = (number("minutes", "minutes", RELEASE, "min", 0, 600),)

    def work(self, at: Bench) -> Work:
        """Minutes, once a visit."""
        work = at.work("Release check and wash")
        work.takes_minutes(at.number("minutes"), "minutes a visit")
        work.instruction = "Tick the release list; an unticked line needs a reason."
        return work
