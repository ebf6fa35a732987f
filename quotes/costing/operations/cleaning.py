"""Clean-up at the end of a session: rags, solvent, gloves, minutes. What each mix leaves is counted with the mix."""

from __future__ import annotations

from quotes.costing.cautions import SOLVENT
from quotes.costing.constants import practice
from quotes.costing.operation import Operation
from quotes.costing.setting import number
from quotes.costing.words import Words
from quotes.costing.work import Bench, Work

CLEAN_MINUTES = practice("clean_min_per_session", 6, 3, 15, "min", "clean bench and tools after a session")
CLEAN_RAGS = practice("clean_rags_per_session", 2, 1, 4, "piece", "rags for one session")
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
        work.pieces("rag", at[CLEAN_RAGS] * sessions, Words("{:g} for each of {:g} sessions", at[CLEAN_RAGS], sessions))
        work.share("acetone", at[CLEAN_ACETONE] * sessions, "mL", Words("for each of {:g} sessions", sessions))
        work.pieces("gloves", sessions, "a pair for each session")
        work.vapour = sessions > 0
        work.cautions = (SOLVENT,)
        work.instruction = (
            "Rags in the lidded can; left-over catalysed resin outdoors in water until cold; solvent to the waste drum."
        )
        return work
