"""Clean-up beyond that of each session: the set-up of a session has its own cleaning of tools in it."""

from __future__ import annotations

from quotes.costing.basis.cautions import SOLVENT
from quotes.costing.basis.constants import practice
from quotes.costing.basis.lazy_words import Words
from quotes.costing.basis.setting import number
from quotes.costing.steps.operation import Operation
from quotes.costing.steps.work import ACETONE_FACTOR, GLOVES, RAGS, Bench, Work

CLEAN_MINUTES = practice("clean_min_per_session", 6, 3, 15, "min", "clean bench and tools after a session")
CLEAN_ACETONE = practice("clean_acetone_ml", 40, 20, 100, "mL", "acetone for bench and tools after a session")


class CleanUp(Operation):
    """Clean up after so many sessions."""

    key = "clean-up"
    name = "Clean up"
    settings = (number("sessions", "sessions", 1, "piece", 0, 30),)

    def work(self, at: Bench) -> Work:
        """Minutes, rags, acetone and a pair of gloves for each session."""
        sessions = at.number("sessions")
        work = at.work("Clean up")
        work.takes_minutes(
            at[CLEAN_MINUTES] * sessions, Words("{:g} min for each of {:g} sessions", at[CLEAN_MINUTES], sessions)
        )
        work.share("rag", sessions, "piece", "one for each session", RAGS)
        acetone = at[CLEAN_ACETONE] * sessions
        work.share("acetone", acetone, "mL", Words("for each of {:g} sessions", sessions), ACETONE_FACTOR)
        work.share("gloves", sessions, "piece", "a pair for each session", GLOVES)
        work.vapour = sessions > 0
        work.cautions = (SOLVENT,)
        work.instruction = (
            "Rags in the lidded can; left-over catalysed resin outdoors in water until cold; solvent to the waste drum."
        )
        return work
