"""The steps of one job in their order: when each may start, and until when a coat still bonds to the last one.

Waits run on from the end of the step that made them, through whatever is done meanwhile; sanding settles a window. A
trim at gel belongs to the sitting of its laminate: from gel to twice gel, counted from the end of laying it.
"""

from __future__ import annotations

from typing import Any

from quotes.costing.operation import Compiled
from quotes.costing.work import NO_WAIT, Work

SAND_FIRST = "The last coat no longer bonds by itself: sand it first (P120, all over, dust off)."
PAST_GEL = "The resin is past firm gel and a blade would lift it: let it harden, then grind the overhang off."
_TIMES = {"coat": 0, "cut": 1, "touch": 2, "polish": 3}


class Step:
    """A step of one job: its work, where it stands, and its window in hours after the end of the step before."""

    __slots__ = (
        "cuts_back",
        "earliest_start_h",
        "if_late",
        "in_time",
        "index",
        "latest_start_h",
        "measures",
        "meets",
        "sitting",
        "work",
    )

    def __init__(self, work: Work, index: int, act: Compiled) -> None:
        self.work = work
        self.index = index
        self.meets = act.meets
        self.cuts_back = act.operation.meets == "cut"
        self.measures = act.measures
        self.earliest_start_h = 0.0
        self.latest_start_h: float | None = None
        self.if_late = ""
        self.in_time = True
        self.sitting = False  # done before the hands leave the step before

    @property
    def operation(self) -> str:
        """The key of its operation."""
        return self.work.operation

    @property
    def title(self) -> str:
        """Its title on the job sheet."""
        return self.work.title

    @property
    def instruction(self) -> str:
        """What to do, with sizes and doses."""
        return self.work.instruction

    @property
    def minutes(self) -> float:
        """Hands-on minutes as this shop takes them."""
        return self.work.minutes

    @property
    def mixes(self) -> tuple[dict[str, Any], ...]:
        """Its mixes with their doses."""
        return self.work.mixes

    @property
    def weight_g(self) -> float:
        """Weight it adds, or takes away, in g."""
        return self.work.weight_g

    def as_dict(self, materials: list[dict[str, Any]]) -> dict[str, Any]:
        """The step as the snapshot keeps it, with the materials it plans to use."""
        work = self.work
        return {
            "index": self.index,
            "operation": work.operation,
            "title": work.title,
            "instruction": work.instruction,
            "minutes": work.minutes,
            "earliest_start_h": self.earliest_start_h,
            "latest_start_h": self.latest_start_h,
            "if_late": self.if_late,
            "same_sitting": self.sitting,
            "pause_h": work.pause_h,
            "mixes": [dict(one) for one in work.mixes],
            "materials": materials,
            "pieces": [cut.as_dict() for cut in work.cuts],
            "measures": list(self.measures),
            "cautions": list(dict.fromkeys(work.cautions)),
            "weight_g": work.weight_g,
            "bench_hours_ok": self.in_time,
        }


def set_windows(steps: list[Step]) -> None:
    """Says of each step when it may start after the one before, and until when a coat still bonds.

    A coat onto another face waits until the first can be lain on, and has no window. Sanding settles a window.
    """
    now = 0.0
    cures: list[
        tuple[float, float, float, float]
    ] = []  # hours at which what cures may be coated, cut, touched, polished
    until: float | None = None  # hour until which the last coat bonds
    laid: tuple[int, float] | None = None  # the last step that gels: its place among the steps, hour at which it ended
    for at, step in enumerate(steps):
        work = step.work
        start = now
        if step.meets == "gel" and laid is not None:
            start = _at_gel(steps, at, *laid, now)
        else:
            which = _TIMES["touch" if step.meets == "gel" else step.meets]
            for cure in cures:
                if cure[which] > start:
                    start = cure[which]
        step.earliest_start_h = start - now
        if until is not None and step.meets == "coat":
            step.latest_start_h = max(until, start) - now
            step.if_late = SAND_FIRST
        now = start + work.minutes / 60.0 + work.pause_h
        if step.cuts_back:
            until = None
        if cures:
            cures = [cure for cure in cures if max(cure) > now]
        wait = work.wait
        if wait is not NO_WAIT:
            hard = now + max(wait.cut_h, wait.polish_h)
            cures.append((now + wait.coat_h, now + wait.cut_h, now + wait.touch_h, hard))
            until = None if wait.coat_until_h is None else now + wait.coat_until_h
        if work.gel_min:
            laid = at, now


def _at_gel(steps: list[Step], at: int, laid: int, ended: float, now: float) -> float:
    """The hour from which a step finds the resin of an earlier one at firm gel; sets its window, and binds both."""
    gel = steps[laid].work.gel_min / 60.0
    start = max(now, ended + gel)
    steps[at].latest_start_h = max(ended + 2.0 * gel, start) - now
    steps[at].if_late = PAST_GEL
    for between in steps[laid + 1 : at + 1]:
        between.sitting = True
    return start
